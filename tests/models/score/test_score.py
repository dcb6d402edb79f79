"""The track record: who is right scores best, who is too sure is found out, a family that loses says so."""

import numpy as np
import pytest
from fleets.simulate import FleetPlan, simulate_fleet
from scipy import stats

from models.distribution import PROBABILITIES
from models.forecast.recalibrate import (
    half_widths,
    stretch_factor,
    stretch_factors,
    stretched_readings,
    stretched_remaining,
)
from models.lives.table import Lives
from models.rivals.last_two import LastTwoReadings
from models.rivals.least_squares import LeastSquares
from models.score.rolling import rolling_score
from models.score.tables import (
    BEATS,
    NO_BETTER,
    READING_AT,
    TOO_FEW,
    TOO_SURE,
    Outcomes,
    recalibration,
    scored,
)
from models.score.track_record import Record
from models.wear.estimator import Forecaster

PLAN = FleetPlan(
    n_families=4,
    n_lives=24,
    stop=(1.2, 1.6),
    spread=(0.2, 0.2),
    gauge=(0.02, 0.02),
    brownian=(0.0, 0.0),
    readings=(8, 12),
    gauge_known=True,
)


class PriorLine(Forecaster):
    """Knows the mean and spread of rates of its families and the gauge: the truth of the simulation.

    ``sureness`` below 1 makes its intervals too narrow by that factor.
    """

    def __init__(self, families, spread=0.2, sureness=1.0):
        self.families = families
        self.spread = spread
        self.sureness = sureness

    def fit(self, lives, quantity=None):
        self.lives_ = lives
        # A family is known by its limit: its number differs from day to day.
        family = np.abs(lives.limit[:, None] - self.families.limit).argmin(axis=1)
        mu = lives.limit / self.families.mean_life[family]
        read = np.isfinite(lives.wear)
        x, y = np.where(read, lives.miles, 0.0), np.where(read, lives.wear, 0.0)
        noise = np.nanmax(lives.gauge_sd, axis=1) ** 2
        precision = 1 / (self.spread * mu) ** 2 + (x**2).sum(axis=1) / noise
        self.rate_ = (mu / (self.spread * mu) ** 2 + (x * y).sum(axis=1) / noise) / precision
        self.rate_sd_ = 1 / np.sqrt(precision)
        self.noise_ = noise
        return self

    def wear_paths(self, miles, draws, rng):
        raise AssertionError("what it says is in closed form")

    def predict_readings(self, miles, probabilities):
        score = stats.norm.ppf(probabilities) * self.sureness
        sd = np.sqrt((self.rate_sd_[:, None] * miles) ** 2 + self.noise_[:, None])
        return (self.rate_[:, None] * miles)[..., None] + sd[..., None] * score

    def predict_remaining(self, probabilities):
        score = stats.norm.ppf(probabilities) * self.sureness
        rate = np.maximum(self.rate_[:, None] - self.rate_sd_[:, None] * score, 1e-9)
        return np.maximum(self.lives_.limit[:, None] / rate - self.lives_.as_of_miles[:, None], 0.0)


@pytest.fixture(scope="module")
def fleet():
    return simulate_fleet(np.random.default_rng(21), PLAN)


def record_of(fleet):
    return Record(Lives(**fleet.arrays), fleet.end_day, fleet.whole_miles)


@pytest.fixture(scope="module")
def score(fleet):
    forecasters = {
        "right": PriorLine(fleet.families),
        "too sure": PriorLine(fleet.families, sureness=0.4),
        "straight line": LeastSquares(),
        "ruler": LastTwoReadings(),
    }
    return rolling_score(record_of(fleet), forecasters, own="too sure", reference="straight line")


def rows(table, kind):
    return table[table["kind"] == kind].set_index("forecaster")


def test_who_knows_the_truth_scores_best(score):
    for kind in ("readings", "remaining"):
        crps = rows(score.overall, kind)["crps"]
        assert crps["right"] < crps["too sure"]
        assert crps["right"] < crps["ruler"]
        ratio = rows(score.overall, kind)["crps_ratio"]
        assert ratio["right"] < 1 < ratio["ruler"]
        assert ratio["straight line"] == 1


