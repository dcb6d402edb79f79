"""What opening the engine may show beyond the plan: defective parts, in the same futures, and their cost.

A share of the parts laid open is defective, as earlier tear-downs have found; parts that the scope renews
anyway are left out. How many are found is drawn by future, each made good at the listed price.
"""

import zlib
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case.cost import LINE_COLUMNS, ScopeCost, points_of
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
    rows = []
    for component in components:
        own_jobs = jobs[_is(jobs, component)]
        needs = min((DEPTHS.index(access) for access in own_jobs["access"]), default=len(DEPTHS) - 1)
        examined = findings.loc[_is(findings, component) & (findings["examined"] > 0), "examined"]
        there = _places(own_jobs)
        count = float(examined.median()) if len(examined) else float(len(there))
        renewed = scope[_is(scope, component) & _renews(scope)]
        # With nothing taken down, only what is worked on is examined.
        reached = needs <= depth and (depth > 0 or bool(_is(scope, component).any()))
        left = max(0.0, np.floor(count) - len(_places(renewed))) if reached else 0.0
        rows.append((component, left, points_of(own_jobs)))
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
    open_now = laid_open[laid_open["parts"] > 0]
    for component, parts, points in zip(*(open_now[c] for c in open_now), strict=True):
        found = _found(simulation, component, int(parts), beyond_truing)
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
    listed = simulation.quotes["labor_hours"].fillna(0.0).to_numpy(float)
    hours = np.zeros(simulation.draws)
    for component, parts in zip(laid_open["component"], laid_open["parts"], strict=True):
        found = _found(simulation, component, int(parts), beyond_truing) if parts > 0 else None
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


def _found(simulation: Simulation, component: str, parts: int, beyond_truing: float) -> _Found | None:
    """What is made good, and how, in each future; None where no making good has a price."""
    renewal, machining = (_quote(simulation.quotes, component, kind) for kind in ("renewed", "machined"))
    if max(renewal, machining) < 0:
        return None
    defective, beyond = _defective(simulation, component, parts, beyond_truing)
    renewed = np.where(machining < 0, defective, np.where(renewal < 0, 0, beyond))
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


def _quote(quotes: pd.DataFrame, component: str, kind: str) -> int:
    """Row of the price list with a kind of work on a component, -1 for none."""
    named = _is(quotes, component).to_numpy()
    fits = np.array([kind_of_action(action) == kind for action in quotes["action"]], dtype=bool)
    rows = np.flatnonzero(named & fits)
    return int(rows[0]) if len(rows) else -1


def _is(frame: pd.DataFrame, component: str) -> pd.Series:
    return frame["component"].astype(str).str.strip().str.lower() == component.strip().lower()


def _renews(jobs: pd.DataFrame) -> NDArray[np.bool_]:
    return np.array([kind_of_action(action) == "renewed" for action in jobs["action"]], dtype=bool)


def _places(jobs: pd.DataFrame) -> set[str]:
    """Positions of the jobs; a job over several has them listed with commas."""
    return {place for text in jobs["position"].astype(str) for place in text.split(", ")}
