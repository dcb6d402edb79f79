"""From an arrangement to the sheet of wear points: nothing missing, nothing invented, and it loads."""

import pandas as pd
import pytest

from ingest.catalogue import limits, own_limits, part_and_measure, table_of
from ingest.catalogue.running_gear import Vehicle, wear_points
from ingest.errors import UserError, WrongUsage
from ingest.names.arrangement import parse_arrangement
from ingest.names.positions import read_position
from ingest.schema import TABLES
from ingest.store import Store
from ingest.verdicts.add import add_files

FACTS = {
    "axle_load_lb": 52_000,
    "center_in": 63,
    "gauge": "standard",
    "main_axle": 2,
    "truck_center": "swing",
    "tender_axle_load_lb": 38_000,
}


def vehicle(arrangement="4-8-2", **changes):
    stated = {"tender": (2, 2), "limit_set": "us-cfr-230", "facts": FACTS} | changes
    return Vehicle("M1", parse_arrangement(arrangement), **stated)


@pytest.fixture(scope="module")
def sheet():
    return wear_points(vehicle())


def test_the_sheet_has_the_public_columns(sheet):
    assert sheet.columns.tolist() == list(TABLES["wear_points"].public)
    assert sheet["point"].is_unique


def count(sheet, component, quantity):
    return int(((sheet["component"] == component) & (sheet["quantity"] == quantity)).sum())


@pytest.mark.parametrize(
    ("component", "quantity", "number"),
    [
        ("driver tire", "tread hollow", 8),
        ("driving journal", "diameter", 8),
        ("crown brass", "thickness", 8),  # two driving boxes an axle, eight on four coupled axles
        ("hub liner", "thickness", 8),
        ("shoe", "thickness", 8),
        ("wedge", "thickness", 8),
        ("crank pin", "diameter", 8),
        ("side rod bushing", "clearance", 8),
        ("side rod", "bore centers", 6),  # three gaps a side
        ("driving axle", "axle centers", 6),
        ("knuckle pin", "diameter", 4),  # beside the pins of the two middle drivers
        ("main rod back end", "clearance", 2),
        ("crosshead", "vertical clearance", 2),
        ("front spring hanger pin", "clearance", 8),
        ("equalizer pin", "clearance", 6),
        ("link trunnion", "clearance", 2),
        ("engine truck wheel", "tread hollow", 4),
        ("trailing truck wheel", "rim thickness", 2),
        ("tender wheel", "flange thickness", 8),
        ("tender truck center plate", "engagement", 2),
        ("drawbar pin", "diameter", 1),
        ("driver wheelset", "back to back", 4),
    ],
)
def test_every_part_is_there_as_often_as_on_the_engine(sheet, component, quantity, number):
    # Counts: the arrangement; one each of a pair of boxes, pins, rods a side: common practice, no source.
    assert count(sheet, component, quantity) == number


def row(sheet, point):
    return sheet.set_index("point").loc[point]


def test_limits_are_filled_where_the_law_has_them(sheet):
    assert row(sheet, "M1-D1L-HOLLOW")["condemning_limit"] == 5 / 16
    assert row(sheet, "M1-D1L-TIRE")["condemning_limit"] == 1 + 13 / 16
    assert row(sheet, "M1-D1L-TIRE")["condemned_when"] == "beyond"
    assert "axle load over 50,000 to 55,000 lb" in row(sheet, "M1-D1L-TIRE")["limit_source"]
    assert row(sheet, "M1-T3R-JOURNAL")["condemning_limit"] == 5.0
    assert row(sheet, "M1-D2L-SIDEROD")["condemning_limit"] == 5 / 32  # the main axle
    assert row(sheet, "M1-D1L-SIDEROD")["condemning_limit"] == 3 / 16
    assert "49 CFR 230.96(g)" in row(sheet, "M1-D1L-SIDEROD")["limit_source"]
    assert not sheet["limit_source"].str.contains("not read in the text").any()


