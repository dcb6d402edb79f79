"""What opening the engine may show beyond the plan: defective parts, in the same futures, and their cost.

A share of the parts laid open is defective, as earlier tear-downs have found; parts that the scope renews
anyway are left out. How many are found is drawn by future, each made good at the listed price.
"""

import zlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case.cost import LINE_COLUMNS, ScopeCost
from models.futures.simulation import Simulation, price_factor
from models.plan.jobs import DEPTHS, kind_of_action

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BEYOND_TRUING = 0.5
"""Chance that a defective part must be renewed where it could be machined. Assumption, no source. [1]"""


def parts_laid_open(
    components: tuple[str, ...], jobs: pd.DataFrame, scope: pd.DataFrame, findings: pd.DataFrame
) -> pd.DataFrame:
    """Parts of each component that the scope's opening lays open and does not renew.

    Parameters
    ----------
    components : names, as the findings have them.
    jobs : all jobs of the vehicle; scope : those to be done, both as ``plan.jobs.jobs_of`` gives them.
    findings : earlier tear-downs of the vehicle: component, examined.

    Returns
    -------
    component, parts [1], points (list), in the order of ``components``. As many parts as the middle tear-down
    examined, else as the vehicle has; less those that the scope renews. None where the opening does not reach
    the component, nor where the scope is all in place and does not work on it; one without wear points is
    reached when the wheels are out.
    """
    depth = max((DEPTHS.index(access) for access in scope["access"]), default=-1)
    of_jobs, of_scope, of_findings = (_names(frame) for frame in (jobs, scope, findings))
    renewing = of_scope[_renews(scope)] if len(scope) else of_scope
    renewed_at = _places_by_name(renewing, scope["position"].to_numpy(object)[_renews(scope)])
    there_at = _places_by_name(of_jobs, jobs["position"].to_numpy(object))
    access = np.array([DEPTHS.index(access) for access in jobs["access"]], dtype=np.int64)
    points, examined = jobs["points"].tolist(), findings["examined"].to_numpy(float)
    rows = []
    for component in components:
        name = _plain(component)
        own = np.flatnonzero(of_jobs == name)
        needs = int(access[own].min()) if len(own) else len(DEPTHS) - 1
        counts = examined[(of_findings == name) & (examined > 0)]
        count = float(np.median(counts)) if len(counts) else float(len(there_at.get(name, ())))
        # With nothing taken down, only what is worked on is examined.
        reached = needs <= depth and (depth > 0 or bool((of_scope == name).any()))
        left = max(0.0, np.floor(count) - len(renewed_at.get(name, ()))) if reached else 0.0
        rows.append((component, left, sorted({str(point) for row in own for point in points[row]})))
    return pd.DataFrame(rows, columns=["component", "parts", "points"])


def hidden_work(
    simulation: Simulation,
    laid_open: pd.DataFrame,
    paid_on: pd.Timestamp,
    beyond_truing: float = BEYOND_TRUING,
) -> ScopeCost:
    """Parts found defective and what it costs to make them good, in each future.

    Parameters
    ----------
    laid_open : as :func:`parts_laid_open` gives it.
    paid_on : day to which prices are carried.
    beyond_truing : chance that a defective part must be renewed where the price list has machining too.
        [1]

    Returns
    -------
    Lines of the kind ``hidden``, ``parts`` being the mean number found; components without a listed price are
    among ``unpriced`` instead.

    Notes
    -----
    Number found: binomial in the parts laid open, its share drawn in ``simulation.defect_share``, a beta by
    future; together beta-binomial. Which of them are beyond truing is binomial again.
    """
    rows, columns, missing = [], [], []
    open_now, listed = laid_open[laid_open["parts"] > 0], _quotes(simulation.quotes)
    for component, parts, points in zip(*(open_now[c] for c in open_now), strict=True):
        found = _found(simulation, listed, component, int(parts), beyond_truing)
        if found is None:
            missing.append((component, "no price of making good a part found defective is on record"))
            continue
        columns.append(
            found.renewed * _price(simulation, found.renewal, paid_on)
            + found.machined * _price(simulation, found.machining, paid_on)
        )
        mean = float((found.renewed + found.machined).mean())
        rows.append((f"hidden | {component}", "hidden", component, "made good", mean, points))
    draws = np.stack(columns, axis=1) if columns else np.empty((simulation.draws, 0))
    return ScopeCost(
        pd.DataFrame(rows, columns=LINE_COLUMNS),
        draws,
        pd.DataFrame(missing, columns=["component", "reason"]),
    )


