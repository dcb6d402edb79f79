"""The plan as a whole: risk kept, depths opened once, reasons true, late work named."""

import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from fleets.planned_engines import AS_OF, NO_LOG
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from ingest.catalogue import classify
from ingest.errors import NotPossible, WrongUsage
from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan import planner
from models.plan import rounding as rounded
from models.plan.chances import lives_of
from models.plan.clocks import clock_lives
from models.plan.network import _lateness
from models.plan.planner import PlanInputs, make_plan
from models.plan.risk import stop_months, waiting
from models.plan.rules import Rules
from models.plan.what_if import jobs_kept
from models.running.ahead import usage_plan
from models.running.windows import by_hand, combine, lay_ups, within

SEASON = 3000.0
COSTS = pd.DataFrame(
    [
        ("rods_down", "open", 1000.0, 40.0, 4.0),
        ("wheels_out", "open", 20_000.0, 400.0, 30.0),
        ("bushing", "renewed", 600.0, 8.0, 1.0),
        ("pin", "renewed", 300.0, 4.0, 1.0),
        ("shoe", "renewed", 200.0, 3.0, 1.0),
        ("tire", "cut", 900.0, 14.0, 3.0),
        ("tire", "renewed", 5000.0, 26.0, 6.0),
    ],
    columns=["component", "action", "cost", "labor_hours", "days_out"],
).assign(currency="USD", price_date=AS_OF)


def point(
    name,
    component,
    life,
    *,
    remaining=None,
    access="rods_down",
    quantity="clearance",
    together="",
    spread=0.2,
):
    curve = np.exp(spread * norm.ppf(PROBABILITIES))
    left = life if remaining is None else remaining
    return {
        "point": name, "vehicle": "A", "component": component, "position": name.lower(), "quantity": quantity,
        "access": access, "matched_set": together, "remaining": left * curve, "new_life": life * curve,
    }  # fmt: skip


def inputs(points, years=6, *, spans=(), due=None, sd=0.0):
    frame = classify(pd.DataFrame(points))
    months = pd.date_range("2026-01-01", f"{2028 + years}-12-01", freq="MS")
    planned = pd.DataFrame({"vehicle": "A", "month": months})
    planned["miles_planned"] = np.where(months.month.isin([5, 6, 7, 8, 9, 10]), SEASON / 6, 0.0)
    planned["miles_sd"] = sd * planned["miles_planned"]
    as_of = pd.Series({"A": AS_OF})
    usage = usage_plan(planned, NO_LOG, as_of, 12 * (years + 1) + 4)
    stored = frame[["point", "remaining", "new_life"]]
    windows, ends = within(combine(lay_ups(usage, as_of), by_hand(spans, ["A"]), as_of), as_of, years)
    futures = simulate(
        frame.drop(columns=["remaining", "new_life"]), stored, usage, costs=COSTS, as_of=as_of,
        assumptions=Assumptions(draws=1500),
    )  # fmt: skip
    return PlanInputs(futures, stored, usage, windows, COSTS, ends, due)


def plan_of(points, rules=None, **more):
    return make_plan(inputs(points, **more), rules, gap=1e-6)


def test_each_part_is_renewed_before_its_chance_passes_the_accepted_risk():
    plan = plan_of([point("B1", "bushing", 9000.0), point("P1", "pin", 14_000.0, remaining=5000.0)])
    assert len(plan.late) == 0
    assert (plan.points["chance_by_window"] <= plan.points["accepted"] + 1e-9).all()
    counts = plan.points.groupby("point").size()
    # Six seasons of 3,000 miles; at 5 % a life of 9,000 miles is good for 6,476 (two seasons): renewed twice
    # or more; the pin's 5,000 miles are good for one season.
    assert counts["B1"] >= 2
    assert plan.points.loc[plan.points["point"] == "P1", "window"].min() == 2


