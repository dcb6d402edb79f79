"""From one simulation, the jobs, the log and the fund to the case for one window."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.errors import NotPossible
from models.case import fund as case_fund
from models.case import mile as case_mile
from models.case.case import Amount, Case
from models.case.cost import ScopeCost, job_lives, job_prices, points_called_by, with_sets
from models.case.delay import Waiting, component_outlook, delay_table, season_miles
from models.case.gifts import gift_units
from models.case.inputs import CaseChoices, CaseInputs
from models.case.money import split_quantile
from models.case.schedule import bills_by_month, must_come_in, payments_of
from models.case.scope import at_limit, days_with_priced_work, jobs_at, not_priced, opens_up, waits_of
from models.case.whole_mile import cost_in_all
from models.futures.simulation import Simulation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

AS_GIVEN = (
    *("vehicle", "name", "as_of", "currency", "readings", "points", "data_version", "invented"),
    *("unforecast", "chosen_by"),
)
"""Fields of the case that are those of its inputs."""

DAYS_NAMED = 6
"""Windows with work that are named where the one asked for has none."""
LATER_WINDOWS = pd.DateOffset(months=24)
"""Windows so far ahead are told of beside the case's own, and all before it."""


def build_case(inputs: CaseInputs, choices: CaseChoices) -> Case:
    """Put the case together. Every figure comes from the draws of the one simulation.

    Raises
    ------
    NotPossible : the window is not within the simulated months; no job of the scope has a price.
    """
    _check_window(inputs, choices)
    simulation = inputs.simulation
    vehicle = simulation.vehicles.index(inputs.vehicle)
    waits = waits_of(inputs, choices)
    cost = waits[0].cost
    if cost.draws.shape[1] == 0:
        raise NotPossible(_nothing_to_pay(inputs, choices))
    money = _money_of(inputs, choices, cost)
    mile = _mile(inputs, inputs.as_of)
    table = case_mile.by_component(mile)
    day_miles = case_mile.miles_per_day(inputs.mileage, inputs.vehicle, inputs.as_of)
    return Case(
        **{name: getattr(inputs, name) for name in AS_GIVEN},
        opens=choices.opens,
        confidence=choices.confidence,
        **vars(money),
        delays=_delays(inputs, choices, waits, vehicle, day_miles, _scope_per_mile(mile, waits[0])),
        mile=table,
        mile_whole=_whole_mile(inputs, choices, mile),
        day=case_mile.cost_of_running(table, day_miles) if day_miles > 0 else None,
        miles_per_day=day_miles,
        sinking=_sinking(inputs, choices, mile, money.fund),
        gifts=_gifts(inputs, choices, mile),
        remaining=component_outlook(simulation, waits[0]),
        seasons=season_miles(simulation, vehicle),
        window_miles=_window_miles(simulation, vehicle, choices.opens),
        assumptions=_taken(inputs, choices),
        unpriced=_unpriced(cost, not_priced(inputs, choices.opens)),
        is_planned=inputs.plan.has(choices.opens),
        opens_up=opens_up(inputs, choices),
        at_limit=tuple(sorted(inputs.past or simulation.points["point"][at_limit(inputs)])),
        draws=simulation.draws,
    )


@dataclass(frozen=True)
class _Money:
    """What the work costs, when it must be paid, and what there is for it: fields of ``Case``."""

    ask: float
    amount: Amount
    lines: pd.DataFrame
    bills: pd.DataFrame
    schedule: pd.DataFrame
    fund: case_fund.FundPosition
    rate: case_fund.GiftRate | None
    one_offs: pd.DataFrame
    claims: pd.DataFrame
    chance_in_time: float | None


def _money_of(inputs: CaseInputs, choices: CaseChoices, cost: ScopeCost) -> _Money:
    ask, parts = split_quantile(cost.draws, choices.confidence)
    p50, at50 = split_quantile(cost.draws, 0.5)
    fund = case_fund.fund_position(inputs.funds, inputs.money_day)
    bills = _bills(cost, parts, choices, first_day(inputs.money_day))
    claims = _claims(inputs, choices, ask, fund.in_hand)
    own = claims[claims["own"]].iloc[0]
    schedule = must_come_in(_due(bills, first_day(inputs.money_day)), float(own["from_fund"]))
    one_offs = case_fund.one_off_gifts(
        inputs.funds, inputs.money_day, months=choices.gift_months, words=choices.one_off_words
    )
    # What comes in serves the windows before this one first.
    spare = fund.in_hand - float(own["before"])
    rate, chance = _funding(inputs, choices, cost.total, schedule, spare, one_offs)
    return _Money(
        ask=ask,
        amount=replace(Amount.of(cost.total), p50=p50),
        lines=_lines(cost, at50, parts),
        bills=bills,
        schedule=schedule,
        fund=fund,
        rate=rate,
        one_offs=one_offs[["date", "amount", "note"]] if "note" in one_offs else one_offs.assign(note=""),
        claims=claims,
        chance_in_time=chance,
    )


