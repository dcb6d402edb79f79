"""The case from one simulation: parts and totals, waiting, cost of a mile, gifts."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from ingest.catalogue import classify
from ingest.errors import NotPossible
from models.case.build import build_case
from models.case.contingency import contingency_of
from models.case.cost import job_prices, points_called_by
from models.case.delay import miles_to_limit, season_miles, stops_before, window_after
from models.case.hidden import hidden_work, parts_laid_open
from models.case.inputs import CaseChoices, CaseInputs, PlannedWork
from models.case.mile import (
    by_component,
    cost_of_a_mile,
    cost_of_running,
    miles_between,
)
from models.case.scope import first_window_with_work, waits_of
from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan.jobs import jobs_of, openings_of
from models.plan.risk import stop_months
from models.plan.scope import LINE_COLUMNS, WINDOW_COLUMNS

AS_OF = pd.Timestamp("2026-10-31")
OPENS = pd.Timestamp("2027-11-01")
TERMS = pd.DataFrame(
    {
        "payment": ["deposit", "castings", "balance"],
        "share": [0.2, 0.3, np.nan],
        "months_before": [6.0, 9.0, 0.0],
        "spread_months": [1, 1, 3],
        "components": [[], ["bushing"], []],
        "actions": [[], [], []],
        "source": ["assumption"] * 3,
    }
)


def normal_quantiles(mean, sd):
    from scipy.stats import norm

    return list(np.maximum(norm.ppf(PROBABILITIES, mean, max(sd, 1e-6)), 0.0))


def railway(remaining):
    """One engine: two tires (hollow, thickness) and two bushings; ``remaining`` mean miles of each point."""
    rows = [
        ("tire L hollow", "driver tire", "driver 1 left", "tread hollow", "wheels_out"),
        ("tire R hollow", "driver tire", "driver 1 right", "tread hollow", "wheels_out"),
        ("tire L body", "driver tire", "driver 1 left", "thickness", "wheels_out"),
        ("tire R body", "driver tire", "driver 1 right", "thickness", "wheels_out"),
        ("bushing L", "rod bushing", "rod left", "clearance", "rods_down"),
        ("bushing R", "rod bushing", "rod right", "clearance", "rods_down"),
    ]
    points = pd.DataFrame(rows, columns=["point", "component", "position", "quantity", "access"])
    points = classify(points.assign(vehicle="Alder", matched_set=""))
    life = [20_000.0, 20_000.0, 90_000.0, 90_000.0, 12_000.0, 12_000.0]
    distribution = pd.DataFrame(
        {
            "point": points["point"],
            "remaining": [normal_quantiles(mean, 0.2 * mean) for mean in remaining],
            "new_life": [normal_quantiles(mean, 0.2 * mean) for mean in life],
        }
    )
    return points, distribution


COSTS = pd.DataFrame(
    {
        "component": ["driver tire", "driver tire", "rod bushing", "wheels out"],
        "action": ["cut", "renewed", "renewed", "wheels_out"],
        "cost": [900.0, 4800.0, 650.0, 20_000.0],
        "currency": "USD",
        "labor_hours": 1.0,
        "days_out": 1.0,
        "price_date": pd.Timestamp("2026-04-01"),
    }
)


def usage(years=8):
    months = pd.date_range("2026-11-01", periods=12 * years, freq="MS")
    miles = np.where(months.month.isin(range(5, 11)), 400.0, 0.0)
    return pd.DataFrame({"vehicle": "Alder", "month": months, "miles": miles, "miles_sd": 0.15 * miles})


def fund_book():
    dates = pd.date_range("2023-11-15", "2026-10-15", freq="MS")
    return pd.DataFrame({"date": dates, "amount": 500.0, "currency": "USD", "kind": "received"})


def log():
    dates = pd.date_range("2023-11-01", "2026-10-31", freq="MS").append(pd.DatetimeIndex([AS_OF]))
    odometer = np.linspace(10_000.0, 17_200.0, len(dates))
    return pd.DataFrame({"vehicle": "Alder", "date": dates, "odometer": odometer, "service_days": 4.0})


def inputs(remaining=(3000.0, 3400.0, 60_000.0, 60_000.0, 2900.0, 9000.0), costs=COSTS, **more):
    points, distribution = railway(list(remaining))
    simulation = simulate(
        points, distribution, usage(), costs=costs, assumptions=Assumptions(draws=3000, seed=11)
    )
    windows = pd.DataFrame({"opens": [pd.Timestamp(f"{year}-11-01") for year in range(2026, 2034)]})
    return CaseInputs(
        vehicle="Alder",
        name="Alder",
        simulation=simulation,
        jobs=jobs_of(points, costs),
        openings=openings_of(costs),
        windows=windows,
        mileage=log(),
        funds=fund_book(),
        life_miles=pd.Series(10_000.0, index=points["point"]),
        as_of=AS_OF,
        **more,
    )


CHOICES = CaseChoices(opens=OPENS, terms=TERMS)


@pytest.fixture(scope="module")
def case():
    return build_case(inputs(), CHOICES)


def test_every_total_is_the_sum_of_its_parts(case):
    assert case.lines["at50"].sum() == pytest.approx(case.amount.p50)
    assert case.lines["ask"].sum() == pytest.approx(case.ask)
    assert case.bills["amount"].sum() == pytest.approx(case.ask)
    assert case.schedule["due"].sum() == pytest.approx(case.ask)
    assert case.schedule["to_raise"].sum() == pytest.approx(case.to_raise)
    parts, whole = case.mile.iloc[:-1], case.mile.iloc[-1]
    assert parts["mean"].sum() == pytest.approx(whole["mean"])
    assert parts["share"].sum() == pytest.approx(1.0)
    assert case.delays.loc[0, "ask"] == pytest.approx(case.ask)
    assert case.delays.loc[0, "p50"] == pytest.approx(case.amount.p50)


def test_scope_holds_what_the_accepted_risk_calls_for(case):
    """About 2,400 miles to the window, 4,800 to the next: hollows (3,000) and the left bushing are due."""
    planned = case.lines[case.lines["kind"] == "planned"].set_index("line")["points"]
    assert set(planned["driver tire | cut"]) == {"tire L hollow", "tire R hollow"}
    assert planned["rod bushing | renewed"] == ["bushing L"]
    assert "driver tire | renewed" not in planned


FINDINGS = pd.DataFrame(
    {
        "component": ["rod bushing", "rod bushing", "crank pin", "driver tire"],
        "examined": [6.0, 6.0, 8.0, 4.0],
        "defective": [1.0, 2.0, 1.0, 0.0],
    }
)


def test_parts_laid_open_are_those_reached_and_not_renewed():
    given = inputs()
    jobs = given.jobs
    components = ("crank pin", "driver tire", "rod bushing")
    bushing = jobs[jobs["component"] == "rod bushing"].iloc[[0]]
    rods_down = parts_laid_open(components, jobs, bushing, FINDINGS).set_index("component")["parts"]
    assert rods_down.to_dict() == {"crank pin": 0, "driver tire": 0, "rod bushing": 5}
    cut = jobs[jobs["action"] == "cut"]
    wheels_out = parts_laid_open(components, jobs, cut, FINDINGS).set_index("component")["parts"]
    assert wheels_out.to_dict() == {
        "crank pin": 8,
        "driver tire": 4,
        "rod bushing": 6,
    }  # a cut renews no tire
    assert parts_laid_open(components, jobs, jobs.iloc[:0], FINDINGS)["parts"].sum() == 0


def test_hidden_work_follows_what_tear_downs_found():
    points, distribution = railway([3e3] * 6)
    simulation = simulate(
        points, distribution, usage(), findings=FINDINGS, costs=COSTS, assumptions=Assumptions(draws=8000)
    )
    laid_open = pd.DataFrame(
        {"component": ["rod bushing", "crank pin"], "parts": [6.0, 8.0], "points": [["bushing L"], []]}
    )
    hidden = hidden_work(simulation, laid_open, pd.Timestamp("2026-11-01"))
    assert hidden.lines["line"].tolist() == ["hidden | rod bushing"]
    share = simulation.defect_share[:, simulation.components.index("rod bushing")].mean()
    assert hidden.lines["parts"].iloc[0] == pytest.approx(6 * share, rel=0.03)  # 8000 draws of 1.5 +- 1.3
    assert hidden.total.mean() == pytest.approx(6 * share * 650 * 1.03 ** (7 / 12), rel=0.05)
    assert hidden.unpriced["component"].tolist() == ["crank pin"]
    # A tire may be cut ($900) or must be renewed ($4,800): half of those found, unless told otherwise.
    tires = pd.DataFrame({"component": ["driver tire"], "parts": [4.0], "points": [[]]})
    costs = [hidden_work(simulation, tires, pd.Timestamp("2026-04-01"), b).total.mean() for b in (0, 0.5, 1)]
    assert costs[1] == pytest.approx((costs[0] + costs[2]) / 2, rel=0.1)  # 8000 draws, few tires found
    assert costs[2] / costs[0] == pytest.approx(4800 / 900, rel=0.05)


def test_hidden_work_is_part_of_the_sum_and_makes_it_less_sure():
    given = inputs()
    points, distribution = railway([3000.0, 3400.0, 6e4, 6e4, 2900.0, 9000.0])
    simulation = simulate(
        points,
        distribution,
        usage(),
        findings=FINDINGS,
        costs=COSTS,
        assumptions=Assumptions(draws=3000, seed=11),
    )
    with_it = build_case(replace(given, simulation=simulation, findings=FINDINGS), CHOICES)
    without = build_case(given, CHOICES)
    assert "hidden" in set(with_it.lines["kind"])
    assert with_it.lines["ask"].sum() == pytest.approx(with_it.ask)
    assert with_it.ask > without.ask
    assert "crank pin" in set(with_it.unpriced["component"])


def test_opening_the_machine_is_a_line_of_its_own(case):
    opening = case.lines[case.lines["kind"] == "opening"]
    assert opening["action"].tolist() == ["wheels out"]
    assert 18_000 < opening["at50"].iloc[0] < 24_000


def test_figures_grow_with_the_confidence_asked_for():
    low = build_case(inputs(), replace(CHOICES, confidence=0.6))
    high = build_case(inputs(), replace(CHOICES, confidence=0.9))
    assert low.amount.p50 < low.ask < high.ask
    assert high.ask == pytest.approx(high.amount.p90)


def test_prices_are_carried_to_the_day_of_the_work():
    """Same draws, a year later: dearer by each future's own rate, and by nothing else."""
    given = inputs()
    jobs = given.jobs.dropna(subset=["cost"])
    now = job_prices(given.simulation, jobs, OPENS)
    later = job_prices(given.simulation, jobs, OPENS + pd.DateOffset(years=1))
    rise = (later / now)[:, 0] - 1
    # 2028 is a leap year: 366 days to the next November.
    expected = (1 + given.simulation.inflation) ** (366 / 365.2425) - 1
    np.testing.assert_allclose(rise, expected, rtol=1e-9)