def test_a_season_after_the_years_planned_is_called_so():
    given_inputs = inputs([point("B1", "bushing", 9000.0)])
    seasons = {
        years: make_plan(replace(given_inputs, years=years), Rules(stop_risk=0.3)).engine_risk
        for years in (None, 3.2, 20.0)
    }
    after = [label.endswith("(after the years planned)") for label in seasons[3.2]["label"]]
    limit = AS_OF + pd.Timedelta(days=3.2 * 365.2425)
    assert after == (seasons[3.2]["begins"] > limit).tolist()
    assert len(set(after)) == 2
    assert not seasons[20.0]["label"].str.contains("after").any()
    pd.testing.assert_frame_equal(seasons[20.0], seasons[None])


def test_the_risk_is_kept_by_quantity():
    rules = Rules(risk_by={"clearance": 0.4})
    bold = plan_of([point("B1", "bushing", 9000.0)], rules)
    careful = plan_of([point("B1", "bushing", 9000.0)], Rules(risk=0.01))
    assert len(bold.points) < len(careful.points)
    assert set(bold.points["accepted"]) == {0.4}


def test_work_waits_for_or_comes_with_an_opening_at_its_depth():
    plan = plan_of(
        [
            point("T1", "tire", 13_000.0, remaining=4000.0, access="wheels_out", quantity="hollow"),
            point("S1", "shoe", 30_000.0, remaining=9000.0, access="rods_down"),
        ]
    )
    wheels = plan.windows[plan.windows["depth"] == "wheels_out"]
    shoe = plan.scope[plan.scope["component"] == "shoe"].iloc[0]
    assert shoe["window"] in wheels["window"].tolist()
    assert "while the wheels are out anyway" in shoe["reason"] or shoe["kind"] == "limit"


def test_a_matched_set_is_renewed_together_when_its_first_part_is_due():
    tires = [
        point(
            f"D{i}",
            "tire",
            40_000.0,
            remaining=left,
            access="wheels_out",
            quantity="hollow",
            together="drivers",
        )
        for i, left in enumerate([5000.0, 20_000.0, 24_000.0])
    ]
    plan = plan_of(tires)
    line = plan.scope.iloc[0]
    assert sorted(line["points"]) == ["D0", "D1", "D2"]
    assert line["point"] == "D0"
    assert "matched set of 3" in line["reason"]
    assert line["cost"] == 2700.0


def test_a_new_tire_restores_the_profile_too():
    tire = [
        point(
            "H", "tire", 12_000.0, remaining=5000.0, access="wheels_out", quantity="hollow", together="set"
        ),
        point(
            "K", "tire", 90_000.0, remaining=5000.0, access="wheels_out", quantity="thickness", together="set"
        ),
    ]
    tire[1]["position"] = tire[0]["position"]
    plan = plan_of(tire)
    first = plan.scope[plan.scope["window"] == plan.scope["window"].min()]
    assert first["action"].tolist() == ["renewed"]
    assert sorted(first["points"].iloc[0]) == ["H", "K"]


def test_what_no_window_can_keep_is_late_and_strict_says_which_and_where():
    given_points = [point("B1", "bushing", 9000.0, remaining=0.0), point("P1", "pin", 50_000.0)]
    plan = plan_of(given_points)
    assert plan.late["point"].tolist() == ["B1"]
    assert plan.late["window"].tolist() == [1]
    assert plan.scope.loc[plan.scope["point"] == "B1", "kind"].iloc[0] == "late"
    with pytest.raises(
        NotPossible,
        match=r"Found B1: more than 99 times in 100 by Nov 2026 – Apr 2027, 5 accepted\.",
    ):
        make_plan(inputs(given_points), strict=True)


def test_a_part_that_cannot_last_one_season_is_late_at_every_window():
    plan = plan_of([point("B1", "bushing", 2000.0)], years=3)
    assert len(plan.scope) == len(plan.windows)
    assert plan.late["window"].tolist() == [2, 3, 0]


