"""What a turning takes, learned from recorded turnings and the assumption by weight of evidence."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.catalogue import assumptions, classify
from models.tires.learned import learn, recorded_turnings, with_record

MM = 25.4


def points(wheels=2, solid=True):
    thick = "rim thickness" if solid else "thickness"
    component = "tender wheel" if solid else "driver tire"
    rows = [
        (f"{w}-{code}", "A", component, f"tender {w // 2 + 1} {('left', 'right')[w % 2]}", quantity, "tender")
        for w in range(wheels)
        for code, quantity in (("T", thick), ("F", "flange thickness"), ("H", "tread hollow"))
    ]
    names = ["point", "vehicle", "component", "position", "quantity", "matched_set"]
    return classify(pd.DataFrame(rows, columns=names))


def turning(date, before, restored, *, clean_up, slope, hollow=3.0):
    """Work rows of one turning: every wheel of the set comes out as thick as the worst needs."""
    after = min(b - clean_up - slope * r for b, r in zip(before, restored, strict=True))
    rows = []
    for wheel, (thick, flange) in enumerate(zip(before, restored, strict=True)):
        rows += [
            (f"{wheel}-T", date, "cut", thick, after),
            (f"{wheel}-F", date, "renewed", 31.75 - flange, 31.75),
            (f"{wheel}-H", date, "renewed", hollow, 0.0),
        ]
    return rows


def work(*turnings):
    rows = [row for rows in turnings for row in rows]
    frame = pd.DataFrame(rows, columns=["point", "date", "action", "value_before", "value_after"])
    return frame.assign(date=pd.to_datetime(frame["date"]))


def test_one_turning_weighed_by_hand():
    """One wheel, 4 mm of flange back, 6 mm of metal gone; assumed 1/16 in +- 1/32 in and 2.75 +- 1.

    In mm: c = 1.5875 +- 0.79375, s = 2.75 +- 1, cut = c + 4 s = 6 +- 0.79375. Expected from the assumption:
    1.5875 + 11 = 12.5875, its variance 0.63004 + 16 + 0.63004 = 17.26008. The cut is 6.5875 less, so c moves
    by -6.5875 * 0.63004 / 17.26008 = -0.24046 and s by -6.5875 * 4 / 17.26008 = -1.52664; what is left of the
    variance of s is 1 - 16 / 17.26008 = 0.07301.
    """
    rows = turning("2020-01-01", [60.0], [4.0], clean_up=1.0, slope=1.25)
    record = recorded_turnings(work(rows), points(1))
    told = learn(record, assumptions("turning"))
    assert told.value["clean_up"] == pytest.approx(1.5875 - 0.24046, abs=1e-4)
    assert told.value["flange_slope"] == pytest.approx(2.75 - 1.52664, abs=1e-4)
    assert told.weight["flange_slope"] == pytest.approx(1 - 0.07301, abs=1e-4)
    assert told.turnings == 1


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    slope=st.floats(0.5, 3.0),
    wheels=st.integers(1, 8),
    solid=st.booleans(),
)
def test_many_turnings_teach_the_slope_that_made_them(seed, slope, wheels, solid):
    rng = np.random.default_rng(seed)
    turnings = [
        turning(
            f"20{10 + k}-03-01",
            rng.uniform(50, 52, wheels),
            rng.uniform(1.0, 7.0, wheels),
            clean_up=1.5875,
            slope=slope,
        )
        for k in range(12)
    ]
    record = recorded_turnings(work(*turnings), points(wheels, solid))
    told = learn(record, assumptions("turning"))
    assert told.turnings == 12
    assert told.value["flange_slope"] == pytest.approx(slope, abs=0.12)


def test_without_a_record_the_assumption_stands_and_says_so():
    record = recorded_turnings(work(), points())
    table = with_record(assumptions("turning"), record).set_index("assumption")
    usual = assumptions("turning").set_index("assumption")
    assert table["value"].to_dict() == usual["value"].to_dict()
    assert table["source"].to_dict() == usual["source"].to_dict()
    assert (table["turnings"] == 0).all()


def test_the_record_says_that_it_decides_and_what_is_stated_is_not_moved():
    rows = [turning(f"20{10 + k}-03-01", [60.0, 60.5], [4.0, 5.0], clean_up=1.6, slope=0.9) for k in range(5)]
    record = recorded_turnings(work(*rows), points())
    table = with_record(assumptions("turning"), record).set_index("assumption")
    assert table.loc["flange_slope", "value"] == pytest.approx(0.9, abs=0.1)
    assert "the railway's own record, 5 turnings of sets" in table.loc["flange_slope", "source"]
    assert "the rest: assumption, no source" in table.loc["flange_slope", "source"]
    assert table.loc["flange_slope", "assumed"] == 2.75
    assert table.loc["clean_up", "value"] == pytest.approx(1.6 / MM, abs=0.01)  # in its own unit, inches
    own = pd.DataFrame({"assumption": ["flange_slope"], "value": ["2"]})
    stated = with_record(assumptions("turning", own=own), record, ["flange_slope"]).set_index("assumption")
    assert stated.loc["flange_slope", "value"] == 2.0
    assert stated.loc["flange_slope", "source"] == "the railway's own"
    assert np.isnan(stated.loc["flange_slope", "assumed"])


def test_what_is_not_whole_on_record_teaches_nothing():
    whole = turning("2020-01-01", [60.0, 60.0], [4.0, 2.0], clean_up=1.0, slope=1.0)
    rows = work(whole)
    rows.loc[rows["point"] == "0-F", "value_before"] = np.nan  # the ruling wheel's flange
    rows.loc[rows["point"] == "1-T", "value_before"] = np.nan
    assert recorded_turnings(rows, points()).empty
    grown = work([("0-T", "2020-01-01", "cut", 40.0, 41.0), ("0-F", "2020-01-01", "renewed", 28.0, 31.0)])
    assert recorded_turnings(grown, points()).empty
    new = work([("0-T", "2020-01-01", "renewed", 40.0, 63.0), ("0-F", "2020-01-01", "renewed", 28.0, 31.0)])
    assert recorded_turnings(new, points()).empty


def test_a_tire_without_a_flange_on_record_teaches_what_cleans_it():
    bare = points().query("measure != 'flange thickness'")
    rows = [(f"{w}-T", f"20{10 + k}-01-01", "cut", 60.0, 57.0) for k in range(9) for w in (0, 1)]
    told = learn(recorded_turnings(work(rows), bare), assumptions("turning"))
    assert told.value["clean_up"] == pytest.approx(3.0, abs=0.2)
    assert told.value["flange_slope"] == 2.75
    assert told.weight["flange_slope"] == 0.0