def plan_of(given, **windows):
    """A plan: component -> years of the Novembers in which its first job is done."""
    rows = []
    for component, years in windows.items():
        job = given.jobs[given.jobs["component"] == component.replace("_", " ")].iloc[0]
        rows += [job.to_dict() | {"opens": pd.Timestamp(f"{y}-11-01"), "depth": job["access"]} for y in years]
    lines = pd.DataFrame(rows).reindex(columns=LINE_COLUMNS)
    renewals = lines.explode("points").groupby("points")["opens"].apply(list).to_dict()
    opened = lines.groupby("opens", as_index=False)["depth"].max().reindex(columns=WINDOW_COLUMNS)
    return PlannedWork(lines, opened, renewals)


def test_a_plan_decides_the_scope_where_there_is_one():
    given = inputs()
    plan = plan_of(given, rod_bushing=[2027], driver_tire=[2028])
    case = build_case(replace(given, plan=plan), CHOICES)
    assert case.is_planned
    assert set(case.lines.loc[case.lines["kind"] == "planned", "component"]) == {"rod bushing"}
    also = case.delays.set_index("seasons")["also_p50"]
    assert also[0] == 0
    assert also[1] == pytest.approx(900 * 1.03**2.6, rel=0.05)  # one tire's cut, due by the plan a year later
    elsewhere = build_case(replace(given, plan=plan_of(given, rod_bushing=[2029])), CHOICES)
    assert not elsewhere.is_planned
    assert first_window_with_work(replace(given, plan=plan), 0.05) == OPENS