def test_no_window_in_the_years_planned_is_said():
    given_inputs = inputs([point("B1", "bushing", 9000.0)])
    with pytest.raises(NotPossible, match="no lay-up of A was found"):
        make_plan(PlanInputs(**{**vars(given_inputs), "windows": given_inputs.windows.iloc[:0]}))


def test_asked_for_now_is_done_in_the_first_window():
    plan = plan_of([point("B1", "bushing", 90_000.0)], Rules(now=("B1",)))
    assert plan.scope["window"].tolist() == [1]
    assert plan.scope["kind"].tolist() == ["asked"]
    assert plan.scope["reason"].iloc[0].startswith("asked for now; it would last beyond the years planned")


def test_inspections_are_done_before_they_fall_due():
    due = pd.DataFrame(
        {
            "vehicle": ["A", "A"],
            "clock": ["annual", "31 days"],
            "title": ["Annual inspection", "31-service-day inspection"],
            "due": [pd.Timestamp("2028-01-15")] * 2,
            "months": [24.0, np.nan],
            "service_days": [np.nan, 31.0],
        }
    )
    plan = plan_of([point("B1", "bushing", 90_000.0)], due=due)
    lines = plan.scope[plan.scope["kind"] == "inspection"]
    assert set(lines["component"]) == {"Annual inspection"}  # the other is no work for a lay-up
    opens = lines["opens"].tolist()
    assert opens[0] == pd.Timestamp("2027-11-01")  # the last window before it is due, not sooner
    assert len(opens) == 3
    assert all(b <= a + pd.DateOffset(months=24) for a, b in pairwise(opens))
    assert "inspection due by 2028-01-15" in lines["reason"].iloc[0]


def test_days_beyond_a_window_are_lost_and_priced():
    many = [point(f"B{i}", "bushing", 5000.0) for i in range(40)]
    plan = plan_of(many, years=2, spans=[(pd.Timestamp("2026-11-01"), pd.Timestamp("2026-11-10"))])
    row = plan.windows.iloc[0]
    assert row["source"] == "by hand"
    assert row["days"] == 10
    needed = 4 + len(plan.scope[plan.scope["window"] == 1]) / 3
    assert row["days_needed"] == pytest.approx(needed if row["depth"] else 0.0)
    assert row["lost_days"] == pytest.approx(max(row["days_needed"] - 10, 0))


def test_points_tell_the_age_at_which_renewing_costs_least():
    plan = plan_of([point("B1", "bushing", 9000.0)])
    age = plan.points["cheapest_age"].iloc[0]
    # A stop costs 14 days of 1,000 against a bushing of 600: far below the middle life of 9,000 miles.
    assert 3000 < age < 7000
    cheap = plan_of([point("B1", "bushing", 9000.0)], Rules(stop_days=0.1)).points["cheapest_age"].iloc[0]
    assert cheap > age


def test_money_adds_up():
    plan = plan_of(
        [
            point("B1", "bushing", 9000.0),
            point("S1", "shoe", 9000.0),
            point("T", "tire", 9000.0, access="wheels_out"),
        ]
    )
    totals = plan.totals.set_index("what")["amount"]
    assert totals["jobs"] == pytest.approx(plan.scope["cost"].sum())
    opened = plan.windows["depth"].map(
        {"": 0.0, "in_place": 0.0, "rods_down": 1000.0, "wheels_out": 20_000.0}
    )
    assert totals["opening"] == pytest.approx(opened.sum())
    assert totals["bound"] <= totals["objective"] + 1e-6


def test_risk_of_waiting_falls_with_the_plan_and_counts_the_wear_points_that_carry_it():
    plan = plan_of([point("B1", "bushing", 9000.0, remaining=6000.0), point("P1", "pin", 80_000.0)], sd=0.1)
    last = plan.risk.iloc[-1]
    assert last["without_work"] > 0.99
    assert last["with_plan"] < 0.2
    assert (plan.risk["with_plan"] <= plan.risk["without_work"] + 1e-9).all()
    assert plan.risk["without_work"].is_monotonic_increasing
    assert plan.carriers["point"].iloc[0] == "B1"


