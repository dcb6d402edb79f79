"""Which work is in the scope of a window, on time and seasons later, and what stops the engine meanwhile."""

from collections.abc import Callable
from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.errors import NotPossible
from models.case.contingency import contingency_of
from models.case.cost import ScopeCost, carried, points_called_by, points_of, scope_cost
from models.case.delay import Waiting, jobs_due_by, miles_to_limit, window_after
from models.case.hidden import BEYOND_TRUING
from models.case.inputs import CaseChoices, CaseInputs, WindowToPay
from models.plan.jobs import fits_a_spare, with_fitted
from models.plan.risk import stopped_now

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


def at_limit(inputs: CaseInputs) -> Bools:
    """Wear points of this vehicle that are at their limit already, as the inputs say, shape (p,)."""
    return np.asarray(_of_vehicle(inputs) & stopped_now(inputs.simulation, inputs.past))


def waits_of(inputs: CaseInputs, choices: CaseChoices) -> list[Waiting]:
    """The work on time, and one season later, two, three; with each what else has come due by then."""
    base = jobs_at(inputs, choices.opens, choices.risk)
    stoppers = _stoppers(inputs, base, choices.opens)
    reached = miles_to_limit(inputs.simulation, stoppers, renewals_before(inputs, choices.opens))
    cost = cost_at(inputs, choices.opens, base, choices.beyond_truing)
    waits = []
    for seasons in range(choices.most_seasons + 1):
        opens = window_after(inputs.windows, choices.opens, seasons)
        dearer = carried(cost, inputs.simulation.inflation, opens - choices.opens)
        others = _others_due(inputs, choices, base, opens) if seasons else base.iloc[:0]
        also = scope_cost(inputs.simulation, others, inputs.openings.iloc[:0], opens)
        waits.append(Waiting(seasons, opens, dearer, also, stoppers, reached))
    return waits


def cost_at(
    inputs: CaseInputs, opens: pd.Timestamp, base: pd.DataFrame, beyond_truing: float = BEYOND_TRUING
) -> ScopeCost:
    """What the work of the window may come to, by the planner's contingency.

    Parameters
    ----------
    base : jobs of the window, as :func:`jobs_at` gives them.
    beyond_truing : as :func:`models.case.hidden.hidden_work` takes it. [1]
    """
    planned = inputs.plan.has(opens)
    following = window_after(inputs.windows, opens, 1)
    scope = base.assign(vehicle=inputs.vehicle, window=0, label="", opens=opens)
    if not base["cost"].notna().any():
        return scope_cost(inputs.simulation, base, inputs.openings.iloc[:0], opens)
    return contingency_of(
        inputs.simulation,
        inputs.jobs,
        inputs.openings,
        scope,
        inputs.findings.assign(vehicle=inputs.vehicle),
        inputs.plan.renewals,
        inputs.plan.windows if planned else inputs.plan.windows.iloc[:0],
        (inputs.end or following) if planned else following,
        beyond_truing=beyond_truing,
    ).cost


def jobs_at(inputs: CaseInputs, opens: pd.Timestamp, risk: float) -> pd.DataFrame:
    """Jobs of the window that opens on a day: the plan's where it has any, else those the risk calls for."""
    if inputs.plan.has(opens):
        lines = inputs.plan.lines
        return _as_priced(lines[lines["opens"] == opens], inputs.jobs)
    return _due_by(inputs, opens, window_after(inputs.windows, opens, 1), risk)


def _due_by(inputs: CaseInputs, opens: pd.Timestamp, day: pd.Timestamp, risk: float) -> pd.DataFrame:
    """Jobs whose wear points pass the accepted risk before a day, or are at their limit already; what the
    plan renews before the window counts in its next life."""
    jobs = inputs.jobs.reset_index(drop=True)
    earlier = renewals_before(inputs, opens)
    points = inputs.simulation.points["point"]
    reached = miles_to_limit(inputs.simulation, np.arange(len(points)), earlier) if earlier else None
    already = at_limit(inputs) & ~points.isin(earlier).to_numpy()
    rows = jobs_due_by(inputs.simulation, _called(inputs), day, risk, already=already, reached=reached)
    return jobs.iloc[_without_covered(jobs, rows)].reset_index(drop=True)


def _as_priced(planned: pd.DataFrame, jobs: pd.DataFrame) -> pd.DataFrame:
    """Jobs of a plan at the prices of now."""
    every = with_fitted(jobs, planned)
    return every[every["job"].isin(planned["job"])].reset_index(drop=True)


def not_priced(inputs: CaseInputs, opens: pd.Timestamp) -> pd.DataFrame:
    """Work that the plan has in a window and the price list does not know: component, reason."""
    lines = inputs.plan.lines
    unknown = lines[(lines["opens"] == opens) & ~lines["job"].isin(inputs.jobs["job"])]
    unknown = unknown[~unknown["action"].map(fits_a_spare).astype(bool)]
    return pd.DataFrame({"component": unknown["component"], "reason": "no price of it is on record"})


def _others_due(
    inputs: CaseInputs, choices: CaseChoices, base: pd.DataFrame, opens: pd.Timestamp
) -> pd.DataFrame:
    """Work beyond the scope that has come due when it is begun later: by the plan, else by the risk."""
    if inputs.plan.has(choices.opens):
        plan = inputs.plan.lines
        later = plan[(plan["opens"] > choices.opens) & (plan["opens"] <= opens)]
        others = _as_priced(later.drop_duplicates("job"), inputs.jobs)
    else:
        others = _due_by(inputs, choices.opens, window_after(inputs.windows, opens, 1), choices.risk)
    done = set(points_of(base))
    fresh = [not set(points) <= done for points in others["points"]]
    return others[np.array(fresh, dtype=bool) & ~others["job"].isin(base["job"]).to_numpy()]