def test_work_of_a_plan_without_a_price_is_named():
    given = inputs()
    plan = plan_of(given, rod_bushing=[2027])
    boiler = plan.lines.iloc[[0]].assign(job="boiler", component="boiler", action="inspected", points=[[]])
    plan = replace(plan, lines=pd.concat([plan.lines, boiler], ignore_index=True))
    assert "boiler" in set(build_case(replace(given, plan=plan), CHOICES).unpriced["component"])


def test_amount_is_the_planners_contingency():
    """One truth: the case of a planned window and the planner's own figures for it."""
    given = inputs()
    plan = plan_of(given, rod_bushing=[2027, 2029], driver_tire=[2027])
    end = pd.Timestamp("2033-11-01")
    case = build_case(replace(given, plan=plan, end=end), CHOICES)
    told = contingency_of(
        given.simulation,
        given.jobs,
        given.openings,
        plan.lines[plan.lines["opens"] == OPENS].assign(vehicle="Alder", window=1, label=""),
        given.findings.assign(vehicle="Alder"),
        plan.renewals,
        plan.windows,
        end,
    )
    assert case.amount.p50 == pytest.approx(told.amounts["p50"].iloc[0])
    assert case.ask == pytest.approx(told.amounts["p80"].iloc[0])
    assert case.lines["ask"].tolist() == pytest.approx(told.lines["at80"].tolist())