def _claims(inputs: CaseInputs, choices: CaseChoices, ask: float, in_hand: float) -> pd.DataFrame:
    """All windows that the one fund must pay for, this one among them, and what each may count on."""
    until = max(choices.opens, inputs.money_day + LATER_WINDOWS)
    others = [
        (other.vehicle, other.name, other.opens, other.amount(choices.confidence))
        for other in inputs.others
        if other.opens <= until and (other.vehicle, other.opens) != (inputs.vehicle, choices.opens)
    ]
    own = (inputs.vehicle, inputs.name, choices.opens, ask)
    rows = pd.DataFrame([*others, own], columns=case_fund.CLAIM_COLUMNS)
    shared = case_fund.share_fund(in_hand, rows)
    return shared.assign(own=(shared["vehicle"] == inputs.vehicle) & (shared["opens"] == choices.opens))


def _gifts(inputs: CaseInputs, choices: CaseChoices, mile: case_mile.MileCost) -> pd.DataFrame:
    """What a gift buys of the work of this window."""
    jobs = jobs_at(inputs, choices.opens, choices.risk)
    return gift_units(mile, jobs, job_prices(inputs.simulation, jobs, choices.opens))


def _taken(inputs: CaseInputs, choices: CaseChoices) -> pd.DataFrame:
    """What the case takes as given: what the plan that chose the work accepts, and while the tables were
    read."""
    by_plan = inputs.accepted if inputs.plan.has(choices.opens) else inputs.accepted.iloc[:0]
    return pd.concat([by_plan, inputs.taken], ignore_index=True)


def _delays(
    inputs: CaseInputs,
    choices: CaseChoices,
    waits: list[Waiting],
    vehicle: int,
    day_miles: float,
    per_mile: Floats,
) -> pd.DataFrame:
    return delay_table(
        inputs.simulation,
        waits,
        vehicle=vehicle,
        miles_per_day=day_miles,
        per_mile=per_mile,
        confidence=choices.confidence,
        income_per_day=choices.income_per_day,
    )


def _nothing_to_pay(inputs: CaseInputs, choices: CaseChoices) -> str:
    """That a window has no work with a price, and which windows have."""
    days = days_with_priced_work(inputs, choices.risk)
    named = ", ".join(f"{day:%Y-%m-%d}" for day in days[:DAYS_NAMED])
    more = f" and {len(days) - DAYS_NAMED} later ones" if len(days) > DAYS_NAMED else ""
    work = f"Name one that has: {named}{more}." if days else "No other window has any."
    return (
        f"Case for {inputs.vehicle}, {choices.opens:%Y-%m-%d}: no work is due by the window after that one, "
        f"or none of it has a price. {work} Or accept a smaller risk, or add prices (costs table)."
    )


def _check_window(inputs: CaseInputs, choices: CaseChoices) -> None:
    end = pd.Timestamp(inputs.simulation.months[-1])
    last = end - pd.DateOffset(years=choices.most_seasons + 1)
    if not inputs.as_of < choices.opens <= last:
        raise NotPossible(
            f"Window {choices.opens:%Y-%m-%d}: the mileage of {inputs.vehicle} ends on "
            f"{inputs.as_of:%Y-%m-%d} and its running is simulated to {end:%Y-%m}. Expected a "
            f"day after the first and by {last:%Y-%m-%d}, as {choices.most_seasons} seasons of "
            "waiting are shown too; choose another window."
        )


def _unpriced(cost: ScopeCost, others: pd.DataFrame) -> pd.DataFrame:
    """What no sum holds, each component once."""
    frames = [frame for frame in (cost.unpriced, others) if len(frame)]
    unpriced = pd.concat(frames, ignore_index=True) if frames else cost.unpriced
    return unpriced.drop_duplicates("component", ignore_index=True)


def _lines(cost: ScopeCost, at50: Floats, ask: Floats) -> pd.DataFrame:
    low, high = np.quantile(cost.draws, [0.1, 0.9], axis=0)
    return cost.lines.assign(at50=at50, ask=ask, p10=low, p90=high)


def _bills(cost: ScopeCost, parts: Floats, choices: CaseChoices, as_of: pd.Timestamp) -> pd.DataFrame:
    payments = payments_of(cost.lines, choices.terms)
    return bills_by_month(pd.Series(parts, index=cost.lines["line"]), payments, choices.opens, as_of)


def first_day(as_of: pd.Timestamp) -> pd.Timestamp:
    """First day on which money can still come in: the day after."""
    return as_of + pd.Timedelta(days=1)


def _due(bills: pd.DataFrame, first: pd.Timestamp) -> pd.Series:
    """Bills of each month from that of the first day to the last, months without any as zero."""
    by_month = bills.groupby("month")["amount"].sum()
    months = pd.date_range(first.to_period("M").to_timestamp(), by_month.index.max(), freq="MS")
    return by_month.reindex(months, fill_value=0.0)


