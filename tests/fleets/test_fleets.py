"""Simulated fleets: the truth that they state is the truth of the paths that they show."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fleets.fleet_tables import MM_PER_INCH, fleet_tables, write_fleet
from fleets.simulate import FleetPlan, simulate_fleet
from fleets.wear_paths import GENERATORS, STEPS, PathLaw, first_crossing, simulate_paths
from scipy import stats

EXACT = FleetPlan(gauge=(0.0, 0.0), brownian=(0.0, 0.0))


def test_without_noise_every_reading_lies_on_the_line_to_the_true_crossing():
    fleet = simulate_fleet(np.random.default_rng(3), EXACT)
    a = fleet.arrays
    served = ~a["ended"]
    life = (a["as_of_miles"] + fleet.remaining)[served]
    line = a["limit"][served, None] * a["miles"][served] / life[:, None]
    # The crossing is found on a grid of 1/400 mean life, linear between: exact on a straight line.
    np.testing.assert_allclose(a["wear"][served], line, rtol=1e-9)


@pytest.mark.parametrize(
    "law", [PathLaw(s, g, p) for s, kinds in GENERATORS.items() for g, r in kinds.items() for p in set(r)]
)
def test_an_average_life_reaches_its_limit_at_one_mean_life(law):
    rng = np.random.default_rng(0)
    path = simulate_paths(rng, [law], np.ones(1), np.zeros(1), np.zeros(1))
    # Euler steps of 1/400 of the life, rate growing 25-fold along it in the steepest: 0.4 % off.
    assert first_crossing(rng, path, np.zeros(1))[0] == pytest.approx(1.0, abs=0.005)
    bend = path[0, STEPS // 2] - 0.5
    assert np.sign(round(bend, 6)) == {"straight": 0, "accelerating": -1, "decelerating": 1}[law.shape]


def test_crossings_of_a_brownian_path_follow_the_inverse_gaussian():
    # So strong a Brownian part that a path watched at its grid points alone would cross visibly late.
    n, brownian = 4000, 1.0
    rng = np.random.default_rng(5)
    path = simulate_paths(
        rng, [PathLaw("straight", "straight", 1.0)] * n, np.ones(n), np.full(n, brownian), np.zeros(n)
    )
    crossing = first_crossing(rng, path, np.full(n, brownian))
    shape = 1 / brownian**2  # inverse Gaussian with mean 1 and this shape
    assert stats.kstest(crossing, stats.invgauss(1 / shape, scale=shape).cdf).pvalue > 0.01


def test_parts_in_service_are_survivors():
    fleet = simulate_fleet(np.random.default_rng(1), FleetPlan(stop=(0.9, 1.4), n_families=20))
    a = fleet.arrays
    served = ~a["ended"]
    assert served.sum() == 20 * 8
    assert a["ended"].sum() > 40
    assert (fleet.remaining[served] > 0).all()
    assert np.isnan(fleet.remaining[~served]).all()
    stop = (fleet.families.stop * fleet.families.mean_life)[a["family"]]
    np.testing.assert_allclose((fleet.began + a["as_of_miles"])[served], stop[served])
    assert ((fleet.began + a["as_of_miles"])[~served] < stop[~served]).all()
    first = served & (fleet.number == 1)
    assert (a["as_of_miles"] + fleet.remaining)[first].mean() > fleet.mean_life[first].mean()


def test_readings_are_in_order_between_the_beginning_and_the_last_day():
    fleet = simulate_fleet(np.random.default_rng(2), FleetPlan(shape="mixed"))
    a = fleet.arrays
    count = np.isfinite(a["miles"]).sum(axis=1)
    whole = (fleet.number == 1) & ~a["ended"]
    assert set(count[whole]) == set(range(3, 13))
    steps = np.diff(a["miles"], axis=1)
    assert (steps[np.isfinite(steps)] > 0).all()
    assert (a["miles"] > 0).sum() == count.sum()
    # readings stand on the grid, the last day does not: at most half a grid step beyond
    assert (np.nanmax(a["miles"], axis=1) <= a["as_of_miles"] + fleet.mean_life / STEPS).all()
    assert np.isfinite(a["day"]).sum() == count.sum()


def test_gauge_error_and_wild_readings_have_the_stated_size():
    plan = FleetPlan(
        n_families=200,
        spread=(0.0, 0.0),
        brownian=(0.0, 0.0),
        gauge=(0.01, 0.01),
        wild=0.05,
        gauge_known=True,
    )
    fleet = simulate_fleet(np.random.default_rng(7), plan)
    a = fleet.arrays
    error = (a["wear"] - a["limit"][:, None] * a["miles"] / fleet.mean_life[:, None]) / a["gauge_sd"]
    error = error[np.isfinite(error)]
    wild = np.abs(error) > 4.5
    assert wild.mean() == pytest.approx(0.05, abs=0.008)  # 3 standard errors of 0.05 in 12,000 readings
    assert error[~wild].std() == pytest.approx(1.0, abs=0.03)
    assert np.abs(error[wild]).mean() == pytest.approx(8.0, abs=0.15)


def test_the_same_seed_gives_the_same_fleet_and_another_seed_another():
    first, again, other = (
        simulate_fleet(np.random.default_rng(s), FleetPlan(shape="mixed")) for s in (4, 4, 5)
    )
    for name, values in first.arrays.items():
        np.testing.assert_array_equal(values, again.arrays[name])
    assert not np.array_equal(first.remaining, other.remaining)


def test_later_readings_follow_the_path_beyond_its_limit():
    fleet = simulate_fleet(np.random.default_rng(3), replace(EXACT, spread=(0.4, 0.4)))
    a = fleet.arrays
    served = ~a["ended"]
    life = (a["as_of_miles"] + fleet.remaining)[served]
    line = a["limit"][served, None] * fleet.later_miles[served] / life[:, None]
    np.testing.assert_allclose(fleet.later_wear[served], line, rtol=1e-9)
    assert (fleet.later_wear[served] > a["limit"][served, None]).any()
    assert np.isnan(fleet.later_wear[~served]).all()


def test_tables_carry_the_same_fleet(tmp_path):
    fleet = simulate_fleet(np.random.default_rng(6), FleetPlan(n_families=6, stop=(0.9, 1.2)))
    write_fleet(fleet, tmp_path)
    names = {"vehicles", "wear_points", "mileage", "readings", "work"}
    assert {p.stem for p in tmp_path.glob("*.csv")} == names
    readings = pd.read_csv(tmp_path / "readings.csv")
    points = pd.read_csv(tmp_path / "wear_points.csv").set_index("point")
    assert len(readings) == np.isfinite(fleet.arrays["wear"]).sum()
    point = points.loc[readings["point"]].reset_index()
    share = (readings["value"] - point["new_value"]) / (point["condemning_limit"] - point["new_value"])
    rows, columns = np.nonzero(np.isfinite(fleet.arrays["wear"]))
    known = fleet.arrays["wear"][rows, columns] / fleet.arrays["limit"][rows]
    np.testing.assert_allclose(share, known, atol=1e-5)  # values have six decimals
    log = pd.read_csv(tmp_path / "mileage.csv")
    assert (log.groupby("vehicle")["odometer"].diff().dropna() > 0).all()
    work = pd.read_csv(tmp_path / "work.csv")
    assert len(work) == fleet.arrays["ended"].sum() > 0


def test_inches_and_millimetres_are_told_apart():
    fleet = simulate_fleet(np.random.default_rng(6), FleetPlan(n_families=6))
    points = fleet_tables(fleet)["wear_points"]
    inches = points[points["unit"] == "in"]
    length = (inches["condemning_limit"] - inches["new_value"]).abs() * MM_PER_INCH
    family = inches["vehicle"].str[1:].astype(int) - 1
    np.testing.assert_allclose(length, fleet.families.limit[family], atol=1e-5)
