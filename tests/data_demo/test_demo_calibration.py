"""The forecast of the demo railway against its truth: seed and data are fixed, so the figures are too."""

import numpy as np
import pandas as pd
import pytest

from data_demo import generate
from ingest.store import Store


@pytest.fixture(scope="module")
def judged(demo_store):
    """Forecasts beside the truth. A limit that was passed before the last day is 0 miles away."""
    store = Store(demo_store)
    forecast = store.read_run(store.runs("forecast")["run_id"].iloc[0], "forecast")
    truth = pd.read_csv(generate.HERE / "truth" / "life_in_service.csv")
    both = forecast.merge(truth, on="point", validate="one_to_one")
    assert len(both) == 500
    forecast = both[both["miles_p50"].notna()]
    return forecast.assign(true=forecast["remaining_miles"].clip(lower=0))


def cover(judged, low, high):
    return float(((judged["true"] >= judged[low]) & (judged["true"] <= judged[high])).mean())


def test_nearly_all_are_forecast(judged):
    assert len(judged) >= 490


def test_the_80_percent_interval_covers_70_to_90_percent(judged):
    assert 0.70 <= cover(judged, "miles_p10", "miles_p90") <= 0.90


def test_neither_engine_is_far_off_alone(judged):
    # Points of an axle wear together, so 250 of them weigh like fewer: bounds wider than for both.
    for _, rows in judged.groupby("vehicle"):
        assert 0.65 <= cover(rows, "miles_p10", "miles_p90") <= 0.95


def test_the_careful_figure_is_careful(judged):
    """At most about 1 in 20 gets fewer miles than the 5 % figure."""
    assert (judged["true"] < judged["miles_p05"]).mean() <= 0.10


def test_half_get_more_than_the_50_percent_figure(judged):
    assert 0.35 <= (judged["true"] > judged["miles_p50"]).mean() <= 0.65


def test_what_is_truly_past_its_limit_is_not_called_fine(judged):
    past = judged[judged["remaining_miles"] < 0]
    assert len(past) >= 5
    # Each has used most of its way; a 5 % figure of more than two seasons (12,000 mi) would call it fine.
    assert (past["miles_p05"] < 12_000).all()


def test_the_forecast_tells_near_from_far(judged):
    """Rank correlation of the 50 % figure with the truth."""
    order = judged[["miles_p50", "true"]].replace(np.inf, np.nan).dropna().rank()
    assert order.corr().iloc[0, 1] > 0.6