def hidden_hours(
    simulation: Simulation, laid_open: pd.DataFrame, beyond_truing: float = BEYOND_TRUING
) -> Floats:
    """Hours that making good takes in each future, shape (n,): of the very parts whose money
    :func:`hidden_work` gives, with which it shares its parameters. [h]"""
    listed, rows = simulation.quotes["labor_hours"].fillna(0.0).to_numpy(float), _quotes(simulation.quotes)
    hours = np.zeros(simulation.draws)
    for component, parts in zip(laid_open["component"], laid_open["parts"], strict=True):
        found = _found(simulation, rows, component, int(parts), beyond_truing) if parts > 0 else None
        if found is not None:
            hours += found.renewed * (listed[found.renewal] if found.renewal >= 0 else 0.0)
            hours += found.machined * (listed[found.machining] if found.machining >= 0 else 0.0)
    return hours


@dataclass(frozen=True)
class _Found:
    """Parts of a component renewed and machined in each future, shape (n,), and the rows of the price list
    for it; -1 for none."""

    renewal: int
    machining: int
    renewed: Ints
    machined: Ints


def _found(
    simulation: Simulation, quotes: Mapping[tuple[str, str], int], component: str, parts: int, beyond: float
) -> _Found | None:
    """What is made good, and how, in each future; None where no making good has a price."""
    renewal, machining = (quotes.get((_plain(component), kind), -1) for kind in ("renewed", "machined"))
    if max(renewal, machining) < 0:
        return None
    defective, worse = _defective(simulation, component, parts, beyond)
    renewed = np.where(machining < 0, defective, np.where(renewal < 0, 0, worse))
    return _Found(renewal, machining, renewed, defective - renewed)


def _defective(simulation: Simulation, component: str, parts: int, beyond_truing: float) -> tuple[Ints, Ints]:
    """Parts found defective in each future, and those beyond truing; whatever the other components."""
    share = simulation.defect_share[:, simulation.components.index(component)]
    rng = np.random.default_rng([simulation.assumptions.seed, zlib.crc32(f"found {component}".encode())])
    defective = rng.binomial(parts, np.clip(share, 0.0, 1.0))
    return np.asarray(defective), np.asarray(rng.binomial(defective, beyond_truing))


def _price(simulation: Simulation, quote: int, paid_on: pd.Timestamp) -> Floats:
    """Price of one piece of work in each future, shape (n,); 0 for none. [money]"""
    if quote < 0:
        return np.zeros(simulation.draws)
    listed = simulation.quotes.iloc[[quote]]
    carried = price_factor(simulation, pd.to_datetime(listed["price_date"]), paid_on)[:, 0]
    return np.asarray(float(listed["cost"].iloc[0]) * simulation.quote_factor[:, quote] * carried)


def _quotes(quotes: pd.DataFrame) -> dict[tuple[str, str], int]:
    """First row of the price list by component and kind of work."""
    rows: dict[tuple[str, str], int] = {}
    for row, (name, action) in enumerate(zip(_names(quotes), quotes["action"], strict=True)):
        rows.setdefault((name, kind_of_action(action)), row)
    return rows


def _names(frame: pd.DataFrame) -> NDArray[np.object_]:
    """Component of each row, as components are compared."""
    return np.array([_plain(name) for name in frame["component"]], dtype=object)


def _plain(component: object) -> str:
    return str(component).strip().lower()


def _renews(jobs: pd.DataFrame) -> NDArray[np.bool_]:
    return np.array([kind_of_action(action) == "renewed" for action in jobs["action"]], dtype=bool)


def _places_by_name(names: NDArray[np.object_], positions: NDArray[np.object_]) -> dict[str, set[str]]:
    """Positions by component; a job over several has them listed with commas."""
    places: dict[str, set[str]] = {}
    for name, text in zip(names, positions, strict=True):
        places.setdefault(name, set()).update(str(text).split(", "))
    return places