def test_what_the_law_leaves_open_is_empty_and_says_whose_it_is(sheet):
    shoe = row(sheet, "M1-D1L-SHOE")
    assert pd.isna(shoe["condemning_limit"])
    assert "the railway sets its own limit" in shoe["limit_source"]
    journal = row(sheet, "M1-D1L-JOURNAL")
    assert pd.isna(journal["condemning_limit"])
    assert "original dimension, which is not known" in journal["limit_source"]


def test_the_railways_own_figures_are_laid_on_top():
    mine = own_limits(
        pd.DataFrame(
            [
                ["driving journal", "diameter", "", "10", "in", "new", ""],
                ["shoe", "thickness", "min", "1/2", "in", "condemning", "shop order 7"],
                ["driver tire", "thickness", "min", "2 1/4", "in", "shop", ""],
                ["tire", "tread hollow", "max", "3/16", "in", "condemning", ""],
            ],
            columns=["component", "quantity", "bound", "value", "unit", "tier", "source"],
        ),
        "in",
    )
    sheet = wear_points(vehicle(), mine)
    assert row(sheet, "M1-D1L-JOURNAL")[["new_value", "condemning_limit"]].tolist() == [10.0, 9.25]
    assert row(sheet, "M1-D2L-JOURNAL")["condemning_limit"] == 9.5  # the main axle may lose 1/2 in only
    assert row(sheet, "M1-D1L-SHOE")["limit_source"] == "the railway's own limit: shop order 7"
    assert row(sheet, "M1-D1L-TIRE")["shop_limit"] == 2.25
    hollow = row(sheet, "M1-D1L-HOLLOW")
    assert hollow["condemning_limit"] == 3 / 16
    assert "stricter than 49 CFR 230.113(h)" in hollow["limit_source"]


def test_positions_are_the_canonical_ones(sheet):
    for position in set(sheet["position"]) - {"drawbar"}:
        assert read_position(position).words == position


def test_tires_that_are_turned_together_share_a_set(sheet):
    drivers = sheet[(sheet["component"] == "driver tire")]
    assert set(drivers["matched_set"]) == {"M1 drivers"}
    truck = sheet[sheet["component"] == "engine truck wheel"]
    assert set(truck["matched_set"]) == {"M1 engine truck 1", "M1 engine truck 2"}


def test_articulated_engines_have_a_set_and_cylinders_a_group():
    sheet = wear_points(vehicle("2-6-6-4", tender=(), facts={}))
    assert set(sheet.loc[sheet["component"] == "driver tire", "matched_set"]) == {
        "M1 drivers 1",
        "M1 drivers 2",
    }
    assert count(sheet, "crosshead", "vertical clearance") == 4
    gaps = set(sheet.loc[sheet["quantity"] == "bore centers", "position"])
    assert "driver 3-4 left" not in gaps  # no rod joins the two engines
    assert {"driver 1-2 left", "driver 4-5 left"} <= gaps


def test_the_main_axle_is_counted_within_its_group():
    sheet = wear_points(vehicle("2-6-6-4", tender=(), facts={"main_axle": 3}))
    source = sheet.set_index("point")["limit_source"]
    assert "(main axle)" in source["M1-D3L-SIDEROD"]
    assert "(main axle)" in source["M1-D6L-SIDEROD"]
    assert "(not the main axle)" in source["M1-D5L-SIDEROD"]


def test_a_single_driver_has_no_side_rods():
    sheet = wear_points(vehicle("4-2-2", tender=(3,), facts={}))
    assert count(sheet, "side rod bushing", "clearance") == 0
    assert count(sheet, "crank pin", "diameter") == 2


def test_a_tank_engine_has_no_tender_and_a_tender_may_stand_alone():
    tank = wear_points(vehicle("0-6-0T", tender=(), facts={}))
    assert not tank["component"].str.contains("tender|drawbar").any()
    alone = wear_points(Vehicle("T9", None, (3,), "us-cfr-230", fixed_tender=True))
    assert set(alone["position"].str.split().str[0]) == {"tender"}
    assert count(alone, "tender truck center plate", "engagement") == 0


