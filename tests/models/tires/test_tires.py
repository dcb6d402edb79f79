"""The turning of tires: a case worked by hand, the closed form without variance, and the draws themselves."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.catalogue import assumptions
from ingest.errors import NotPossible
from models.distribution import PROBABILITIES
from models.laws.crossing import crossing_chance
from models.tires.outlook import compare_policies, turning_outlook
from models.tires.states import MEASURES, TireStates, TurningAssumptions, tire_states
from models.tires.turnings import CAUSES, POLICIES, first_passage, simulate_turnings

LAY_UPS = np.arange(1, 200) * 5000.0
NO_VARIANCE = {"level_var": 0.0, "rate_var": 0.0, "level_rate_cov": 0.0, "tau": 0.0}


def shop(**changes):
    values = {
        "clean_up": 1.0,
        "hollow_share": 0.0,
        "flange_slope": 2.0,
        "flange_restored": 1.0,
        "least_run": 2.0,
        "early_share": 0.5,
        "lag": 2.0,
        "rate_memory": 1.0,
    }
    return TurningAssumptions(**(values | changes))


def states(*tires, **spread):
    """Tires given as (set, axle, {measure: (level, rate, limit)})."""
    n = len(tires)
    arrays = {name: np.full((n, 4), np.nan) for name in ("level", "rate", "limit")}
    for row, (_, _, measures) in enumerate(tires):
        for measure, values in measures.items():
            for name, value in zip(arrays, values, strict=True):
                arrays[name][row, MEASURES.index(measure)] = value
    table = pd.DataFrame(
        {
            "vehicle": "M1",
            "component": "driver tire",
            "position": [
                f"{axle} {'left' if k % 2 == 0 else 'right'}" for k, (_, axle, _) in enumerate(tires)
            ],
            "matched_set": [name for name, _, _ in tires],
            "axle": [axle for _, axle, _ in tires],
            "metal": [f"T{k}" for k in range(n)],
        }
    )
    change = table["matched_set"].ne(table["matched_set"].shift())
    known = np.isfinite(arrays["rate"])
    other = {k: np.where(known, v * np.ones((n, 4)), np.nan) for k, v in (NO_VARIANCE | spread).items()}
    nothing = np.full((n, 4), np.nan)
    return TireStates(
        table, np.append(np.flatnonzero(change), n), **arrays, **other, new_rate=nothing, new_rate_sd=nothing
    )


def endless(case):
    """A forecast that gives every thickness more miles than its turnings leave it."""
    never = np.full(len(PROBABILITIES), 1e9)
    names = case.tires["metal"]
    return pd.DataFrame({"point": names, "remaining": [never] * len(names), "new_life": [never] * len(names)})


def told(case, assumptions, paths=2):
    return turning_outlook(
        case, assumptions, LAY_UPS, endless(case), policy="at the limit", paths=paths
    ).table


# Two wheels of one axle, lengths in mm, rates in mm a mile. All worked by hand below.
LEFT = {
    "tread hollow": (2.0, 0.0002, 8.0),
    "flange thickness": (0.0, 0.00004, 8.0),
    "thickness": (0.0, 0.0002, 30.0),
}
RIGHT = {
    "tread hollow": (0.0, 0.0001, 8.0),
    "flange thickness": (1.0, 0.0001, 8.0),
    "thickness": (1.0, 0.0002, 30.0),
}


def test_a_case_worked_by_hand():
    """Cycle by cycle, with the assumptions of ``shop``: 2 mm of tread for 1 mm of flange, 1 mm to clean up.

    Start. Thickness above the limit: left 30, right 29. Miles to a limit: left hollow (8 - 2)/0.0002 =
    30,000, left flange 8/0.00004 = 200,000, right hollow 80,000, right flange (8 - 1)/0.0001 = 70,000. The
    left hollow calls. First turning at 30,000. Thickness: left 30 - 6 = 24, right 29 - 6 = 23. Flange lost:
    left 1.2, right 1 + 3 = 4. Cuts: left 2 x 1.2 + 1 = 3.4, right 2 x 4 + 1 = 9. Left after: left 20.6, right
    14; both go to 14. Second cycle. Left hollow 8/0.0002 = 40,000; right hollow and flange 80,000. Turning at
    70,000. Thickness 14 - 8 = 6. Flange lost: left 1.6, right 4; cuts 4.2 and 9. 6 - 9 < 2: the right one is
    too thin. Scrap at 70,000, one turning done. (The thickness alone would have lasted to 30,000 + 14/0.0002
    = 100,000.)
    """
    case = states(("axle", "driver 1", LEFT), ("axle", "driver 1", RIGHT))
    paths = simulate_turnings(case, shop(), LAY_UPS, paths=3)
    assert paths.scrap_miles[:, 0] == pytest.approx([70_000.0] * 3, rel=1e-12)
    assert paths.turnings[:, 0].tolist() == [1, 1, 1]
    assert paths.first_turning[:, 0] == pytest.approx([30_000.0] * 3, rel=1e-12)
    assert CAUSES[paths.cause[0, 0]] == "too thin to be turned again"
    assert paths.out_of_season[:, 0].tolist() == [1, 1, 1]


def test_the_same_case_turned_early_at_lay_ups():
    """Lay-ups every 5,000 miles, turned once a wear has passed half its limit.

    The left hollow passes 4 at (4 - 2)/0.0002 = 10,000: a lay-up, turned there. Thickness: left 28, right 27;
    flange lost 0.4 and 2; cuts 1.8 and 5; both go to 22. Then every 4/0.0002 = 20,000 miles: thickness - 4;
    flange lost 0.8 and 2; the right one is cut by 5, so each cycle takes 9: 22, 13, 4, and at the third 4 - 4
    - 5 < 2. Turnings at 10,000, 30,000 and 50,000; before the fourth the thickness, 4 mm, is worn through at
    50,000 + 4/0.0002 = 70,000.
    """
    case = states(("axle", "driver 1", LEFT), ("axle", "driver 1", RIGHT))
    paths = simulate_turnings(case, shop(), LAY_UPS, policy="early at lay-ups", paths=2)
    assert paths.first_turning[:, 0] == pytest.approx([10_000.0] * 2, rel=1e-9)
    assert paths.turnings[:, 0].tolist() == [3, 3]
    assert paths.scrap_miles[:, 0] == pytest.approx([70_000.0] * 2, rel=1e-9)
    assert CAUSES[paths.cause[0, 0]] == "thickness worn to its limit"
    assert paths.out_of_season[:, 0].tolist() == [0, 0]


def test_a_flange_restored_by_half_calls_again_at_half_the_miles():
    """The flange is 8 mm down at 80,000 miles; a turning gives 4 back, for 2 x 4 + 1 = 9 of thickness.

    So it calls again every 40,000: at 120,000 and 160,000. Thickness 30, 21, 12, 3; at 200,000 too thin.
    """
    case = states(("axle", "driver 1", {"flange thickness": (0.0, 1e-4, 8.0), "thickness": (0.0, 0.0, 30.0)}))
    table = told(case, shop(flange_restored=0.5))
    assert table["miles_p50"].iloc[0] == pytest.approx(200_000.0, rel=1e-6)


def test_what_is_too_thin_for_an_early_turning_runs_on_to_the_limit():
    """Half the hollow is passed at 20,000, a lay-up; metal 10 - 1 = 9, a cut of 8.5 would leave 0.5 < 2.

    So it is not turned there but runs on to the limit at 40,000, where it is scrap.
    """
    tire = {"tread hollow": (0.0, 2e-4, 8.0), "thickness": (0.0, 5e-5, 10.0)}
    case = states(("one", "driver 1", tire))
    paths = simulate_turnings(case, shop(clean_up=8.5), LAY_UPS, policy="early at lay-ups", paths=1)
    assert paths.scrap_miles[0, 0] == pytest.approx(40_000.0)
    assert (paths.turnings[0, 0], CAUSES[paths.cause[0, 0]]) == (0, "too thin to be turned again")


def test_one_axle_may_lag_by_its_allowance():
    """Two axles; the second needs a cut of 9, the first of 3; a lag of 2 mm of diameter is 1 mm of radius.

    The hollow of all reaches 8 at 40,000. Thickness 30 - 8 = 22. Flange lost: first axle 1 (cut 3), second 4
    (cut 9). Without a lag all go to 22 - 9 = 13; with it the first stays at 14. At 80,000 the second has 13 -
    8 = 5, and 5 - 9 < 2: the lagging axle ends the set, at 80,000 either way.
    """
    first = {
        "tread hollow": (0.0, 2e-4, 8.0),
        "flange thickness": (0.0, 2.5e-5, 8.0),
        "thickness": (0.0, 2e-4, 30.0),
    }
    second = first | {"flange thickness": (0.0, 1e-4, 8.0)}
    case = states(*[("set", "driver 1", first)] * 2, *[("set", "driver 2", second)] * 2)
    for policy in ("at the limit", "one axle lags"):
        paths = simulate_turnings(case, shop(), LAY_UPS, policy=policy, paths=1)
        assert paths.scrap_miles[0, 0] == pytest.approx(80_000.0)


def test_the_lag_saves_metal_of_the_other_axles():
    """The second axle once needs a deep cut, and never again: what was saved on the first is miles.

    Second axle: flange 6 lost at the start, then none. At 40,000 (hollow of the first) thickness of both 30 -
    8 = 22; cuts: first 1, second 2 x 6 + 1 = 13. Without lag: both 9. With 2 mm of lag: first 10, second 9.
    The second wears its tread at 0.00005 a mile from there on (its own rate all along: 30 - 2 = 28 at 40,000,
    cut 13: 15; the first needs 22 - 1 = 21).
    """
    first = {"tread hollow": (0.0, 0.0002, 8.0), "thickness": (0.0, 0.0002, 30.0)}
    second = {
        "tread hollow": (0.0, 0.0001, 8.0),
        "flange thickness": (6.0, 0.0, 8.0),
        "thickness": (0.0, 0.00005, 30.0),
    }
    case = states(*[("set", "driver 1", first)] * 2, *[("set", "driver 2", second)] * 2)
    # Without lag: 15 for all at 40,000; then 15 - 8 - 1 = 6 at 80,000 (second 15 - 2 - 1 = 12); at 120,000
    # the first has 6 - 8 < 0: worn through at 80,000 + 6/0.0002 = 110,000. With the lag 16, then 7: 115,000.
    plain = simulate_turnings(case, shop(), LAY_UPS, paths=1).scrap_miles[0, 0]
    lagging = simulate_turnings(case, shop(), LAY_UPS, policy="one axle lags", paths=1).scrap_miles[0, 0]
    assert plain == pytest.approx(110_000.0)
    assert lagging == pytest.approx(115_000.0)


@settings(deadline=None)
@given(
    start=st.floats(0.0, 7.0),
    rate=st.floats(2e-5, 5e-4),
    spending=st.floats(1e-6, 4e-4),
    metal=st.floats(5.0, 60.0),
    clean_up=st.floats(1.1, 3.0),
    share=st.floats(0.0, 1.0),
    least=st.floats(0.0, 5.0),
)
def test_without_variance_it_is_the_closed_form(start, rate, spending, metal, clean_up, share, least):
    """One tire, hollow only: n turnings, each of which takes share x H + c, at (H - x0)/b + k H/b miles."""
    limit = 8.0
    tire = {"tread hollow": (start, rate, limit), "thickness": (0.0, spending, metal)}
    case = states(("one", "driver 1", tire))
    paths = simulate_turnings(
        case, shop(clean_up=clean_up, hollow_share=share, least_run=least), LAY_UPS, paths=1
    )
    cut = share * limit + clean_up
    miles = lambda k: (limit - start) / rate + k * limit / rate  # noqa: E731  # of turning k = 0, 1, ...
    left = lambda k: metal - spending * miles(k) - (k + 1) * cut  # noqa: E731  # thickness after it
    k = 0
    while left(k) >= least:
        k += 1
    # Worn through before turning k: the metal after turning k - 1 lasts from there.
    through = (metal - k * cut) / spending
    expected = min(through, miles(k))
    assert paths.scrap_miles[0, 0] == pytest.approx(expected, rel=1e-9)
    assert paths.turnings[0, 0] == k


def test_a_limit_already_reached_calls_at_once():
    tire = {"tread hollow": (9.0, 0.0002, 8.0), "thickness": (0.0, 0.0002, 30.0)}
    paths = simulate_turnings(states(("one", "driver 1", tire)), shop(), LAY_UPS, paths=1)
    assert paths.first_turning[0, 0] == 0.0


def test_a_tire_that_does_not_wear_is_still_running():
    tire = {"tread hollow": (1.0, 0.0, 8.0), "thickness": (0.0, 0.0, 30.0)}
    case = states(("one", "driver 1", tire))
    paths = simulate_turnings(case, shop(), LAY_UPS, paths=2)
    assert np.isinf(paths.scrap_miles).all()
    assert CAUSES[paths.cause[0, 0]] == "still running"
    table = told(case, shop())
    assert np.isinf(table.loc[0, "miles_p50"])
    assert table.loc[0, "chance_running"] == 1.0


@pytest.mark.parametrize("rate", [1e-4, 1e-5, -2e-5, 0.0])
def test_passages_are_drawn_from_the_closed_form(rate):
    # 40,000 draws: a chance is within 0.0025 at one standard error, so 0.01 is four of them.
    room, tau = 5.0, 0.01
    draws = first_passage(
        np.full(40_000, room), np.full(40_000, rate), np.full(40_000, tau), np.random.default_rng(3)
    )
    for miles in (2e4, 5e4, 1e5, 1e6):
        expected = float(crossing_chance(rate * miles, 0.0, tau**2 * miles, room))
        assert (draws <= miles).mean() == pytest.approx(expected, abs=0.01)


def test_passages_of_almost_no_rate_are_as_those_of_none():
    # Single precision must hold where the rate is next to nothing and the mean passage beyond counting.
    draws = [
        first_passage(
            np.full(20_000, 5.0), np.full(20_000, rate), np.full(20_000, 0.01), np.random.default_rng(4)
        )
        for rate in (0.0, 1e-25, 1e-12)
    ]
    for miles in (5e4, 1e6, 1e8):
        expected = float(crossing_chance(0.0, 0.0, 1e-4 * miles, 5.0))
        assert [(one <= miles).mean() for one in draws] == pytest.approx([expected] * 3, abs=0.014)
    at_once = first_passage(np.zeros(100), np.full(100, 1e-4), np.full(100, 0.01), np.random.default_rng(4))
    assert (at_once == 0).all()


def test_the_first_turning_is_the_first_passage_of_the_filtered_state():
    # One tire, hollow only, rate uncertain: the first turning must follow the closed form of the crossing.
    # 20,000 paths: four standard errors of a chance are 0.014.
    tire = {"tread hollow": (1.0, 1e-4, 8.0), "thickness": (0.0, 1e-9, 500.0)}
    case = states(("one", "driver 1", tire), rate_var=(2e-5) ** 2, tau=0.004)
    paths = simulate_turnings(case, shop(), LAY_UPS, paths=20_000)
    for miles in (4e4, 6e4, 8e4, 1.2e5):
        expected = float(crossing_chance(1e-4 * miles, (2e-5 * miles) ** 2, 0.004**2 * miles, 7.0))
        assert (paths.first_turning[:, 0] <= miles).mean() == pytest.approx(expected, abs=0.014)


def test_level_and_rate_are_drawn_together():
    # A high level goes with a low rate: the spread of the first turning must be that of the joint normal.
    tire = {"tread hollow": (2.0, 1e-4, 8.0), "thickness": (0.0, 1e-9, 500.0)}
    case = states(("one", "driver 1", tire), level_var=0.25, rate_var=(1e-5) ** 2, level_rate_cov=-4e-6)
    rng = np.random.default_rng(5)
    draw = rng.multivariate_normal([2.0, 1e-4], [[0.25, -4e-6], [-4e-6, 1e-10]], 20_000)
    expected = (8.0 - draw[:, 0]) / draw[:, 1]
    paths = simulate_turnings(case, shop(), LAY_UPS, paths=20_000)
    for share in (0.1, 0.5, 0.9):
        # A quantile's standard error is below 100 miles here; four of them.
        assert np.quantile(paths.first_turning[:, 0], share) == pytest.approx(
            np.quantile(expected, share), abs=400
        )


def random_case(n_sets=3, **spread):
    tires = []
    for index in range(n_sets):
        for axle in range(2):
            tire = {
                "tread hollow": (1.0, 1e-4 + 1e-5 * index, 8.0),
                "flange thickness": (0.5, 6e-5 + 2e-5 * axle, 8.0),
                "flange height": (1.0, 8e-5, 9.5),
                "thickness": (0.0, 8e-5, 60.0),
            }
            tires += [(f"set {index}", f"axle {index} {axle}", tire)] * 2
    return states(*tires, **({"level_var": 0.05, "rate_var": 4e-10, "tau": 0.003} | spread))


def test_the_futures_of_a_set_do_not_hang_on_the_others():
    alone = simulate_turnings(random_case(1), shop(), LAY_UPS, paths=500)
    among = simulate_turnings(random_case(3), shop(), LAY_UPS, paths=500)
    assert (alone.scrap_miles[:, 0] == among.scrap_miles[:, 0]).all()
    again = simulate_turnings(random_case(1), shop(), LAY_UPS, paths=500)
    assert (alone.scrap_miles == again.scrap_miles).all()


def test_more_metal_never_scraps_sooner_and_a_dirtier_cut_never_later():
    case = random_case()
    base = simulate_turnings(case, shop(), LAY_UPS, paths=2000).scrap_miles
    greedy = simulate_turnings(case, shop(clean_up=3.0), LAY_UPS, paths=2000).scrap_miles
    assert np.median(greedy) < np.median(base)
    assert np.median(
        simulate_turnings(case, shop(flange_slope=1.0), LAY_UPS, paths=2000).scrap_miles
    ) > np.median(base)


def test_the_family_draws_the_next_rate_where_memory_is_short():
    case = states(("one", "driver 1", {"tread hollow": (0.0, 1e-4, 8.0), "thickness": (0.0, 1e-9, 30.5)}))
    taught = TireStates(
        **{
            name: getattr(case, name) for name in case.__dataclass_fields__ if not name.startswith("new_rate")
        },
        new_rate=np.where(np.isfinite(case.rate), 2e-4, np.nan),
        new_rate_sd=np.where(np.isfinite(case.rate), 0.0, np.nan),
    )
    # First profile 8/1e-4 = 80,000; then 8/(0.5 x 1e-4 + 0.5 x 2e-4) = 53,333; then 8/1.75e-4 = 45,714; and
    # on: the rate goes half way to the family's at each turning. 30.5 mm lose 1 a turning down to 2: 28
    # turnings, scrap at the 29th call. With full memory that is 29 x 80,000.
    rate, miles = 1e-4, 0.0
    for _ in range(29):
        miles += 8.0 / rate
        rate = 0.5 * rate + 0.5 * 2e-4
    half = simulate_turnings(taught, shop(rate_memory=0.5), LAY_UPS, paths=1)
    full = simulate_turnings(taught, shop(), LAY_UPS, paths=1)
    assert half.scrap_miles[0, 0] == pytest.approx(miles, rel=1e-6)
    assert full.scrap_miles[0, 0] == pytest.approx(29 * 80_000, rel=1e-6)
    assert full.turnings[0, 0] == 28


def test_policies_are_compared_on_the_same_futures():
    case = random_case()
    table = compare_policies(case, shop(), LAY_UPS, endless(case), paths=1000)
    assert table["policy"].tolist() == [policy for policy in POLICIES for _ in case.sets]
    assert (table.loc[table["policy"] == "at the limit", "gain_p50"] == 0).all()
    shares = table[["chance_worn", "chance_too_thin", "chance_running"]].sum(axis=1)
    assert shares.to_numpy() == pytest.approx(np.ones(len(table)))
    miles = table[["miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95"]].to_numpy()
    assert (np.diff(miles, axis=1) >= 0).all()
    early = table[table["policy"] == "early at lay-ups"]
    at_limit = table[table["policy"] == "at the limit"]
    assert (early["out_of_season"].to_numpy() < at_limit["out_of_season"].to_numpy()).all()


def test_assumptions_come_from_the_catalogue_in_millimeters():
    a = TurningAssumptions.of(assumptions("turning"))
    assert a.clean_up == pytest.approx(25.4 / 16)
    assert a.lag == pytest.approx(3 / 32 * 25.4)
    assert a.hollow_share == 0.0
    with pytest.raises(NotPossible, match="'clean_up'"):
        TurningAssumptions.of(assumptions("turning").iloc[1:])


def frames():
    measures = ["tread hollow", "flange thickness", "thickness"]
    rows = [
        {
            "point": f"{axle}{side}-{measure}",
            "vehicle": "M1",
            "component": "driver tire",
            "position": f"driver {axle} {side}",
            "matched_set": "M1 drivers",
            "part": "tire",
            "measure": measure,
            "role": "metal" if measure == "thickness" else "profile",
            "group": "driver",
            "axle": axle,
        }
        for axle in (1, 2)
        for side in ("left", "right")
        for measure in measures
    ]
    points = pd.DataFrame(rows)
    state = pd.DataFrame(
        {
            "point": points["point"],
            "family": "f",
            "level": 1.0,
            "level_var": 0.1,
            "rate": 1e-4,
            "rate_var": 1e-10,
        }
        | {"level_rate_cov": 0.0, "tau": 0.001, "limit": 8.0}
    )
    return points, state


def test_states_are_gathered_by_tire_and_set():
    points, state = frames()
    got = tire_states(points, state)
    assert got.sets == ["M1 drivers"]
    assert got.set_start.tolist() == [0, 4]
    assert got.level.shape == (4, 4)
    assert np.isnan(got.level[:, MEASURES.index("flange height")]).all()
    family = pd.DataFrame({"family": ["f"], "mean_rate": [2e-4], "rate_sd": [1e-5]})
    taught = tire_states(points, state, family)
    assert taught.new_rate[0, 0] == 2e-4


def test_a_tire_without_a_set_is_a_set_of_its_own_and_one_without_thickness_is_left_out():
    points, state = frames()
    points = points.assign(matched_set="")
    assert tire_states(points, state).sets == [
        f"M1 driver {a} {s}" for a in (1, 2) for s in ("left", "right")
    ]
    bare = points[~((points["axle"] == 1) & (points["measure"] == "thickness"))]
    assert tire_states(bare, state).sets == ["M1 driver 2 left", "M1 driver 2 right"]
    with pytest.raises(NotPossible, match="Measure both on at least one tire"):
        tire_states(points[points["measure"] == "thickness"], state)
