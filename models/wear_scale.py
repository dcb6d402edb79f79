"""Wear points as the models see them: direction of wear, allowance, family, and why one cannot be
forecast."""

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
    quantity : shape (families,). Number of the quantity that the family measures: families of one quantity
        learn the shape of wear from each other.
    gauge_sd : [base unit], NaN where not stated.
    reason : why the point cannot be forecast, from the limits alone; empty where it can.
    """

    vehicles: pd.Index
    vehicle: Ints
    sign: Floats
    new: Floats
    limit: Floats
    family: Ints
    family_name: NDArray[np.object_]
    quantity: Ints
    gauge_sd: Floats
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
    kind = _class_of(names, vehicles)[code]
    columns = [kind, *(points[c].astype(str).to_numpy() for c in ("component", "quantity", "base_unit"))]
    family, family_name = _numbered(columns)
    quantity, _ = _numbered([columns[2], columns[3]])
    first = np.unique(family, return_index=True)[1] if len(family) else np.array([], int)
    return WearScale(
        vehicles=names,
        vehicle=code,
        sign=sign,
        new=start,
        limit=np.where(reason == "", allowance, np.nan),
        family=family,
        family_name=family_name,
        quantity=quantity[first],
        gauge_sd=points["gauge_sd"].to_numpy(float),
        reason=reason,
    )


def _class_of(names: pd.Index, vehicles: pd.DataFrame) -> NDArray[np.object_]:
    known = vehicles.drop_duplicates("vehicle").set_index("vehicle").reindex(names)
    kind, arrangement = known["class"].fillna("").astype(str), known["arrangement"].fillna("").astype(str)
    return np.where(kind != "", kind, arrangement).astype(object)


def _numbered(columns: list[NDArray[np.object_]]) -> tuple[Ints, NDArray[np.object_]]:
    """Number the combinations of the columns in order of appearance; and their names."""
    code = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        here, there = pd.factorize(pd.Series(column, dtype=object))
        code = code * (len(there) + 1) + here
    number, _ = pd.factorize(code)
    rows = np.unique(number, return_index=True)[1] if len(number) else np.array([], int)
    texts = [" · ".join(str(c[i]) for c in columns[:-1] if str(c[i])) for i in rows]
    return number.astype(np.int64), np.array(texts, dtype=object)