def test_plain_tires_have_no_flange_and_roller_bearings_no_brass():
    sheet = wear_points(vehicle(plain=(2,), roller=("engine truck",)))
    flanges = sheet[sheet["quantity"] == "flange thickness"]["position"]
    assert "driver 2 left" not in set(flanges)
    assert "driver 1 left" in set(flanges)
    assert count(sheet, "engine truck journal", "diameter") == 0
    assert count(sheet, "driving journal", "diameter") == 8


def test_inside_cylinders_have_their_gear():
    sheet = wear_points(vehicle("4-6-0", inside=1, facts={}))
    crossheads = sheet[(sheet["component"] == "crosshead") & (sheet["quantity"] == "vertical clearance")]
    assert crossheads["position"].tolist() == ["left", "right", "inside"]


@pytest.mark.parametrize("gear", ["walschaerts", "baker", "stephenson", "other"])
def test_valve_gears_differ(gear):
    sheet = wear_points(vehicle(valve_gear=gear))
    assert (count(sheet, "link trunnion", "clearance") > 0) == (gear == "walschaerts")
    assert (count(sheet, "bell crank pin", "clearance") > 0) == (gear == "baker")
    assert (count(sheet, "rocker arm pin", "clearance") > 0) == (gear == "stephenson")


def test_the_metric_set_is_in_millimeters_and_cites_no_american_rule():
    sheet = wear_points(vehicle("4-6-2", limit_set="de-ebo", facts={"wheel_mm": 1500, "service": "domestic"}))
    assert set(sheet["unit"]) == {"mm"}
    assert not sheet["limit_source"].str.contains("CFR").any()
    assert row(sheet, "M1-D1L-FLANGE")["condemning_limit"] == 20
    assert row(sheet, "M1-L-CYLINDER")[["shop_limit", "condemning_limit"]].tolist() == [0.6, 2.0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"facts": {"main_axle": "second"}}, "main_axle: 'second' is not a number"),
        ({"facts": {"main_axle": 5}}, "main axle 5: expected the number of a driver, 1 to 4"),
        ({"plain": (9,)}, "plain tires on driver 9: expected 1 to 4"),
        ({"limit_set": "uk"}, "limit set 'uk' is not known"),
    ],
)
def test_what_does_not_fit_the_engine_is_refused(changes, words):
    with pytest.raises(UserError, match=words):
        wear_points(vehicle(**changes))


def test_a_vehicle_without_axles_is_refused():
    with pytest.raises(WrongUsage, match="has no axle"):
        wear_points(Vehicle("X", None))


def test_the_catalogue_knows_every_part_of_the_sheet_that_it_speaks_of():
    spoken = {(part, r.quantity) for r in limits().itertuples() for part in r.component.split("|")}
    for template in table_of("running_gear").to_dict("records"):
        named = (template["part"], template["measure"])
        if named in spoken:
            assert part_and_measure(template["component"], template["quantity"]) == named


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_the_sheet_loads_as_it_is_written(sheet, tmp_path, ending):
    path = tmp_path / f"sheet.{ending}"
    sheet.to_csv(path, index=False) if ending == "csv" else sheet.to_excel(path, index=False)
    (tmp_path / "vehicles.csv").write_text("vehicle,arrangement\nM1,4-8-2\n", encoding="utf-8")
    store = Store(tmp_path / "s.duckdb")
    report = add_files(store, [path, tmp_path / "vehicles.csv"])
    assert report.held_back.empty, report.held_back.to_string()
    stored = store.read("wear_points").set_index("point").loc[sheet["point"]]
    for column in ("new_value", "condemning_limit"):
        wanted = sheet[column].astype(float).to_numpy() * 25.4
        assert stored[column].to_numpy() == pytest.approx(wanted, nan_ok=True, abs=1e-9)
    assert (stored["limit_source"].to_numpy() == sheet["limit_source"].to_numpy()).all()
    assert (stored["position"].to_numpy() == sheet["position"].to_numpy()).all()
