"""Trains given to engines: the weakest is spared, and nothing costs more than before."""

from itertools import product

import numpy as np
import pandas as pd
import pytest
from fleets.planned_engines import railway

from ingest.errors import NotPossible
from models.plan.rules import Rules
from models.trips.share import EngineSeason, engine_season, given_out, usage_as_given

RNG = np.random.default_rng(4)
WEAK = EngineSeason("Alder", np.sort(RNG.uniform(500, 4000, 400)), 0.8, 14_000.0)
STRONG = EngineSeason("Birch", np.sort(RNG.uniform(3000, 9000, 400)), 1.1, 14_000.0)


def trips_of(days, able="", vehicle="Alder", miles=40.0):
    date = pd.date_range("2027-05-01", periods=days, freq="D").astype("datetime64[us]")
    frame = pd.DataFrame({"date": date, "train": "T1", "engines_able": able, "vehicle": vehicle})
    return frame.assign(miles=miles, load="5 coaches", note="")


def test_the_weak_engine_is_spared_at_the_same_service():
    trips = pd.concat([trips_of(60), trips_of(60, vehicle="Birch").assign(train="T2")], ignore_index=True)
    trips.loc[trips["train"] == "T2", "date"] += pd.Timedelta(days=100)
    share = given_out(trips, [WEAK, STRONG])
    engines = share.engines.set_index("vehicle")
    assert share.given["miles"].sum() == trips["miles"].sum()
    assert share.cost < share.cost_before
    assert engines["chance"].sum() < engines["chance_before"].sum()
    assert engines.loc["Alder", "miles"] < engines.loc["Alder", "miles_before"]
    again = given_out(trips.sample(frac=1.0, random_state=1), [WEAK, STRONG])
    pd.testing.assert_frame_equal(again.given, share.given)


def test_small_seasons_are_given_out_as_all_choices_say():
    for seed in range(6):
        rng = np.random.default_rng(seed)
        engines = [
            EngineSeason(name, np.sort(rng.uniform(100, 900, 60)), rng.uniform(0.5, 2), 3000.0)
            for name in ("A", "B")
        ]
        trips = trips_of(8, vehicle="A").assign(miles=rng.uniform(20, 120, 8))
        trips.loc[:1, "engines_able"] = "A"
        best = np.inf
        for choice in product([0, 1], repeat=8):
            if choice[0] or choice[1]:
                continue
            run = np.bincount(choice, trips["miles"], minlength=2)
            best = min(best, sum(engine.cost(m) for engine, m in zip(engines, run, strict=True)))
        share = given_out(trips, engines)
        assert best - 1e-9 <= share.cost <= 1.02 * best
        assert share.given["vehicle"].head(2).tolist() == ["A", "A"]


def test_an_engine_takes_one_train_a_day_that_it_is_able_to_take():
    double = pd.concat([trips_of(5), trips_of(5).assign(train="T2", engines_able="Birch; Cedar")])
    share = given_out(double, [WEAK, STRONG])
    assert not share.given.duplicated(["date", "vehicle"]).any()
    assert set(share.given.loc[share.given["train"] == "T2", "vehicle"]) == {"Birch"}
    assert np.isnan(share.cost_before)  # one engine had two trains on a day
    with pytest.raises(NotPossible, match="no engine is left for T1 on 2027-05-01"):
        given_out(trips_of(1, able="Cedar"), [WEAK, STRONG])


def test_running_follows_the_trains():
    month = pd.to_datetime(["2027-05-01", "2027-05-01"]).astype("datetime64[us]")
    usage = pd.DataFrame({"vehicle": ["Alder", "Birch"], "month": month, "miles_planned": [500.0, 100.0]})
    usage["miles_sd"] = [50.0, np.nan]
    given = given_out(trips_of(3), [WEAK, STRONG]).given.assign(vehicle=["Birch", "Alder", "Birch"])
    after = usage_as_given(usage, given).set_index("vehicle")["miles_planned"]
    assert after.to_dict() == {"Alder": 420.0, "Birch": 180.0}
    assert after.sum() == usage["miles_planned"].sum()


def test_a_season_is_that_of_the_futures():
    inputs = railway(6)
    names = inputs.simulation.points["point"].tolist()
    rules = Rules(risk=0.5, stop_risk=0.1)
    old = engine_season(inputs.simulation, "A", [], dict.fromkeys(names, 600.0), rules)
    new = engine_season(inputs.simulation, "A", names, {}, rules)
    assert new.chance(3000.0) < old.chance(3000.0)
    assert old.per_mile == pytest.approx(
        sum(600.0 / np.median(inputs.simulation.next_life[:, k, 0]) for k in range(len(names)))
    )
    assert new.per_mile == 0.0  # whatever comes out next wears for nothing
    direct = (inputs.simulation.remaining.min(axis=1) <= 3000.0).mean()
    assert old.chance(3000.0) == pytest.approx(direct)