def _without_covered(jobs: pd.DataFrame, rows: Ints) -> Ints:
    """Rows of jobs without those whose wear points another job of the same scope renews all."""
    renewed = [frozenset(points) for points in jobs["points"].iloc[rows]]
    kept = [row for row, own in zip(rows, renewed, strict=True) if not any(own < other for other in renewed)]
    return np.array(kept, dtype=np.int64)


def _stoppers(inputs: CaseInputs, scope: pd.DataFrame, opens: pd.Timestamp) -> Ints:
    """Rows of wear points that stop the engine: of the scope, behind rods or under wheels.

    What is reached in place is renewed between trains when its time comes; where all of the scope is
    reached in place, all of it counts. A wear point at its limit now does not, unless it is renewed before.
    """
    deep = _deep(scope)
    named = points_of(deep if len(deep) else scope)
    renewed = inputs.simulation.points["point"].isin(renewals_before(inputs, opens)).to_numpy()
    points = inputs.simulation.points["point"]
    return np.flatnonzero(points.isin(named).to_numpy() & ~(at_limit(inputs) & ~renewed))


def opens_up(inputs: CaseInputs, choices: CaseChoices) -> bool:
    """Whether the work of the window takes rods down or wheels out."""
    return len(_deep(jobs_at(inputs, choices.opens, choices.risk))) > 0


def _deep(scope: pd.DataFrame) -> pd.DataFrame:
    """Jobs behind rods or under wheels."""
    return scope[scope["access"] != "in_place"]


def renewals_before(inputs: CaseInputs, opens: pd.Timestamp) -> dict[str, list[pd.Timestamp]]:
    """Days before a window on which the plan renews each wear point: what scope, chances and cost rest on."""
    earlier = {point: [day for day in days if day < opens] for point, days in inputs.plan.renewals.items()}
    return {point: days for point, days in earlier.items() if days}


def first_window_with_work(inputs: CaseInputs, risk: float) -> pd.Timestamp:
    """First day of the first window with work that has a price: of the plan where there is one, else by risk.

    The nearest comes first, however late its bills are: what is due then is not less due for that.

    Returns
    -------
    That day; where no window has work with a price, that of the first with any work.

    Raises
    ------
    NotPossible : no window, or no work in any of them.
    """
    with_any: list[pd.Timestamp] = []
    for opens in windows_with_work(inputs):
        due = jobs_at(inputs, opens, risk)
        if due["cost"].notna().any():
            return opens
        if len(due) or len(not_priced(inputs, opens)):
            with_any.append(opens)
    if with_any:
        return with_any[0]
    raise NotPossible(
        f"Case for {inputs.vehicle}: no work is due at any lay-up of the next years. Name the window, "
        "with --window 2027-11-01, or add planned running (usage table)."
    )


def windows_to_pay(
    inputs: CaseInputs, risk: float, beyond_truing: float = BEYOND_TRUING
) -> tuple[WindowToPay, ...]:
    """Windows of a vehicle that the fund must pay for: all of a plan, else the first by risk; with prices.

    Raises
    ------
    NotPossible : as :func:`first_window_with_work`.
    """
    days = windows_with_work(inputs) if len(inputs.plan.lines) else [first_window_with_work(inputs, risk)]
    found = []
    for opens in days:
        jobs = jobs_at(inputs, opens, risk)
        if jobs["cost"].notna().any():
            draws = cache(lambda opens=opens, jobs=jobs: cost_at(inputs, opens, jobs, beyond_truing).total)
            planned = inputs.plan.has(opens)
            found.append(WindowToPay(inputs.vehicle, inputs.name, opens, _amount(draws), planned))
    return tuple(found)


def _amount(draws: Callable[[], NDArray[np.float64]]) -> Callable[[float], float]:
    """What is enough at a confidence, from the draws of the amount."""
    return lambda confidence: float(np.quantile(draws(), confidence))


def windows_with_work(inputs: CaseInputs) -> list[pd.Timestamp]:
    """First days of the windows in which there may be work, in order: the plan's, else all."""
    lines = inputs.plan.lines
    ahead = pd.Series(lines["opens"].unique()) if len(lines) else inputs.windows["opens"]
    return [pd.Timestamp(day) for day in ahead[ahead > inputs.as_of].sort_values()]


def days_with_priced_work(inputs: CaseInputs, risk: float) -> list[pd.Timestamp]:
    """First days of the windows that a case can be made for, in order."""
    days = windows_with_work(inputs)
    return [day for day in days if jobs_at(inputs, day, risk)["cost"].notna().any()]


def _called(inputs: CaseInputs) -> Ints:
    """Job that each wear point of the vehicle calls for, -1 for none and for those of other vehicles."""
    called = points_called_by(inputs.jobs, inputs.simulation.points)
    return np.where(_of_vehicle(inputs), called, -1)


def _of_vehicle(inputs: CaseInputs) -> Bools:
    """Wear points of this vehicle, shape (p,)."""
    return (inputs.simulation.points["vehicle"] == inputs.vehicle).to_numpy()
