"""Which work is in the scope of a window, on time and seasons later, and what stops the engine meanwhile."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.errors import NotPossible
from models.case_cost import points_called_by, scope_cost
from models.case_delay import Waiting, jobs_due_by, window_after
from models.case_inputs import CaseChoices, CaseInputs

Ints = NDArray[np.int64]

SURELY_AT_LIMIT = 0.5
"""A wear point with more than this chance of being at its limit now counts as being there. [1]"""


def at_limit(inputs: CaseInputs) -> NDArray[np.bool_]:
    """Wear points of this vehicle that are at their limit already, more likely than not, shape (p,)."""
    simulation = inputs.simulation
    mine = (simulation.points["vehicle"] == inputs.vehicle).to_numpy()
    return np.asarray(mine & ((simulation.remaining <= 0).mean(axis=0) > SURELY_AT_LIMIT))


def waits_of(inputs: CaseInputs, choices: CaseChoices, called: Ints) -> list[Waiting]:
    """The work on time and later: the planned jobs, and those that come due meanwhile."""
    simulation, jobs = inputs.simulation, inputs.jobs.reset_index(drop=True)
    mine = _called_by_vehicle(inputs, called)
    planned = np.flatnonzero(jobs["job"].isin(inputs.planned))
    waits = []
    for seasons in range(choices.most_seasons + 1):
        opens = choices.opens if seasons == 0 else window_after(inputs.windows, choices.opens, seasons)
        following = window_after(inputs.windows, opens, 1)
        if seasons == 0 and len(planned):
            rows = planned
        else:
            due = jobs_due_by(simulation, mine, following, choices.risk, already=at_limit(inputs))
            rows = np.union1d(planned, due)
        scope = jobs.iloc[_without_covered(jobs, rows)]
        cost = scope_cost(simulation, scope, inputs.openings, opens, inputs.hidden(scope, opens))
        waits.append(Waiting(seasons, opens, cost, _stoppers(inputs, scope)))
    return waits


def _without_covered(jobs: pd.DataFrame, rows: Ints) -> Ints:
    """Rows of jobs without those whose wear points another job of the same scope renews all."""
    renewed = [frozenset(points) for points in jobs["points"].iloc[rows]]
    kept = [
        row for row, mine in zip(rows, renewed, strict=True) if not any(mine < others for others in renewed)
    ]
    return np.array(kept, dtype=np.int64)


def _stoppers(inputs: CaseInputs, scope: pd.DataFrame) -> Ints:
    """Rows of wear points that stop the engine: of the scope, behind rods or under wheels, not yet at limit.

    What is reached in place is renewed between trains when its time comes; where all of the scope is
    reached in place, all of it counts.
    """
    deep = scope[scope["access"] != "in_place"]
    named = {point for points in (deep if len(deep) else scope)["points"] for point in points}
    points = inputs.simulation.points["point"]
    return np.flatnonzero(points.isin(named).to_numpy() & ~at_limit(inputs))


def scope_jobs(jobs: pd.DataFrame, wait: Waiting) -> pd.DataFrame:
    keys = set(wait.cost.lines.loc[wait.cost.lines["kind"] == "planned", "line"])
    names = jobs["component"].astype(str) + " | " + jobs["action"].astype(str)
    return jobs[names.isin(keys)].reset_index(drop=True)


def first_window_with_work(inputs: CaseInputs, risk: float, lead_months: float = 0.0) -> pd.Timestamp:
    """First day of the first window in which work behind the rods or under the wheels is due.

    Parameters
    ----------
    lead_months : how long before a window its first bill falls due: windows too near for that come after
        those that can still be paid for. [month]

    Returns
    -------
    That day; where there is no such window, that of the first with any work.

    Raises
    ------
    NotPossible : no window, or no work in any of them.
    """
    jobs = inputs.jobs.reset_index(drop=True)
    mine = _called_by_vehicle(inputs, points_called_by(inputs.jobs, inputs.simulation.points))
    with_any: list[pd.Timestamp] = []
    earliest = inputs.money_day + pd.Timedelta(days=30.44 * lead_months)
    ahead = inputs.windows["opens"]
    for opens in [*ahead[ahead >= earliest], *ahead[ahead < earliest]]:
        due = jobs_due_by(inputs.simulation, mine, window_after(inputs.windows, opens, 1), risk)
        if (jobs["access"].iloc[due] != "in_place").any():
            return pd.Timestamp(opens)
        if len(due):
            with_any.append(pd.Timestamp(opens))
    if with_any:
        return with_any[0]
    raise NotPossible(
        f"Case for {inputs.vehicle}: no work is due at any lay-up of the next years. Name the window, "
        "with --window 2027-11-01, or add planned running (usage table)."
    )


def _called_by_vehicle(inputs: CaseInputs, called: Ints) -> Ints:
    mine = (inputs.simulation.points["vehicle"] == inputs.vehicle).to_numpy()
    return np.where(mine, called, -1)
