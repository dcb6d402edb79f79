"""Where a wheelset that has run may be fitted, and what is left in it there."""

import numpy as np
import pandas as pd
import pytest
from fleets.planned_engines import railway
from fleets.swap_worlds import SwapPlan, simulate_swaps

from ingest.catalogue import classify
from models.checks.cross_checks import latest_readings
from models.forecast.run import make_forecast
from models.plan.engine import Chosen, choose, programme_of
from models.plan.rules import Rules
from models.rack.agree import WheelChecks
from models.rack.fits import where_spares_fit
from models.rack.search import _left

DAY = pd.Timestamp("2017-06-01")


@pytest.fixture(scope="module")
def told():
    """Two engines of three axles; in 2017 the wheelset of one axle went to the rack, another one came."""
    tables = dict(simulate_swaps(1, SwapPlan(engines=2, axles=3, exchanges=0)).tables)
    fittings = tables["fittings"].copy()
    fittings.loc[fittings["part_no"] == "WS00", "until"] = DAY
    rows = [("WS00", "", "", DAY, pd.NaT, ""), ("WS99", "engine 0", "driver 1", DAY, pd.NaT, "")]
    moved = pd.DataFrame(rows, columns=fittings.columns)
    tables["fittings"] = pd.concat([fittings, moved], ignore_index=True).astype(
        {"since": "datetime64[us]", "until": "datetime64[us]"}
    )
    parts = tables["parts"]
    tables["parts"] = pd.concat([parts, parts.iloc[:1].assign(part_no="WS99")], ignore_index=True)
    tables["defects"] = pd.DataFrame({"verdict": [], "part_no": []}, dtype=object)
    return tables, make_forecast(tables).frames


def fits(told, checks=None, **changed):
    tables, frames = told
    run = (frames["spares"], frames["distribution"], frames["forecast"])
    return where_spares_fit(tables | changed, *run, checks)


def test_it_fits_every_place_of_its_class_with_all_that_is_measured_on_it(told):
    rows = fits(told)
    places = rows.groupby(["vehicle", "place"])["point"].nunique()
    assert places.to_dict() == {
        (f"engine {engine}", f"driver {axle}"): 6 for engine in (0, 1) for axle in (1, 2, 3)
    }
    assert set(rows["part_no"]) == {"WS00"}
    assert set(rows["depth"]) == {"wheels_out"}
    own = told[1]["spares"].set_index(["position", "quantity"])["last_value"]
    left = rows[rows["place"] == "driver 2"].set_index("point")
    hollow = own["driver 1 left", "tread hollow"]
    row = left.loc["engine 1 driver 2 left tread hollow"]
    assert row["value"] == pytest.approx(hollow)
    assert row["share"] == pytest.approx((8.0 - hollow) / 8.0)  # 0 new, 8 mm the limit
    assert row["miles_p50"] == pytest.approx(min(each[16] for each in rows["left"].iloc[:6]))


def test_another_class_or_a_finding_keeps_it_on_the_rack(told):
    tables, _ = told
    parts = tables["parts"]
    other = parts.assign(**{"class": parts["class"].where(parts["part_no"] == "WS00", "another")})
    assert set(fits(told, parts=other)["place"]) == {"driver 1"}  # where it was itself
    found = pd.DataFrame({"verdict": ["renew"], "part_no": ["WS00"]}, dtype=object)
    assert fits(told, defects=found).empty


@pytest.mark.parametrize(("why", "days", "fitted"), [
    ("worn", 0, False), ("accident", 0, False), ("while_open", 0, True), ("", 0, True), ("worn", 9, True),
])  # fmt: skip
def test_what_came_off_worn_waits_on_the_rack_until_it_is_measured(told, why, days, fitted):
    tables, frames = told
    fittings = tables["fittings"].copy()
    came_off = (fittings["part_no"] == "WS00") & (fittings["vehicle"] != "")
    fittings.loc[came_off, "why"] = why
    spares = frames["spares"].copy()
    spares.loc[spares.index[0], "last_date"] = DAY + pd.Timedelta(days, unit="D")
    rows = fits((tables, frames | {"spares": spares}), fittings=fittings)
    assert ("WS00" in set(rows["part_no"])) == fitted


def test_other_limits_and_what_was_never_read_keep_it_away(told):
    tables, frames = told
    forecast = frames["forecast"].copy()
    strict = forecast["point"] == "engine 1 driver 3 left tread hollow"
    forecast.loc[strict, "condemning_limit"] = 6.0
    rows = fits((tables, frames | {"forecast": forecast}))
    assert ("engine 1", "driver 3") not in set(zip(rows["vehicle"], rows["place"], strict=True))
    assert len(rows) == 5 * 6
    unread = frames["spares"].copy()
    unread["remaining"] = [np.empty(0), *unread["remaining"].iloc[1:]]
    assert fits((tables, frames | {"spares": unread})).empty


def test_wheels_that_would_differ_too_much_are_said_to(told):
    tables, frames = told
    points = tables["wear_points"].copy()
    points.loc[points["quantity"] == "tread hollow", ["quantity", "new_value"]] = ["diameter", 1500.0]
    latest = latest_readings(tables["readings"])
    hollow = latest["point"].str.contains("tread hollow")
    far = latest["point"].str.startswith("engine 1")
    latest.loc[hollow, ["value", "low", "high"]] = 4.0
    latest.loc[hollow & far, ["value", "low", "high"]] = 9.0
    limit = pd.DataFrame(
        [("coupled diameters", "max", 1.0, "mm", "beyond", "shop", "invented", "found")],
        columns=["check", "bound", "limit", "base_unit", "condemned_when", "tier", "source", "status"],
    )
    checks = WheelChecks(classify(points), latest, {"engine 0": limit, "engine 1": limit})
    rows = fits((tables, frames), checks)
    assert rows.groupby("vehicle")["agrees"].agg(set).to_dict() == {"engine 0": {True}, "engine 1": {False}}


def test_tires_that_are_turned_last_by_the_metal_that_is_left():
    inputs = railway(6, 5, draws=200, seed=2)
    rules = Rules(risk=0.25)
    points = inputs.simulation.points
    tire = points["point"] == "A2"
    points = points.assign(role=points["role"].mask(tire, "metal"), turnings_left=np.where(tire, 3.0, np.nan))
    programme = programme_of(inputs, "A", rules)
    lives = programme.lives.__class__(**(vars(programme.lives) | {"points": points}))
    programme = programme.__class__(**(vars(programme) | {"lives": lives}))
    one = Chosen(programme, *choose(programme, None, rules, 1.0, 1e-9, None))
    known = inputs.distribution.set_index("point")["new_life"]
    rows = pd.DataFrame(
        {"point": ["A2", "A5"], "left": [0.9 * known["A2"], 0.9 * known["A5"]], "share": [0.4, 0.4]}
    )
    left = _left(rows, one, inputs)
    np.testing.assert_allclose(left["A2"], 0.4 * known["A2"])
    np.testing.assert_allclose(left["A5"], 0.9 * known["A5"])
