"""The chance that a matched pair parts: against a Monte Carlo of the paths and against closed forms."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from models.checks.joint_limits import Differences, chance_differs, chance_spread_exceeds, difference_of
from models.checks.pair_outlook import pair_outlook
from models.laws.crossing import crossing_chance

MILES = np.array([5_000.0, 10_000.0, 20_000.0, 40_000.0])


def pair(level, level_var, rate, rate_var, cov, tau2):
    return Differences(*(np.array([float(value)]) for value in (level, level_var, rate, rate_var, cov, tau2)))


def drawn(one, limit, paths=20_000, steps=400, seed=11):
    """First exits of simulated paths; between steps a Brownian bridge tells whether a bound was touched."""
    rng = np.random.default_rng(seed)
    level_sd, rate_sd = np.sqrt(one.level_var[0]), np.sqrt(one.rate_var[0])
    corr = one.level_rate_cov[0] / (level_sd * rate_sd) if level_sd and rate_sd else 0.0
    z = rng.standard_normal((2, paths))
    x = one.level[0] + level_sd * z[0]
    rate = one.rate[0] + rate_sd * (corr * z[0] + np.sqrt(1 - corr**2) * z[1])
    step, left = MILES[-1] / steps, np.where(np.abs(x) >= limit, 0.0, np.inf)
    variance = one.tau2[0] * step
    for k in range(steps):
        before = x
        x = x + rate * step + np.sqrt(variance) * rng.standard_normal(paths)
        near = np.maximum(limit - before, 0) * np.maximum(limit - x, 0)
        far = np.maximum(limit + before, 0) * np.maximum(limit + x, 0)
        touched = rng.random(paths) < np.exp(-2 * near / variance) + np.exp(-2 * far / variance)
        out = (np.abs(x) >= limit) | touched
        left = np.where(np.isinf(left) & out, (k + 1) * step, left)
    return np.array([(left <= miles).mean() for miles in MILES])


@pytest.mark.parametrize(
    ("one", "limit"),
    [
        (pair(0.3, 0.01, 2e-5, 9e-10, 0.0, 1e-5), 1.2),
        (pair(0.0, 0.04, 0.0, 9e-10, 1e-6, 1e-4), 1.2),
        (pair(-0.5, 1e-4, -3e-5, 1e-10, 0.0, 1e-7), 1.2),
        (pair(0.0, 1e-4, 0.0, 1e-14, 0.0, 2e-4), 1.2),
        (pair(0.9, 0.09, 5e-5, 1e-10, 0.0, 1e-6), 1.0),
        (pair(0.2, 0.02, 1e-5, 4e-10, 2e-6, 3e-5), 0.8),
        (pair(0.0, 0.09, 0.0, 9e-10, -8.8e-6, 1e-6), 1.2),  # what is ahead now wears slower
        (pair(0.0, 0.09, 0.0, 9e-10, 8.8e-6, 1e-6), 1.2),
    ],
)
def test_the_chance_is_that_of_drawn_paths(one, limit):
    # 20,000 paths: a standard error of at most 0.0035; steps of 100 miles add less. Four of them and a bit.
    assert chance_differs(one, np.array([limit]), MILES)[0] == pytest.approx(drawn(one, limit), abs=0.016)


def test_with_the_second_bound_far_away_it_is_the_one_sided_closed_form():
    # Level 9 of a band of +-10: the lower bound is never seen, and the distance left is 1.
    expected = [float(crossing_chance(4e-5 * m, 1e-10 * m**2, 1e-5 * m, 1.0)) for m in MILES]
    one = pair(9.0, 0.0, 4e-5, 1e-10, 0.0, 1e-5)
    assert chance_differs(one, np.array([10.0]), MILES)[0] == pytest.approx(np.array(expected), abs=1e-6)


def test_without_drift_it_is_the_reflection_series():
    # Brownian motion from the middle of (-1, 1): P(stay) = sum (-1)^k 4/((2k+1) pi) exp(-(2k+1)^2 pi^2 s/8).
    s = 1e-4 * MILES
    k = np.arange(50)[:, None]
    stay = ((-1.0) ** k * 4 / ((2 * k + 1) * np.pi) * np.exp(-((2 * k + 1) ** 2) * np.pi**2 * s / 8)).sum(
        axis=0
    )
    got = chance_differs(pair(0, 0, 0, 0, 0, 1e-4), np.array([1.0]), MILES)[0]
    assert got == pytest.approx(1 - stay, abs=1e-9)


def test_without_brownian_part_it_is_the_normal_chance_of_the_line():
    # Only the rate is uncertain: out at m when |b m| > L. The least Brownian part moves it little.
    got = chance_differs(pair(0, 0, 0, 1e-10, 0, 0), np.array([1.0]), MILES)[0]
    assert got == pytest.approx(2 * norm.cdf(-1.0 / (1e-5 * MILES)), abs=0.002)


def test_a_pair_already_apart_has_parted():
    assert chance_differs(pair(2.0, 0, 0, 0, 0, 1e-6), np.array([1.0]), MILES)[0].tolist() == [1.0] * 4


@settings(deadline=None, max_examples=50)  # the machine may be busy
@given(
    level=st.floats(-0.9, 0.9),
    rate=st.floats(-1e-4, 1e-4),
    spread=st.floats(0, 1e-4),
    tau2=st.floats(0, 1e-3),
    limit=st.floats(1.0, 3.0),
)
def test_chances_are_chances_and_grow_with_the_miles(level, rate, spread, tau2, limit):
    one = pair(level, 0.01, rate, spread**2, 0.0, tau2)
    chance = chance_differs(one, np.array([limit]), MILES)[0]
    assert (np.diff(chance) >= 0).all()
    assert ((chance >= 0) & (chance <= 1)).all()
    mirrored = chance_differs(pair(-level, 0.01, -rate, spread**2, 0.0, tau2), np.array([limit]), MILES)[0]
    assert mirrored == pytest.approx(chance, abs=1e-6)
    wider = chance_differs(one, np.array([limit * 1.5]), MILES)[0]
    assert (wider <= chance + 1e-6).all()


def state(level, rate, rate_var=1e-9, tau=0.003):
    n = len(level)
    return {
        "level": np.array(level, float),
        "level_var": np.full(n, 0.01),
        "rate": np.array(rate, float),
        "rate_var": np.full(n, rate_var),
        "level_rate_cov": np.zeros(n),
        "tau": np.full(n, tau),
    }


def test_the_spread_of_two_is_their_difference():
    both = state([0.3, 0.0], [2e-5, 0.0])
    one = difference_of(*({k: v[[i]] for k, v in both.items()} for i in (0, 1)))
    expected = chance_differs(one, np.array([1.2]), MILES)[0]
    got = chance_spread_exceeds(both, 1.2, MILES, paths=20_000)
    assert got == pytest.approx(expected, abs=0.02)  # 20,000 paths and steps of 417 miles


def test_more_wheels_spread_sooner():
    two = chance_spread_exceeds(state([0.0] * 2, [1e-5] * 2), 1.2, MILES)
    eight = chance_spread_exceeds(state([0.0] * 8, [1e-5] * 8), 1.2, MILES)
    assert (eight > two).all()


def test_rates_that_go_together_part_less():
    a, b = state([0.0], [1e-5]), state([0.0], [1e-5])
    apart, together = (
        chance_differs(difference_of(a, b, rho), np.array([1.2]), MILES)[0] for rho in (0.0, 0.9)
    )
    assert (together < apart).all()


def wheels(measure, values):
    return pd.DataFrame(
        [
            {
                "point": f"D{axle}{side[0].upper()}",
                "vehicle": "M1",
                "position": f"driver {axle} {side}",
                "matched_set": "M1 drivers",
                "part": "tire",
                "measure": measure,
                "group": "driver",
                "axle": axle,
                "side": side,
                "new_value": 80.0,
            }
            for axle, side in values
        ]
    )


LIMITS = pd.DataFrame(
    [
        ["same axle diameters", "max", 2.38125, "beyond", "law", "49 CFR 230.112(a)"],
        ["coupled diameters", "max", 2.38125, "beyond", "shop", "49 CFR 230.113(k)"],
    ],
    columns=["check", "bound", "limit", "condemned_when", "tier", "source"],
)
HORIZONS = pd.DataFrame({"vehicle": "M1", "label": ["2026", "2028"], "miles": [10_000.0, 40_000.0]})


def run_state(points, levels, rates):
    return pd.DataFrame(
        {"point": points["point"], "level": levels, "rate": rates, "level_var": 0.0001, "rate_var": 1e-12}
        | {"level_rate_cov": 0.0, "tau": 1e-4, "sign": -1.0, "new_value": 80.0}
    )


def test_the_outlook_of_an_axle_doubles_the_thickness():
    # Thickness 79.8 and 79.2: diameters differ by 1.2; rates 1e-5 apart: by another 0.8 over 40,000 miles, to
    # 2.0; the band is 2.38. One rate 4e-5 apart: 1.2 + 3.2 = 4.4, out.
    points = wheels("thickness", [(1, "left"), (1, "right"), (2, "left"), (2, "right")])
    run = run_state(points, [0.2, 0.8, 0.2, 0.8], [1e-5, 2e-5, 1e-5, 5e-5])
    table = pair_outlook(points, run, LIMITS, HORIZONS)
    axles = table[table["check"] == "same axle diameters"].set_index(["position", "label"])
    assert axles.loc[("driver 1", "2026"), "difference"] == pytest.approx(1.2)
    assert axles.loc[("driver 1", "2028"), "chance"] < 0.01
    assert axles.loc[("driver 2", "2026"), "chance"] < 0.05
    assert axles.loc[("driver 2", "2028"), "chance"] > 0.99
    assert set(axles["how"]) == {"from tire thickness, wheel centers taken alike"}
    coupled = table[table["check"] == "coupled diameters"].set_index("label")
    assert coupled.loc["2028", "chance"] > 0.99
    assert coupled.loc["2028", "tier"] == "shop"
    assert len(table) == 2 * 2 + 2


def test_measured_diameters_are_taken_as_they_are():
    points = wheels("diameter", [(1, "left"), (1, "right")])
    table = pair_outlook(points, run_state(points, [0.2, 0.8], [1e-5, 1e-5]), LIMITS, HORIZONS)
    assert table.loc[0, "difference"] == pytest.approx(0.6)
    assert table.loc[0, "how"] == ""


def test_an_axle_and_a_coupled_set_part_sooner_where_worn_wheels_wear_faster():
    # Variance of the difference at 40,000 miles: 2 (0.16 + 80,000 cov + 40,000^2 x 4e-10), cov 7.2e-6 or
    # none: 1.66 or 1.26 mm, against 2.38 allowed.
    points = wheels("diameter", [(1, "left"), (1, "right")])
    run = run_state(points, [0.2, 0.2], [1e-5, 1e-5]).assign(level_var=0.16, rate_var=4e-10)
    for cov, sd in ((0.0, 1.265), (7.2e-6, 1.659)):
        table = pair_outlook(points, run.assign(level_rate_cov=cov), LIMITS, HORIZONS)
        last = table[table["label"] == "2028"].set_index("check")["chance"]
        expected = 2 * norm.sf(2.38125 / sd)
        assert last["same axle diameters"] == pytest.approx(expected, abs=0.01)
        assert last["coupled diameters"] == pytest.approx(expected, abs=0.02)  # 4,000 paths


def test_no_pairs_no_rows():
    points = wheels("diameter", [(1, "left")])
    assert pair_outlook(points, run_state(points, [0.2], [1e-5]), LIMITS, HORIZONS).empty