def test_a_part_at_its_limit_stops_the_vehicle_when_it_next_runs_unless_renewed_before():
    futures = inputs([point("B1", "bushing", 9000.0, remaining=0.0)]).simulation
    assert (stop_months(futures, {})[:, 0] == 7).all()  # May, the eighth month from October
    renewed = stop_months(futures, {"B1": [pd.Timestamp("2026-11-01")]})
    assert (renewed[:, 0] > 7).all()
    months, _ = waiting(futures, {})
    assert (months["without_work"] == 0).all()  # told apart as at its limit


def test_a_part_renewed_on_the_first_of_a_month_does_not_stop_the_vehicle_in_it():
    # 500 miles a month from May: 750 miles are reached in June.
    futures = inputs([point("B1", "bushing", 90_000.0, remaining=750.0, spread=0.01)]).simulation
    for day, stopped in (("2027-06-01", 0.0), ("2027-06-02", 1.0)):
        months, _ = waiting(futures, {"B1": [pd.Timestamp(day)]})
        june = months.loc[months["month"] == pd.Timestamp("2027-06-01"), "with_plan"]
        assert june.iloc[0] == pytest.approx(stopped, abs=0.002)


def test_a_life_far_beyond_the_usual_counts_three_times_the_usual_as_thrown_away():
    part = point("B1", "bushing", 9000.0, remaining=90_000.0, spread=0.01)
    plan = plan_of([part], Rules(now=("B1",)))
    assert plan.scope.loc[plan.scope["window"] == 1, "unused_miles"].iloc[0] == pytest.approx(
        27_000, rel=0.01
    )


def test_money_later_is_worth_less_in_what_the_search_compares():
    rules = Rules(discount=0.5, value_kept=0.0, stop_days=0.0)
    plan = plan_of([point("B1", "bushing", 90_000.0, remaining=9000.0, spread=0.05)], rules)
    line = plan.scope.iloc[0]
    years = (line["opens"] - AS_OF).days / 365.2425
    assert len(plan.scope) == 1
    assert years > 1
    objective = plan.totals.set_index("what").loc["objective", "amount"]
    assert objective == pytest.approx((1000.0 + 600.0) * 1.5**-years, rel=1e-3)


def test_days_of_the_work_are_shared_among_the_gangs():
    needed = {}
    for gangs in (1, 3):
        plan = plan_of([point("B1", "bushing", 90_000.0)], Rules(now=("B1",), gangs=gangs))
        needed[gangs] = plan.windows["days_needed"].iloc[0]
    assert needed == {1: pytest.approx(4 + 1.0), 3: pytest.approx(4 + 1 / 3, abs=1e-4)}


def test_chances_between_nodes_grow_with_the_miles_and_start_from_the_stored_forecast():
    given_inputs = inputs([point("B1", "bushing", 9000.0, remaining=6000.0)])
    lives = lives_of(
        given_inputs.simulation, given_inputs.distribution, "A", given_inputs.windows["opens"].to_numpy()
    )
    row = lives.chance[0, 0, 1:]
    assert (np.diff(row) >= -1e-12).all()
    assert lives.miles[:3] == pytest.approx([0.0, 0.0, SEASON])
    assert lives.chance[0, 0, 2] == pytest.approx(norm.cdf(np.log(3000 / 6000) / 0.2), abs=0.003)
    assert lives.unused[0, 0, 2] == pytest.approx(6000 * np.exp(0.02) - 3000, rel=0.03)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), nodes=st.integers(3, 7))