def test_same_work_later_costs_what_prices_have_risen_to():
    given = inputs()
    case = build_case(given, CHOICES)
    total = waits_of(given, CHOICES)[0].cost.total
    rise = (1 + given.simulation.inflation) ** (366 / 365.2425)
    assert case.delays.loc[1, "ask"] == pytest.approx(np.quantile(total * rise, 0.8))
    assert case.delays.loc[1, "more_p50"] == pytest.approx(np.median(total * rise - total))


def test_a_part_renewed_before_the_window_begins_its_next_life():
    given = inputs(remaining=(1e6, 1e6, 1e6, 1e6, 1500.0, 1e6))
    row = np.flatnonzero(given.simulation.points["point"] == "bushing L")
    day = pd.Timestamp("2028-05-01")
    without = miles_to_limit(given.simulation, row, {})
    with_it = miles_to_limit(given.simulation, row, {"bushing L": [day]})
    run = given.simulation.miles[:, 0, given.simulation.month_index(day)]
    held = without[:, 0] >= run
    assert 0 < held.mean() < 1
    np.testing.assert_allclose(with_it[~held], without[~held])
    np.testing.assert_allclose(with_it[held, 0], run[held] + given.simulation.next_life[held, row[0], 0])


def test_waiting_never_lowers_risk_or_lost_days(case):
    assert case.delays["seasons"].tolist() == [0, 1, 2, 3]
    for column in ["chance_stopped", "days_lost_mean", "days_lost_p80", "worth_of_wait"]:
        rounding = 1e-12 * case.delays[column].max()  # means of the same figures, added up in another order
        assert (case.delays[column].diff().dropna() >= -rounding).all(), column
    assert (case.delays.loc[0, ["worth_of_wait", "worth_p10", "worth_p90"]] == 0).all()
    # A season's worth: the miles run until the engine stands, at what each uses up of the planned scope.
    assert 0 < case.delays.loc[1, "worth_of_wait"] < 2400 * case.mile.iloc[-1]["mean"]
    assert (case.delays.loc[0, ["more_p10", "more_p50", "more_p90"]] == 0).all()