def test_cover_tells_the_right_from_the_too_sure(score):
    readings = rows(score.overall, "readings")
    # 96 lives, several readings each: three standard errors of 80 % are 12 points at worst.
    assert readings.loc["right", "cover_80"] == pytest.approx(0.80, abs=0.06)
    assert readings.loc["right", "cover_50"] == pytest.approx(0.50, abs=0.08)
    assert readings.loc["right", "cover_90"] == pytest.approx(0.90, abs=0.05)
    assert readings.loc["too sure", "cover_80"] < 0.55


def test_pit_is_flat_for_the_right_and_piled_up_at_the_ends_for_the_too_sure(score):
    overall = score.pit[score.pit["family"] == -1]
    share = overall.pivot_table(index="forecaster", columns="bin", values="share", fill_value=0.0)
    np.testing.assert_allclose(share.sum(axis=1), 1.0)
    assert share.loc["right"].max() < 0.15
    assert share.loc["too sure", [0, 9]].min() > 0.2


def test_ends_expected_match_the_ends_that_came_only_where_the_forecast_is_right(score):
    remaining = rows(score.overall, "remaining")
    right, sure = remaining.loc["right"], remaining.loc["too sure"]
    assert right["reached"] > 60
    assert right["expected"] == pytest.approx(right["reached"], rel=0.2)
    assert sure["expected"] > 1.5 * sure["reached"]


def test_recalibration_brings_the_cover_of_the_too_sure_back(score):
    assert (score.factors["factor"] > 1.5).all()
    assert (score.factors["cover_80_before"] < 0.6).all()
    assert score.factors["cover_80_after"].to_numpy() == pytest.approx(0.82, abs=0.06)


def one_family(life, outcome, own="own"):
    """Readings of one family, forecast as standard normal."""
    q = np.broadcast_to(stats.norm.ppf(READING_AT), (len(life), len(READING_AT)))
    zero = np.zeros(len(life), dtype=int)
    return Outcomes(zero, life, outcome, np.ones(len(life)), zero > 0, {own: q})


def test_the_cover_after_is_what_the_shown_factor_does():
    rng = np.random.default_rng(9)
    life = np.repeat(np.arange(400), 2)
    readings = one_family(life, 2.0 * rng.standard_normal(800))
    row = recalibration(readings, "own", np.zeros(1, dtype=int)).iloc[0]
    away = np.abs(readings.outcome) / stats.norm.ppf(0.9)
    assert row["factor"] == pytest.approx(2.0, rel=0.1)
    assert row["cover_80_before"] == pytest.approx((away <= 1).mean())
    assert row["cover_80_after"] == pytest.approx((away <= row["factor"]).mean())


def test_a_family_of_few_lives_whose_interval_holds_next_to_nothing_is_stretched_and_said_to_be_too_sure():
    """Six lives, a reading of eighteen in its interval: no ten lives are needed to see that."""
    life = np.repeat(np.arange(6), 3)
    outcome = np.where(np.arange(18) == 0, 0.1, 2.5)
    readings = one_family(life, outcome)
    factor = recalibration(readings, "own", np.zeros(1, dtype=int)).iloc[0]
    assert factor["factor"] > 1.5
    readings.quantiles["line"] = readings.quantiles["own"] + 10.0
    nothing = {name: np.empty((0, len(PROBABILITIES))) for name in readings.quantiles}
    none = np.zeros(0)
    remaining = Outcomes(none.astype(int), none.astype(int), none, none, none > 0, nothing)
    table = scored(readings, remaining, "own", "line", key=np.arange(1))
    assert table.loc[table["forecaster"] == "own", "verdict"].iloc[0] == TOO_SURE


