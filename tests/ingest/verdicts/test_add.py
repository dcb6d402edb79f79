"""Adding files: verdicts that add up, miles for every reading, nothing twice, nothing overwritten."""

import numpy as np
import pandas as pd
import pytest

from ingest.errors import UnreadableFile
from ingest.store import Store
from ingest.verdicts.add import add_files

HEAD = "point,date,value,unit,odometer,observer\n"


def test_every_row_has_one_verdict_and_the_counts_add_up(add, known):
    report = add(
        readings=HEAD + "HOLLOW,2001-02-01,1/16,,,\nHOLLOW,2001-02-30,1/16,,,\nHOLLOW,2001-02-01,1/16,,,\n"
    )
    assert report.verdicts["verdict"].tolist() == ["accepted", "held back", "already known"]
    assert report.verdicts["row"].tolist() == [2, 3, 4]
    assert report.files[["rows", "accepted", "held_back", "already_known"]].iloc[0].tolist() == [3, 1, 1, 1]


def test_all_tables_in_one_call_whatever_the_order_of_the_files(add, basics, store):
    report = add(
        a_readings=HEAD + "HOLLOW,2001-07-01,0.1,,,\n",
        b=basics["mileage"],
        c=basics["wear_points"],
        d=basics["vehicles"],
    )
    assert report.count("accepted") == len(report.verdicts) == 8
    assert store.version() == 1


def test_the_same_files_again_change_nothing(add, known, store):
    text = HEAD + "HOLLOW,2001-02-01,1/16,,,A\nHOLLOW,2001-02-30,1/16,,,\nNONE,2001-02-01,1,,,\n"
    first = add(readings=text)
    before = store.read("readings"), store.held(), store.version()
    again = add(readings=text)
    assert again.batch is None
    assert again.count("already known") == len(again.verdicts) == 3
    pd.testing.assert_frame_equal(store.read("readings"), before[0])
    pd.testing.assert_frame_equal(store.held(), before[1])
    assert store.version() == before[2] == first.batch


def test_units_come_from_cell_column_and_point_in_that_order(add, known, store):
    add(
        readings=HEAD
        + "HOLLOW,2001-02-01,1/16,,,\nHOLLOW,2001-03-01,2,mm,,\nHOLLOW,2001-04-01,60 thou,in,,\n"
    )
    read = store.read("readings")
    np.testing.assert_allclose(read["value"], [25.4 / 16, 2.0, 0.06 * 25.4], rtol=1e-12)
    assert read["value_text"].tolist() == ["1/16", "2", "60 thou"]
    assert read["unit"].tolist() == ["in", "mm", "thou"]


def test_a_unit_in_the_heading_counts(add, known, store):
    add(readings="point,date,value (mm)\nHOLLOW,2001-02-01,3\n")
    assert store.read("readings")["value"].tolist() == [3.0]


def test_a_reading_without_odometer_takes_it_from_the_log(add, known, store):
    add(readings=HEAD + "HOLLOW,2001-07-01,0.1,,,\nHOLLOW,2001-10-01,0.1,,,\nTHICK,2001-03-01,3.4,,10400,\n")
    read = store.read("readings").set_index(["point", "date"])
    at = read.loc[("HOLLOW", "2001-10-01")]
    assert at["odometer"] == pytest.approx(
        11000 + 1000 * 92 / 184
    )  # days from 1 July to 1 October, to 1 January
    assert at["odometer_source"] == "interpolated"
    # Six months are six lumps of running at most: sd = 1000 sqrt(p (1-p) / (184 / 30.44)).
    assert at["odometer_sd"] == pytest.approx(1000 * np.sqrt(0.25 / (184 / 30.44)), rel=1e-6)
    assert read.loc[("HOLLOW", "2001-07-01"), "odometer_sd"] == 0.0
    assert read.loc[("THICK", "2001-03-01"), "odometer_source"] == "read"


def test_a_later_log_places_readings_anew_and_the_old_version_stays(add, known, store):
    add(readings=HEAD + "HOLLOW,2001-10-01,0.1,,,\n")
    version = store.version()
    add(mileage="vehicle,date,odometer\n410,2001-10-01,11100\n")
    assert store.read("readings")["odometer"].tolist() == [11100.0]
    assert store.read("readings", version)["odometer"].iloc[0] == pytest.approx(11500)


def test_an_odometer_without_unit_is_in_that_of_the_log(add, basics, store):
    log = "vehicle,date,odometer,unit\n410,2001-01-01,16000,km\n410,2002-01-01,19200,km\n"
    add(**basics | {"mileage": log}, readings=HEAD + "HOLLOW,2001-03-01,0.1,,16800,\n")
    assert store.read("readings")["odometer"].iloc[0] == pytest.approx(16800 / 1.609344)
    assert store.read("mileage")["odometer"].tolist() == pytest.approx([16000 / 1.609344, 19200 / 1.609344])


def test_km_and_miles_may_stand_in_one_log(add, basics, store):
    rows = ["410,2001-01-01,10000,mi", "410,2001-07-01,17702.784,km", "410,2002-01-01,12000,"]
    log = "\n".join(["vehicle,date,odometer,unit", *rows])
    add(**basics | {"mileage": log}, readings=HEAD + "HOLLOW,2001-07-15,0.1,,17710,\n")
    assert store.read("mileage")["odometer"].tolist() == pytest.approx([10000, 11000, 12000])
    assert store.read("readings")["odometer"].tolist() == pytest.approx([17710 / 1.609344])