def _funding(
    inputs: CaseInputs,
    choices: CaseChoices,
    need: Floats,
    schedule: pd.DataFrame,
    in_hand: float,
    one_offs: pd.DataFrame,
) -> tuple[case_fund.GiftRate | None, float | None]:
    rng = np.random.default_rng([inputs.simulation.assumptions.seed, 7])
    history = case_fund.monthly_gifts(
        inputs.funds, inputs.money_day, months=choices.gift_months, without=one_offs.index
    )
    rate = case_fund.gift_rate(history, rng)
    if rate is None:
        return None, None
    gifts = case_fund.gifts_ahead(history.to_numpy(), len(schedule), len(need), rng)
    due = schedule["due"].to_numpy()
    return rate, case_fund.chance_funded(need, due / due.sum(), in_hand, gifts)


def _mile(inputs: CaseInputs, day: pd.Timestamp) -> case_mile.MileCost:
    """Cost of a mile from all jobs of the vehicle that have a price and a life, at the prices of a day."""
    jobs = inputs.jobs.reset_index(drop=True)
    called = points_called_by(inputs.jobs, inputs.simulation.points)
    lives = with_sets(job_lives(inputs.simulation, called, len(jobs)), jobs, inputs.simulation)
    prices = job_prices(inputs.simulation, jobs, day)
    known = np.isfinite(lives).all(axis=0) & np.isfinite(prices).all(axis=0)
    known &= (jobs["vehicle"] == inputs.vehicle).to_numpy()
    return case_mile.cost_of_a_mile(jobs[known], lives[:, known], prices[:, known])


def _whole_mile(inputs: CaseInputs, choices: CaseChoices, mile: case_mile.MileCost) -> pd.DataFrame:
    """The cost of a mile in all, opening and hidden damage as the plan has them, else as this window has."""
    days = sorted(inputs.plan.lines["opens"].unique()) or [choices.opens]
    return cost_in_all(
        inputs.simulation,
        mile,
        inputs.jobs,
        inputs.openings,
        inputs.findings,
        [jobs_at(inputs, pd.Timestamp(day), choices.risk) for day in days],
        inputs.as_of,
        beyond_truing=choices.beyond_truing,
    )


def _scope_per_mile(mile: case_mile.MileCost, wait: Waiting) -> Floats:
    """What a mile uses up of the jobs of the scope, shape (n,). [money/mi]"""
    names = mile.jobs["component"].astype(str) + " | " + mile.jobs["action"].astype(str)
    in_scope = names.isin(wait.cost.lines["line"]).to_numpy()
    return np.asarray(mile.per_mile[:, in_scope].sum(axis=1))


def _sinking(
    inputs: CaseInputs,
    choices: CaseChoices,
    mile: case_mile.MileCost,
    fund: case_fund.FundPosition,
) -> case_mile.SinkingFund:
    simulation = inputs.simulation
    history = case_fund.monthly_gifts(inputs.funds, inputs.money_day, months=choices.gift_months)
    since = history.index[0] if len(history) else inputs.as_of
    until = history.index[-1] + pd.offsets.MonthEnd(1) if len(history) else inputs.as_of
    # The gifts are the railway's: the miles are those of all its engines.
    engines = inputs.mileage["vehicle"].dropna().unique()
    miles = sum(case_mile.miles_between(inputs.mileage, str(name), since, until) for name in engines)
    share = case_mile.used_share(
        inputs.life_miles.reindex(simulation.points["point"]).fillna(0.0).to_numpy(float),
        simulation.remaining,
    )
    keys = pd.Index(inputs.jobs["job"]).get_indexer(pd.Index(mile.jobs["job"]))
    used = np.zeros((simulation.draws, len(inputs.jobs)))
    called = points_called_by(inputs.jobs, simulation.points)
    calling = called >= 0
    np.maximum.at(used.T, called[calling], share[:, calling].T)
    prices = job_prices(simulation, mile.jobs, inputs.as_of)
    total = (prices * used[:, keys]).sum(axis=1)
    low, high = np.quantile(total, [0.1, 0.9])
    whole = case_mile.by_component(mile).iloc[-1]
    return case_mile.SinkingFund(
        should=(float(whole["p10"]), float(whole["mean"]), float(whole["p90"])),
        was=float(history.sum()) / miles if miles > 0 else float("nan"),
        miles=miles,
        put_aside=float(history.sum()),
        used_up=float(total.mean()),
        used_up_p10=min(float(low), float(total.mean())),
        used_up_p90=max(float(high), float(total.mean())),
        in_hand=fund.in_hand,
        since=pd.Timestamp(since),
        as_of=pd.Timestamp(until),
    )


def _window_miles(simulation: Simulation, vehicle: int, opens: pd.Timestamp) -> tuple[float, float, float]:
    run = simulation.miles[:, vehicle, simulation.month_index(opens)]
    low, high = np.quantile(run, [0.1, 0.9])
    return float(low), float(run.mean()), float(high)