def test_a_small_family_is_never_made_surer_and_takes_the_stretch_that_its_quantity_proves():
    sure = one_family(np.arange(9), np.zeros(9))
    assert recalibration(sure, "own", np.zeros(1, dtype=int))["factor"].iloc[0] == 1.0
    # Six families of two lives each prove nothing one by one; together their interval holds nothing.
    scores, life = np.full(12, 2.0), np.arange(12)
    factors = stretch_factors(scores, life, life // 2, np.zeros(6, dtype=int))
    np.testing.assert_allclose(factors, 2.0)
    np.testing.assert_allclose(stretch_factors(scores, life, life // 2, np.arange(6)), 1.0)


def test_the_stretch_counts_the_life_to_come_among_those_seen():
    """Ten lives, outcomes 1.1, 1.2, ... 2.0 half-widths away: nine, 0.8 of eleven, are within 1.9."""
    away = (1.1 + 0.1 * np.arange(10)) * stats.norm.ppf(0.9)
    table = recalibration(one_family(np.arange(10), away), "own", np.zeros(1, dtype=int))
    assert table["factor"][0] == pytest.approx(1.9)


def verdict_on(n, own, line):
    """Our row of the scores of one family: n lives, a reading of 1.0 in each, two forecasts of one value."""
    zero, outcome = np.zeros(n, dtype=int), np.ones(n)
    spread = 0.2 * np.tile(stats.norm.ppf(READING_AT), (n, 1))  # wide enough to hold what comes
    said = {"own": own + spread, "line": line + 0.0 * spread}
    readings = Outcomes(zero, np.arange(n), outcome, outcome, zero > 0, said)
    nothing = {name: np.empty((0, len(PROBABILITIES))) for name in said}
    remaining = Outcomes(zero[:0], zero[:0], outcome[:0], outcome[:0], zero[:0] > 0, nothing)
    table = scored(readings, remaining, "own", "line", key=np.arange(1))
    return table[table["forecaster"] == "own"].iloc[0]


@pytest.mark.parametrize(("n", "verdict"), [(9, TOO_FEW), (10, BEATS)])
def test_nine_readings_are_too_few_for_a_verdict_and_ten_are_not(n, verdict):
    assert verdict_on(n, own=1.1, line=1.5)["verdict"] == verdict


def test_where_the_straight_line_was_never_off_there_is_a_verdict_and_no_ratio():
    row = verdict_on(10, own=1.1, line=1.0)
    assert row["verdict"] == NO_BETTER
    assert np.isnan(row["crps_ratio"])
    assert np.isnan(row["pinball_ratio"])


def test_a_family_that_loses_to_the_straight_line_says_so(fleet):
    forecasters = {"own": LastTwoReadings(), "straight line": LeastSquares()}
    lost = rolling_score(record_of(fleet), forecasters, own="own", reference="straight line").by_family
    assert set(rows(lost, "readings").loc["own", "verdict"]) == {NO_BETTER}
    forecasters = {"own": PriorLine(fleet.families), "straight line": LeastSquares()}
    won = rolling_score(record_of(fleet), forecasters, own="own", reference="straight line").by_family
    assert set(rows(won, "readings").loc["own", "verdict"]) == {BEATS}
    assert set(rows(won, "readings").loc["straight line", "verdict"]) == {""}


def test_a_record_with_nothing_after_any_day_gives_empty_tables(fleet):
    arrays = {**fleet.arrays, "wear": np.full_like(fleet.arrays["wear"], np.nan)}
    record = Record(Lives(**arrays), fleet.end_day, fleet.whole_miles)
    score = rolling_score(record, {"a": LeastSquares()}, own="a", reference="a")
    assert score.overall.empty
    assert score.by_family.empty


def test_half_widths_worked_by_hand():
    low, middle, high = np.array([1.0, 1.0, 1.0]), np.array([2.0, 2.0, 2.0]), np.array([6.0, 6.0, 6.0])
    np.testing.assert_allclose(half_widths(low, middle, high, np.array([4.0, 0.0, 2.0])), [0.5, 2.0, 0.0])


def test_the_stretch_is_the_quantile_of_the_half_widths_and_one_without_proof():
    rng = np.random.default_rng(5)
    life = np.repeat(np.arange(200), 3)
    # Half-widths of a normal outcome judged by intervals half as wide as they should be.
    wide = np.abs(rng.standard_normal(600)) / stats.norm.ppf(0.9) * 2
    assert stretch_factor(wide, life) == pytest.approx(2.0, rel=0.1)
    assert stretch_factor(wide / 2, life) == 1.0
    assert stretch_factor(wide[:6], life[:6]) == 1.0  # two lives prove nothing
    assert stretch_factor(100 * wide, life) == 3.0
    assert stretch_factor(np.full(600, np.nan), life) == 1.0


def test_stretching_moves_quantiles_away_from_their_median():
    q = np.array([[1.0, 2.0, 4.0]])
    np.testing.assert_allclose(stretched_readings(q, np.array([2.0]), np.array([2.0])), [[0.0, 2.0, 6.0]])
    miles = np.array([[0.0, 500.0, 1000.0, 4000.0, np.inf]])
    moved = stretched_remaining(miles, np.array([1000.0]), np.array([2.0]))
    np.testing.assert_allclose(moved, [[0.0, 250.0, 1000.0, 16_000.0, np.inf]])
