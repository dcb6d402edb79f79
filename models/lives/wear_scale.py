"""Wear points as the models see them: direction of wear, allowance, family, and why one cannot be
forecast."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class WearScale:
    """One entry a wear point, in the order of the frame.

    Attributes
    ----------
    vehicle : number of the vehicle in ``vehicles``.
    sign : +1 where the quantity grows with wear, -1 where it shrinks. [1]
    new : value of the new part; the shop limit where no new value is stated. [base unit]
    limit : wear at the condemning limit, s (y_limit - y_new) > 0; NaN where there is none. [base unit]
    family : number of the family.
    family_name : shape (families,). What people read.
    part : rows (families,): component, quantity, base_unit.
    quantity : shape (families,). Number of the quantity that the family measures: families of one quantity
        learn the shape of wear from each other.
    quantity_name : shape (families,). The quantity and its base unit.
    gauge_sd : [base unit], NaN where not stated.
    key : hash of the wear point's name.
    reason : why the point cannot be forecast, from the limits alone; empty where it can.
    """

    vehicles: pd.Index
    vehicle: Ints
    sign: Floats
    new: Floats
    limit: Floats
    family: Ints
    family_name: NDArray[np.object_]
    part: pd.DataFrame
    quantity: Ints
    quantity_name: NDArray[np.object_]
    gauge_sd: Floats
    key: NDArray[np.uint64]
    reason: NDArray[np.object_]


def wear_scale(points: pd.DataFrame, vehicles: pd.DataFrame) -> WearScale:
    """Put every wear point on the one scale of wear.

    Parameters
    ----------
    points : the wear_points table, base units.
    vehicles : the vehicles table. A family is the same component, quantity and unit on vehicles of one class;
        where no class is stated, of one arrangement.
    """
    names = pd.Index(pd.unique(points["vehicle"]))
    code = names.get_indexer(pd.Index(points["vehicle"])).astype(np.int64)
    new = points["new_value"].to_numpy(float)
    shop, limit = points["shop_limit"].to_numpy(float), points["condemning_limit"].to_numpy(float)
    start = np.where(np.isfinite(new), new, shop)
    sign = np.where(limit >= start, 1.0, -1.0)
    with np.errstate(invalid="ignore"):
        allowance = sign * (limit - start)
    reason = np.select(
        [~np.isfinite(limit), ~np.isfinite(start), ~(allowance > 0)],
        [
            "no condemning limit is stated",
            "no value of the new part is stated",
            "new value and condemning limit are equal",
        ],
        "",
    ).astype(object)
    family, first = families_of(points, vehicles)
    quantity, quantity_name = quantity_of_families(points, first)
    return WearScale(
        vehicles=names,
        vehicle=code,
        sign=sign,
        new=start,
        limit=np.where(reason == "", allowance, np.nan),
        family=family,
        family_name=_family_names(points.iloc[first], vehicles),
        part=points[["component", "quantity", "base_unit"]].iloc[first],
        quantity=quantity,
        quantity_name=quantity_name,
        gauge_sd=points["gauge_sd"].to_numpy(float),
        key=pd.util.hash_array(points["point"].to_numpy(dtype=object)),
        reason=reason,
    )


def families_of(points: pd.DataFrame, vehicles: pd.DataFrame) -> tuple[Ints, Ints]:
    """Family of each wear point, numbered in order of appearance, and each family's first wear point.

    Parameters
    ----------
    points : vehicle, component, quantity, base_unit.
    vehicles : vehicle, class, arrangement.
    """
    family = _numbered(
        [_kind_of(points, vehicles), *(points[c] for c in ("component", "quantity", "base_unit"))]
    )
    return family, np.unique(family, return_index=True)[1]


def quantity_of_families(points: pd.DataFrame, first: Ints) -> tuple[Ints, NDArray[np.object_]]:
    """Number and name of the quantity that each family measures, from its first wear point."""
    quantity, unit = points["quantity"].iloc[first], points["base_unit"].iloc[first]
    name = quantity.astype(str) + " [" + unit.astype(str) + "]"
    return _numbered([quantity, unit]), name.to_numpy(dtype=object)


def _family_names(firsts: pd.DataFrame, vehicles: pd.DataFrame) -> NDArray[np.object_]:
    """Names of the families from the first wear point of each."""
    columns = [_kind_of(firsts, vehicles), firsts["component"].astype(str), firsts["quantity"].astype(str)]
    texts = [" · ".join(part for part in parts if part) for parts in zip(*columns, strict=True)]
    return np.array(texts, dtype=object)


def _kind_of(points: pd.DataFrame, vehicles: pd.DataFrame) -> NDArray[np.object_]:
    """Class of each wear point's vehicle; its arrangement where no class is stated."""
    code, names = pd.factorize(points["vehicle"])
    known = vehicles.drop_duplicates("vehicle").set_index("vehicle").reindex(pd.Index(names))
    kind, arrangement = known["class"].fillna("").astype(str), known["arrangement"].fillna("").astype(str)
    return np.where(kind != "", kind, arrangement).astype(object)[code]


def _numbered(columns: Sequence[pd.Series | NDArray[np.object_]]) -> Ints:
    """Number the combinations of the columns in order of appearance."""
    code = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        number, distinct = pd.factorize(pd.Series(column), use_na_sentinel=False)
        code = code * (len(distinct) + 1) + number
    return np.asarray(pd.factorize(code)[0], dtype=np.int64)