def test_lost_miles_are_those_between_the_limit_and_the_window():
    given = inputs(remaining=(1e6, 1e6, 1e6, 1e6, 1200.0, 1e6))
    wait = waits_of(given, CHOICES)[0]
    assert given.simulation.points["point"].iloc[wait.stoppers].tolist() == ["bushing L"]
    stopped, lost = stops_before(given.simulation, wait, 0)
    run = given.simulation.miles[:, 0, given.simulation.month_index(OPENS)]
    np.testing.assert_allclose(lost, np.maximum(run - given.simulation.remaining[:, wait.stoppers[0]], 0))
    assert stopped.mean() > 0.99
    none = replace(wait, reached=np.empty((given.simulation.draws, 0)))
    assert not stops_before(given.simulation, none, 0)[0].any()


def test_risk_agrees_with_the_planners_risk_of_waiting():
    """The same futures: by the window's month as many draws have stopped as the planner counts."""
    given = inputs()
    wait = waits_of(given, CHOICES)[0]
    stopped = stops_before(given.simulation, wait, 0)[0].mean()
    months = stop_months(given.simulation, {})[:, wait.stoppers].min(axis=1)
    assert stopped == (months < given.simulation.month_index(OPENS)).mean()


def test_income_lost_is_told_beside_what_waiting_costs_not_in_it():
    without = build_case(inputs(), CHOICES).delays
    with_income = build_case(inputs(), replace(CHOICES, income_per_day=1000.0)).delays
    assert with_income["more_p50"].tolist() == without["more_p50"].tolist()
    assert (without["income_lost_p50"] == 0).all()
    assert with_income.loc[0, "income_lost_p50"] == 0
    lost = with_income.loc[2, "days_lost_mean"] - with_income.loc[0, "days_lost_mean"]
    assert with_income.loc[2, "income_lost_p50"] == pytest.approx(1000.0 * lost, rel=0.2)


def test_part_at_its_limit_now_is_in_the_scope_and_named_and_stops_nothing_later():
    case = build_case(inputs(remaining=(0.0, 3400.0, 6e4, 6e4, 2900.0, 9000.0)), CHOICES)
    assert case.at_limit == ("tire L hollow",)
    assert "tire L hollow" in case.lines.loc[0, "points"]
    assert case.delays.loc[0, "chance_stopped"] < 0.9
    assert "tire L hollow" not in case.remaining["points"].explode().tolist()


def test_window_out_of_reach_says_what_is_possible():
    with pytest.raises(NotPossible, match="2026-10-31"):
        build_case(inputs(), replace(CHOICES, opens=pd.Timestamp("2026-01-01")))
    with pytest.raises(NotPossible, match="simulated to 2034-10"):
        build_case(inputs(), replace(CHOICES, opens=pd.Timestamp("2033-11-01")))


def test_scope_without_prices_says_so():
    with pytest.raises(NotPossible, match="none of it has a price"):
        build_case(inputs(costs=COSTS.iloc[:0]), CHOICES)
    tires_only = build_case(inputs(costs=COSTS[COSTS["component"] != "rod bushing"]), CHOICES)
    assert tires_only.unpriced["component"].tolist() == ["rod bushing"]


def test_a_window_without_work_names_those_that_have_some():
    later = inputs(remaining=(15_000.0,) * 6)
    first = first_window_with_work(later, CHOICES.risk)
    assert first > pd.Timestamp("2026-12-01")
    with pytest.raises(NotPossible, match=f"Name one that has: {first:%Y-%m-%d}"):
        build_case(later, replace(CHOICES, opens=pd.Timestamp("2026-12-01")))
    with pytest.raises(NotPossible, match="No other window has any"):
        build_case(inputs(costs=COSTS.iloc[:0]), CHOICES)


def test_wear_point_calls_for_the_cheapest_job_that_renews_it():
    points, _ = railway([1.0] * 6)
    jobs = jobs_of(points, COSTS)
    called = points_called_by(jobs, points)
    actions = jobs["action"].to_numpy()[called]
    assert actions.tolist() == ["cut", "cut", "renewed", "renewed", "renewed", "renewed"]