def test_late_lives_are_free_of_penalty_only_on_paths_with_the_fewest(seed, nodes):
    rng = np.random.default_rng(seed)
    reach = np.maximum.accumulate(
        np.arange(nodes) + rng.integers(0, 3, nodes)
    )  # furthest node within the risk
    reach[0] = rng.integers(0, nodes)  # a part now in service may last where a new one would not
    allowed = np.zeros((1, nodes, nodes), bool)
    for u in range(nodes):
        allowed[0, u, u + 1 : reach[u] + 1] = True
    late = _lateness(allowed)[0]
    step = np.arange(nodes - 1)
    count = np.where(allowed[0], 0.0, np.inf)
    count[step, step + 1] = np.where(allowed[0, step, step + 1], 0.0, 1.0)

    def fewest(start, end):
        best = {start: 0.0}
        for v in range(start + 1, end + 1):
            best[v] = min((best[u] + count[u, v] for u in best), default=np.inf)
        return best[end]

    least = fewest(0, nodes - 1)
    for u in step:
        if count[u, u + 1] == 1.0:
            through = fewest(0, u) + 1 + fewest(u + 1, nodes - 1)
            assert (late[u, u + 1] == 0.0) == (through == least)


def test_rules_that_make_no_sense_are_refused():
    with pytest.raises(WrongUsage, match=r"Accepted risk: 5 was found\. Expected a chance between 0 and 1"):
        Rules(risk=5)
    with pytest.raises(WrongUsage, match="Gangs: 0"):
        Rules(gangs=0)


def test_the_same_inputs_give_the_same_plan():
    given_points = [point(f"B{i}", "bushing", 7000.0 + 900 * i) for i in range(6)]
    one, two = plan_of(given_points), plan_of(given_points[::-1])
    columns = ["window", "job", "reason"]
    pd.testing.assert_frame_equal(
        one.scope[columns].sort_values(columns, ignore_index=True),
        two.scope[columns].sort_values(columns, ignore_index=True),
    )


def equal_plans(one, other):
    for name, frame in one.frames().items():
        pd.testing.assert_frame_equal(frame, other.frames()[name], check_exact=True)


def many_points():
    """Twelve wear points, some of them exactly alike: only their names can break the tie."""
    lives = {"bushing": 9000.0, "pin": 14_000.0, "shoe": 9000.0, "tire": 30_000.0}
    return [
        point(f"{component[0].upper()}{i}", component, life, remaining=0.6 * life)
        for component, life in lives.items()
        for i in range(3)
    ]


DUE = pd.DataFrame(
    {
        "vehicle": "A",
        "clock": ["annual", "boiler"],
        "title": ["yearly inspection", "boiler"],
        "due": pd.to_datetime(["2027-04-15", "2028-04-15"]),
        "months": [12.0, 48.0],
    }
)


def shuffled(frame, seed):
    return frame.sample(frac=1, random_state=seed)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_plan_is_the_same_in_whatever_order_the_rows_come(seed):
    given_inputs = inputs(many_points(), due=DUE, sd=0.1)
    doubled = pd.concat([COSTS, COSTS.assign(cost=COSTS["cost"] + 50)], ignore_index=True)  # two prices a day
    rows = given_inputs.simulation.points
    frames = {"distribution": given_inputs.distribution, "usage": given_inputs.usage}
    frames |= {"windows": given_inputs.windows, "costs": doubled, "due": DUE}
    frames["unforecast"] = pd.DataFrame({"vehicle": "A", "point": ["X1", "X2", "X3"], "reason": "no reading"})

    def plan(order):
        mixed = {name: order(frame) for name, frame in frames.items()}
        futures = simulate(
            order(rows.drop(columns="vehicle_index")), mixed["distribution"], mixed["usage"],
            costs=mixed["costs"], as_of=pd.Series({"A": AS_OF}), assumptions=Assumptions(draws=300),
        )  # fmt: skip
        return make_plan(PlanInputs(futures, ends=given_inputs.ends, **mixed))

    equal_plans(plan(lambda frame: frame), plan(lambda frame: shuffled(frame, seed)))


def test_clocks_stand_in_the_order_of_their_names():
    windows = pd.DataFrame({"opens": pd.to_datetime(["2026-11-01", "2027-11-01"])})
    end = pd.Timestamp("2028-11-01")
    for order in ([0, 1], [1, 0]):
        clocks = clock_lives(DUE.iloc[order], windows, np.zeros(4), end)
        assert clocks.frame["clock"].tolist() == ["annual", "boiler"]
        assert clocks.allowed[:, 0, 2].tolist() == [False, True]


