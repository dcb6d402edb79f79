"""Taking the demo railway in: every row that is wrong on purpose is caught, and no other."""

import re
from datetime import date

import pandas as pd
import pytest

from data_demo import generate
from data_demo.draws import uniform
from data_demo.service import WILD
from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.corrections import held_rows
from ingest.verdicts.report import ACCEPTED, ALREADY_KNOWN

WRONG = pd.read_csv(generate.HERE / "truth" / "wrong_rows.csv")


@pytest.fixture(scope="module")
def taken(tmp_path_factory, demo_folder):
    store = Store(tmp_path_factory.mktemp("taken") / "demo.duckdb")
    return store, add_files(store, [demo_folder])


@pytest.fixture(scope="module")
def verdicts(taken):
    return taken[1].verdicts.merge(WRONG, on=["file", "row"], how="outer", suffixes=("", "_expected"))


def test_every_sheet_is_known_and_every_heading_used(taken):
    report = taken[1]
    assert report.not_read == ()
    assert (report.files["not_used"] == "").all()
    assert report.files["rows"].sum() == len(report.verdicts)


@pytest.mark.parametrize("kind", sorted(WRONG["kind"].unique()))
def test_wrong_rows_of_each_kind_are_caught(verdicts, kind):
    rows = verdicts[verdicts["kind"] == kind]
    missed = rows[rows["verdict"] != rows["verdict_expected"]]
    assert missed[["file", "row", "verdict", "reasons"]].to_dict("records") == []


def test_no_other_row_is_held_back(verdicts):
    others = verdicts[verdicts["kind"].isna() & (verdicts["verdict"] != ACCEPTED)]
    others = others[~others["reasons"].str.contains("question ")]
    assert others[["file", "row", "reasons"]].to_dict("records") == []


def test_a_reading_is_asked_about_where_it_or_its_neighbor_is_misread_or_a_renewal_is_not_on_record(taken):
    """The generator knows which readings are misread by far, and which rows of work are held back."""
    store = taken[0]
    held = held_rows(store)
    asked = held[(held["table"] == "readings") & held["why"].str.contains("question (?:renewal|value)")]
    assert 0 < len(asked) < len(store.read("readings")) / 500
    readings, work = (
        store.read("readings"),
        held[held["table"] == "work"]["cells"].map(lambda c: c.get("point")),
    )
    for why in asked["why"]:
        point = re.search(r"at (\S+) is nearer|: (\S+) on [0-9-]{10}: ", why)
        point = point[1] or point[2]
        days = [
            re.search(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", why)[0],
            *readings[readings["point"] == point]["date"].astype(str),
        ]
        wild = [day for day in days if uniform(point, date.fromisoformat(day[:10]), False, "wild") < WILD]
        assert wild or point in set(work), why


def test_every_held_back_row_says_why(verdicts):
    held = verdicts[verdicts["verdict"] == "held back"]
    assert held["reasons"].str.contains(": ").all()


def test_the_same_again_changes_nothing(taken, demo_folder):
    store, _ = taken
    version = store.version()
    again = add_files(store, [demo_folder])
    assert store.version() == version
    assert again.count(ALREADY_KNOWN) == len(again.verdicts)


def test_readings_without_an_odometer_get_one_and_are_marked(taken):
    readings = taken[0].read("readings")
    assert readings["odometer"].notna().all()
    share = readings["odometer_source"].value_counts(normalize=True)
    assert 0.2 < share["interpolated"] < 0.7


def test_the_replaced_odometer_counts_on(taken):
    log = taken[0].read("mileage").query("vehicle == 'Hobnail'").sort_values("date")
    assert (log["odometer"].diff().dropna() >= 0).all()
    # One count from 655,120 mi; the last figure is that of the simulated running, to the rounding of a mile.
    from data_demo.traffic import ENGINES, run

    assert log["odometer"].iloc[-1] == pytest.approx(run(ENGINES[1]).odometer[-1], abs=1.0)