def test_running_costs_miles_times_the_cost_of_a_mile(case):
    whole = case.mile.iloc[-1]
    assert case.day.mean == pytest.approx(case.miles_per_day * whole["mean"])
    assert case.day.p10 <= case.day.mean <= case.day.p90
    jobs = pd.DataFrame({"component": ["x"], "action": ["renewed"], "points": [["p"]], "vehicle": "v"})
    prices = np.linspace(400.0, 600.0, 11)[:, None]
    mile = by_component(cost_of_a_mile(jobs, np.full((11, 1), 1000.0), prices))
    run = cost_of_running(mile, 200.0)
    # A fifth of the life at prices of $420 (1 of 10 below), $500 on average, $580 (1 of 10 above).
    assert (run.p10, run.mean, run.p90) == pytest.approx((84.0, 100.0, 116.0))


def test_what_was_put_aside_is_told_by_mile(case):
    sinking = case.sinking
    assert sinking.put_aside == 500 * 36 - 500  # the first gift of the book lies in December
    assert sinking.was == pytest.approx(sinking.put_aside / sinking.miles)
    assert sinking.used_up_p10 <= sinking.used_up <= sinking.used_up_p90
    assert miles_between(log(), "Alder", pd.Timestamp("2020-01-01"), AS_OF) == pytest.approx(7200.0)
    assert miles_between(log(), "nobody", AS_OF, AS_OF) == 0.0


def test_gifts_are_priced_from_the_same_draws(case):
    gifts = case.gifts
    assert (gifts["low"] <= gifts["price"]).all()
    assert (gifts["price"] <= gifts["high"]).all()
    engine = gifts[gifts["kind"] == "engine miles"].iloc[0]
    assert engine["price"] == pytest.approx(engine["quantity"] * case.mile.iloc[-1]["mean"])
    turned = gifts[(gifts["kind"] == "job") & (gifts["action"] == "cut")].iloc[0]
    assert 850 < turned["price"] < 1100  # $900 of April 2026 in November 2027 at 3 % a year
    assert (gifts["points"].str.len() > 0).all()
    assert gifts["quantity"].tolist()[:2] == [10.0, 100.0]
    assert set(gifts["component"]) <= {"", "driver tire", "rod bushing"}


def test_seasons_follow_the_planned_miles():
    seasons = season_miles(inputs().simulation, 0)
    assert seasons["label"].tolist()[:2] == ["2027", "2028"]
    assert seasons.loc[0, "start"] == pytest.approx(0.0)
    assert seasons.loc[0, "end"] == pytest.approx(2400.0, rel=0.02)
    assert seasons.loc[1, "start"] == pytest.approx(seasons.loc[0, "end"])


def test_seasons_are_the_running_of_calendar_years():
    points, distribution = railway([5e4] * 6)
    plan = usage(4).assign(miles=100.0, miles_sd=0.0)
    seasons = season_miles(simulate(points, distribution, plan, assumptions=Assumptions(draws=20)), 0)
    assert seasons["label"].tolist() == ["2026", "2027", "2028", "2029", "2030"]
    assert seasons["end"].tolist() == pytest.approx([200, 1400, 2600, 3800, 4800])


def test_first_window_is_the_nearest_with_work_however_late_its_bills_are():
    given = inputs()
    assert first_window_with_work(given, 0.05) == pd.Timestamp("2026-11-01")
    idle = inputs(remaining=(9e5,) * 6)
    with pytest.raises(NotPossible, match="no work is due at any lay-up"):
        first_window_with_work(idle, 0.05)


def test_later_window_is_the_lay_up_nearest_to_the_year():
    windows = pd.DataFrame({"opens": pd.to_datetime(["2027-11-01", "2028-12-10", "2030-01-05"])})
    assert window_after(windows, OPENS, 0) == OPENS
    assert window_after(windows, OPENS, 1) == pd.Timestamp("2028-12-10")
    assert window_after(windows, OPENS, 3) == pd.Timestamp("2030-11-01")


def test_better_funded_is_likelier_in_time():
    books = (fund_book().assign(amount=gift) for gift in (150.0, 2500.0))
    poor, rich = (build_case(replace(inputs(), funds=book), CHOICES) for book in books)
    assert poor.chance_in_time < 0.05
    assert rich.chance_in_time > 0.95


def test_every_line_names_its_wear_points(case):
    for frame in [case.lines, case.mile, case.gifts, case.remaining, case.delays]:
        assert (frame["points"].str.len() > 0).all()