def test_last_digits_of_another_processor_change_nothing_that_is_chosen():
    given_inputs = inputs(many_points(), sd=0.1)
    rng = np.random.default_rng(4)

    def nudged(lists):
        return [np.sort(row * (1 + 1e-12 * rng.standard_normal(len(row)))) for row in lists]

    stored = given_inputs.distribution
    other = stored.assign(remaining=nudged(stored["remaining"]), new_life=nudged(stored["new_life"]))
    one, two = make_plan(given_inputs), make_plan(replace(given_inputs, distribution=other))
    for name in ("windows", "scope", "late", "totals"):
        pd.testing.assert_frame_equal(one.frames()[name], two.frames()[name], check_exact=True)


def test_rounded_money_adds_up_to_the_same_in_any_order_and_accepted_chances_stay():
    rng = np.random.default_rng(1)
    amounts = rounded.money(rng.uniform(0, 1e5, 500))
    lost = amounts * rounded.days(rng.uniform(0, 60, 500))
    for values in (amounts, lost):
        assert len({float(np.cumsum(rng.permutation(values))[-1]) for _ in range(20)}) == 1
    assert rounded.money(690.0) == 690.0
    assert rounded.chances([0.05, 0.049999600001]).tolist() == [0.05, 0.05]
    assert rounded.miles(1234.5678) == 1234.57


def test_a_plan_made_from_a_kept_one_is_that_one_and_a_kept_one_out_of_date_is_left_out():
    given_inputs = inputs(many_points(), sd=0.1)
    plan = make_plan(given_inputs)
    equal_plans(make_plan(replace(given_inputs, kept=plan.scope)), plan)
    gone = plan.scope.assign(job="A | whistle | left | renewed")
    equal_plans(make_plan(replace(given_inputs, kept=gone)), plan)


def test_a_kept_plan_is_matched_by_jobs_and_last_days_of_windows():
    windows = pd.DataFrame({"closes": pd.to_datetime(["2027-03-31", "2028-03-31"])})
    jobs = pd.DataFrame({"job": ["a", "b"]})
    lines = pd.DataFrame(
        {
            "vehicle": ["A", "A", "A", "B"],
            "job": ["b", "a", "b", "c"],
            "closes": pd.to_datetime(["2028-03-31", "2027-03-31", "2026-03-31", "2031-03-31"]),
        }
    )
    assert jobs_kept(lines, "A", jobs, windows).tolist() == [[True, False], [False, True]]
    assert jobs_kept(None, "A", jobs, windows) is None
    assert jobs_kept(lines, "B", jobs, windows) is None  # job c is known no more
    moved = lines.assign(closes=lines["closes"] + pd.Timedelta(days=1))
    assert jobs_kept(moved, "A", jobs, windows) is None


def test_of_two_vehicles_without_a_plan_the_same_is_named_each_time(monkeypatch):
    both = [point("B1", "bushing", 9000.0), {**point("C1", "bushing", 9000.0), "vehicle": "C"}]

    def fails(_inputs, vehicle, *_):
        time.sleep(0.05 if vehicle == "A" else 0.0)
        raise NotPossible(vehicle)

    monkeypatch.setattr(planner, "programme_of", fails)
    frame = pd.DataFrame(both)
    one = inputs(both[:1])
    usage = pd.concat([one.usage, one.usage.assign(vehicle="C")])
    futures = simulate(
        frame.drop(columns=["remaining", "new_life"]), frame[["point", "remaining", "new_life"]], usage,
        as_of=pd.Series({"A": AS_OF, "C": AS_OF}), assumptions=Assumptions(draws=10),
    )  # fmt: skip
    windows = pd.concat([one.windows, one.windows.assign(vehicle="C")])
    with pytest.raises(NotPossible, match=r"^A$"):
        make_plan(replace(one, simulation=futures, windows=windows))
