"""One set of futures: drawn from the stored distributions, and the same in any company."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from ingest.errors import NotPossible
from models.distribution import PROBABILITIES, chance_by
from models.futures.hidden_work import CONCENTRATIONS, MEANS, defect_share_draws, share_posterior
from models.futures.simulation import Assumptions, latest_prices, month_reached, price_factor, simulate

FUTURES = Assumptions(draws=4000)


def quantiles(median, spread):
    return np.asarray(median * np.exp(spread * norm.ppf(PROBABILITIES)))


def points(n=4, vehicle="A"):
    return pd.DataFrame(
        {
            "point": [f"{vehicle}{i}" for i in range(n)],
            "vehicle": vehicle,
            "component": ["tire" if i % 2 == 0 else "pin" for i in range(n)],
            "position": [f"driver {i + 1}" for i in range(n)],
            "quantity": "wear",
            "access": "in_place",
            "matched_set": "",
        }
    )


def distribution(frame, median=20_000.0):
    n = len(frame)
    return pd.DataFrame(
        {
            "point": frame["point"],
            "remaining": [quantiles(median * (1 + 0.2 * i), 0.3) for i in range(n)],
            "new_life": [quantiles(2 * median, 0.4)] * n,
        }
    )


def usage(vehicles=("A",), months=48, miles=500.0, sd=50.0):
    month = pd.date_range("2027-01-01", periods=months, freq="MS")
    one = [pd.DataFrame({"vehicle": v, "month": month, "miles": miles, "miles_sd": sd}) for v in vehicles]
    return pd.concat(one, ignore_index=True).assign(service_days=np.nan, source="planned")


def test_draws_have_the_stored_distribution():
    frame = points()
    stored = distribution(frame)
    futures = simulate(frame, stored, usage(), assumptions=FUTURES)
    told = np.stack(stored["remaining"])
    # 4,000 draws: a share of 0.1 to 0.9 is known to 0.024 at three standard deviations.
    for share in (0.1, 0.5, 0.9):
        miles = np.array([np.interp(share, PROBABILITIES, row) for row in told])
        assert (futures.remaining <= miles).mean(axis=0) == pytest.approx(np.full(4, share), abs=0.025)


def test_lives_of_a_family_go_together_and_others_do_not():
    futures = simulate(points(), distribution(points()), usage(), assumptions=FUTURES)
    rank = np.corrcoef(np.argsort(np.argsort(futures.remaining, axis=0), axis=0).T)
    assert rank[0, 2] == pytest.approx(0.29, abs=0.05)  # Spearman of a normal copula of 0.3: 6/pi asin(0.15)
    assert abs(rank[0, 1]) < 0.05


def test_planned_months_deviate_by_themselves():
    futures = simulate(points(), distribution(points()), usage(), assumptions=FUTURES)
    run = np.diff(futures.miles[:, 0, :], axis=1)
    assert abs(np.corrcoef(run[:, 0], run[:, 11])[0, 1]) < 0.06
    assert futures.miles[:, 0, 12].std() == pytest.approx(50.0 * np.sqrt(12), rel=0.05)


def test_miles_of_a_year_deviate_together_by_the_spread_of_seasons_and_years_do_not():
    ahead = usage().assign(season_sd=50.0)
    futures = simulate(points(), distribution(points()), ahead, assumptions=FUTURES)
    run = np.diff(futures.miles[:, 0, :], axis=1)
    assert np.corrcoef(run[:, 0], run[:, 11])[0, 1] == pytest.approx(1.0)
    assert abs(np.corrcoef(run[:, 0], run[:, 12])[0, 1]) < 0.06
    assert futures.miles[:, 0, 12].std() == pytest.approx(600.0, rel=0.05)


def test_a_future_does_not_depend_on_company_or_order():
    few, many = points(2), pd.concat([points(4), points(3, "B")])
    alone = simulate(few, distribution(points(4)), usage(), assumptions=FUTURES)
    both = simulate(many.iloc[::-1], distribution(many), usage(("B", "A")), assumptions=FUTURES)
    order = both.points.index[both.points["point"].isin(few["point"])]
    stored = distribution(many).set_index("point")["remaining"]
    assert both.points.loc[order, "point"].tolist() == few["point"].tolist()
    np.testing.assert_allclose(stored["A0"], distribution(points(4))["remaining"].iloc[0])
    np.testing.assert_allclose(both.remaining[:, order[0]], alone.remaining[:, 0])
    np.testing.assert_allclose(both.miles[:, both.vehicles.index("A")], alone.miles[:, 0])


def test_month_in_which_a_limit_is_reached():
    futures = simulate(
        points(1), distribution(points(1)), usage(sd=0.0, months=6), assumptions=Assumptions(draws=3)
    )
    lives = np.array([[0.0], [499.0], [501.0]])
    assert month_reached(futures, lives, np.array([0]))[:, 0].tolist() == [0, 0, 1]
    assert month_reached(futures, lives, np.array([2]))[:, 0].tolist() == [2, 2, 3]
    assert month_reached(futures, np.full((3, 1), 2500.5), np.array([1]))[:, 0].tolist() == [6, 6, 6]


def test_no_life_ends_in_a_month_without_running():
    run = usage(sd=0.0, months=6)
    run["miles"] = [500.0, 0.0, 0.0, 500.0, 0.0, 500.0]
    futures = simulate(points(1), distribution(points(1)), run, assumptions=Assumptions(draws=1))
    assert month_reached(futures, np.array([[501.0]]), np.array([0]))[0, 0] == 3


def test_chance_from_the_futures_is_the_stored_chance():
    frame = points()
    futures = simulate(frame, distribution(frame), usage(sd=0.0), assumptions=FUTURES)
    told = chance_by(np.stack(distribution(frame)["remaining"]), np.array([12_000.0]))[:, 0]
    month = month_reached(futures, futures.remaining, np.zeros(len(futures.points), dtype=np.int64))
    counted = (month < 24).mean(axis=0)
    assert counted == pytest.approx(told, abs=0.025)


def test_prices_rise_from_the_day_of_the_quotation_and_are_never_carried_back():
    known = Assumptions(draws=2, inflation=0.05, inflation_sd=0.0)
    start = pd.Series({"A": pd.Timestamp("2025-06-01")})
    futures = simulate(points(1), distribution(points(1)), usage(), as_of=start, assumptions=known)
    quoted = pd.Series(pd.to_datetime(["2024-06-01", "2026-06-01", "2027-01-01", None]))
    factor = price_factor(futures, quoted, pd.Timestamp("2026-06-01"))
    # 730 days are 0.9993 of two years; without a date it counts as quoted on the first day
    np.testing.assert_allclose(factor, [[1.1025, 1.0, 1.0, 1.05]] * 2, atol=2e-4)


def test_latest_price_counts_and_quotations_average_to_it():
    costs = pd.DataFrame(
        {
            "component": ["tire", "tire", "pin"],
            "action": ["renewed"] * 3,
            "cost": [100.0, 150.0, 10.0],
            "currency": "USD",
            "labor_hours": 1.0,
            "days_out": 1.0,
            "price_date": pd.to_datetime(["2020-01-01", "2026-01-01", None]),
        }
    )
    assert latest_prices(costs)["cost"].tolist() == [10.0, 150.0]
    futures = simulate(points(), distribution(points()), usage(), costs=costs, assumptions=FUTURES)
    assert futures.quote_factor.mean(axis=0) == pytest.approx([1.0, 1.0], abs=0.01)
    assert futures.quote_factor.std(axis=0) == pytest.approx([0.15, 0.15], abs=0.01)
    dates = pd.Series(pd.to_datetime(["2026-01-01", "2030-01-01"]))
    factor = price_factor(futures, dates, pd.Timestamp("2028-01-01"))
    assert factor[:, 0].mean() == pytest.approx(1.03**2, abs=0.003)
    assert (factor[:, 1] == 1.0).all()  # never carried back


def test_usage_not_known_or_no_forecast_is_said():
    with pytest.raises(NotPossible, match="Usage ahead of A"):
        simulate(points(), distribution(points()), usage(("B",)))
    with pytest.raises(NotPossible, match="none of the wear points has a forecast"):
        simulate(points(), distribution(points(1, "Z")), usage())


def test_defect_shares_learn_from_the_component_and_lean_on_the_others():
    findings = pd.DataFrame(
        {
            "component": ["brass"] * 6 + ["pin"] * 6,
            "examined": [8] * 6 + [12] * 6,
            "defective": [3, 2, 4, 2, 3, 3, 0, 0, 0, 1, 0, 0],
        }
    )
    shares = defect_share_draws(findings, ["brass", "pin", "rod"], 4000, seed=1)
    assert shares[:, 0].mean() == pytest.approx(17 / 48, abs=0.04)
    assert shares[:, 1].mean() == pytest.approx(1 / 72, abs=0.03)
    assert shares[:, 2].std() > shares[:, 0].std()  # nothing is known of rods: wider
    np.testing.assert_array_equal(shares[:, 1], defect_share_draws(findings, ["pin"], 4000, seed=1)[:, 0])


def test_share_posterior_against_the_conjugate_answer():
    """At the largest concentration shares hardly vary: the posterior mean is the conjugate beta's."""
    posterior = share_posterior(np.array([40.0]), np.array([10.0]), 0.2)
    at_most = posterior[:, -1] / posterior[:, -1].sum()  # the largest concentration: shares do not vary
    a, b = 2 * 0.2 + 0.5 + 10, 2 * 0.8 + 0.5 + 30
    assert (at_most * MEANS).sum() == pytest.approx(a / (a + b), abs=0.005)
    assert posterior.shape == (len(MEANS), len(CONCENTRATIONS))
    assert posterior.sum() == pytest.approx(1.0)


def test_tires_of_a_set_whose_turnings_are_known_end_together_and_others_do_not():
    frame = points(4).assign(component="tire", matched_set="drivers")
    known = [1.0, 1.0, 1.0, np.nan]
    more = dict.fromkeys(("turnings_left", "turnings_next", "turnings_next_mean"), known)
    frame = frame.assign(role=["metal", "metal", "profile", "metal"], **more)
    stored = distribution(frame).assign(remaining=[quantiles(20_000.0, 0.3)] * 4)
    futures = simulate(frame, stored, usage(), assumptions=Assumptions(draws=200))
    for lives in (futures.remaining, futures.next_life[:, :, 0]):
        assert (lives[:, 0] == lives[:, 1]).all()
        assert not (lives[:, :1] == lives[:, 2:]).any()