def test_changed_limits_are_a_new_version_of_the_point(add, known, store):
    head = "point,vehicle,component,quantity,unit,new_value,condemning_limit\n"
    report = add(wear_points=head + "HOLLOW,410,driver tire,tread hollow,in,0,1/4\n")
    assert report.count("accepted") == 1
    now, before = store.read("wear_points"), store.read("wear_points", known.batch)
    assert len(now) == len(before) == 3
    assert now.set_index("point").loc["HOLLOW", "condemning_limit"] == pytest.approx(25.4 / 4)
    assert before.set_index("point").loc["HOLLOW", "condemning_limit"] == pytest.approx(25.4 * 5 / 16)


def test_points_without_limit_new_value_or_with_both_equal_are_taken(add, store):
    points = (
        "point,vehicle,component,quantity,unit,new_value,condemning_limit\n"
        "A,1,rod,clearance,thou,8,\nB,1,rod,clearance,thou,,30\nC,1,rod,clearance,thou,30,30\n"
    )
    assert add(wear_points=points).count("accepted") == 3
    assert store.read("wear_points")["condemning_limit"].isna().tolist() == [True, False, False]


def test_a_point_may_be_named_by_vehicle_component_position_and_quantity(add, known, store):
    head = "vehicle,component,position,quantity,date,value\n"
    text = head + "410,Driver Tire,#1 driver L,thickness,2001-02-01,3 7/16\n"
    assert add(readings=text).count("accepted") == 1
    assert store.read("readings")["point"].tolist() == ["THICK"]


def test_several_points_that_fit_are_named_and_the_row_waits(add, known):
    text = "vehicle,component,position,date,value\n410,driver tire,driver 1 left,2001-02-01,3\n"
    reasons = add(readings=text).held_back["reasons"].iloc[0]
    assert "2 wear points fit: HOLLOW, THICK" in reasons


def test_equal_gifts_are_two_gifts_and_the_file_again_is_none(add, store):
    text = "date,amount,currency,kind\n2020-01-01,50,USD,received\n2020-01-01,50,USD,received\n"
    assert add(funds=text).count("accepted") == 2
    assert add(funds=text).count("already known") == 2
    assert add(funds=text + "2020-01-01,50,USD,received\n").count("accepted") == 1
    assert len(store.read("funds")) == 3


def test_a_changed_plan_replaces_the_old_one(add, store):
    add(usage="vehicle,month,miles_planned\n410,2027-05,300\n")
    add(usage="vehicle,month,miles_planned\n410,2027-05,350\n")
    assert store.read("usage")["miles_planned"].tolist() == [350.0]
    assert store.read("usage", 1)["miles_planned"].tolist() == [300.0]


def test_two_readings_of_a_day_within_the_gauge_error_both_stand(add, known, store):
    report = add(readings=HEAD + "HOLLOW,2001-02-01,0.10,,,A\nHOLLOW,2001-02-01,0.11,,,B\n")
    assert report.count("accepted") == 2
    assert len(store.read("readings")) == 2


def test_a_day_of_work_has_a_reading_before_and_one_after(add, known):
    work = "point,date,action,value_before,value_after\nTHICK,2001-02-01,cut,3 1/4,3\n"
    report = add(work=work, readings=HEAD + "THICK,2001-02-01,3 1/4,,,\nTHICK,2001-02-01,3,,,\n")
    assert report.count("accepted") == 3


def test_a_good_file_is_stored_though_another_cannot_be_read(add, known, folder, store):
    (folder / "empty.csv").write_text("")
    (folder / "good.csv").write_text(HEAD + "HOLLOW,2001-02-01,0.1,,,\n")
    report = add_files(store, [folder / "empty.csv", folder / "good.csv"])
    assert report.count("accepted") == 1
    assert [item.file for item in report.not_read] == ["empty.csv"]


def test_nothing_readable_is_an_error_and_makes_no_store(folder, tmp_path):
    (folder / "empty.csv").write_text("")
    path = tmp_path / "none.duckdb"
    with pytest.raises(UnreadableFile, match=r"empty\.csv"):
        add_files(Store(path), [folder])
    assert not path.exists()


def test_a_held_row_that_fits_later_is_released(add, known, store):
    text = HEAD + "HOLLOW,2002-12-01,0.1,,,\n"
    assert add(readings=text).count("held back") == 1
    assert add(mileage="vehicle,date,odometer\n410,2003-01-01,13000\n").no_longer_wait == 1
    assert add(readings=text).count("already known") == 1
    assert store.held()["outcome"].tolist() == ["released"]
    assert add(readings=text).count("already known") == 1


def test_a_file_with_two_versions_of_a_row_changes_nothing_when_it_comes_again(add, store):
    text = "vehicle,name\n1,Curlew\n1,Dunlin\n"
    assert add(vehicles=text).count("held back") == 1
    assert add(vehicles=text).batch is None
    assert store.read("vehicles")["name"].tolist() == ["Curlew"]


def test_an_old_file_beside_the_newer_one_does_not_bring_the_old_row_back(add, store):
    add(vehicles="vehicle,name\n1,Curlew\n")
    add(vehicles="vehicle,name\n1,Dunlin\n")
    text = "vehicle,name\n1,Curlew\n1,Dunlin\n"
    assert add(vehicles=text).count("held back") == 1
    assert store.read("vehicles")["name"].tolist() == ["Dunlin"]
