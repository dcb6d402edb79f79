"""Findings that are not dimensions: what a note names, and which part is out whatever its miles."""

import time

import pandas as pd
import pytest

from dashboard.services.shop_checks import condemned
from ingest.catalogue import defects
from ingest.catalogue.tables import table_of
from ingest.names.points import spelled
from models.checks.condemned import condemned_points, defects_found

POINTS = pd.DataFrame(
    [
        ("CP1L", "M1", "crank pin", "driver 1 left"),
        ("CP2L", "M1", "crank pin", "driver 2 left"),
        ("CP2R", "M1", "crank pin", "driver 2 right"),
        ("T1L", "M1", "driver tire", "driver 1 left"),
        ("CP1L-other", "M2", "crank pin", "driver 1 left"),
    ],
    columns=["point", "vehicle", "component", "position"],
)
NO_WORK = pd.DataFrame({"point": [], "date": pd.to_datetime([]), "action": []})


def findings(*rows):
    table = pd.DataFrame(rows, columns=["component", "examined", "defective", "note"])
    return table.assign(vehicle="M1", date=pd.Timestamp("2024-02-01"))


def out(*rows, work=NO_WORK):
    return condemned_points(POINTS, findings(*rows), work, defects())


def test_a_cracked_pin_is_out_whatever_its_miles():
    got = out(("crank pin", 8, 1, "MT indication, driver 2 left"))
    assert got["point"].tolist() == ["CP2L"]
    assert got.iloc[0]["kind"] == "crack"
    assert got.iloc[0]["located"]
    assert "230.93" in got.iloc[0]["paragraph"]


def test_a_finding_that_names_no_position_speaks_of_all_of_its_component():
    got = out(("crank pin", 8, 1, "cracked"))
    assert got["point"].tolist() == ["CP1L", "CP2L", "CP2R"]
    assert not got["located"].any()


def test_a_renewal_clears_the_part():
    work = pd.DataFrame({"point": ["CP2L"], "date": [pd.Timestamp("2024-03-01")], "action": ["renewed"]})
    assert out(("crank pin", 8, 1, "cracked, driver 2 left"), work=work).empty
    cut = work.assign(action="cut")
    assert len(out(("crank pin", 8, 1, "cracked, driver 2 left"), work=cut)) == 1
    before = work.assign(date=pd.Timestamp("2023-03-01"))
    assert len(out(("crank pin", 8, 1, "cracked, driver 2 left"), work=before)) == 1


@pytest.mark.parametrize(
    ("component", "note", "kind", "condemns"),
    [
        ("crank pin", "ultrasonic indication at the collar", "crack", True),
        ("driving journal", "run hot, blue", "heat damage", True),
        ("driving journal", "scored", "scoring", False),
        ("driver tire", "loose on its center", "loose fit", True),
        ("driver tire", "shelled", "spalling", False),
        ("equalizer", "broken", "break", True),
        ("main rod", "bent", "bent", True),
        ("crosshead", "something odd", "not named", False),
    ],
)
def test_kinds_are_known_by_their_words(component, note, kind, condemns):
    got = defects_found(findings((component, 2, 1, note)), defects())
    assert got["kind"].tolist() == [kind]
    assert got["condemns"].tolist() == [condemns]


@pytest.mark.parametrize(
    ("component", "law"),
    [
        ("crosshead bushing", False),
        ("knuckle pin", False),
        ("knuckle pin bushing", False),
        ("eccentric rod bushing", False),
        ("reversing shaft bushing", False),
        ("wrist pin", False),
        ("expansion link", False),
        ("combination lever pin", False),
        ("equalizer", True),
        ("Coupling rod bush", False),
        ("Gudgeon pin", False),
        ("Bushes", False),
    ],
)
def test_a_cracked_bushing_or_pin_is_out_whatever_it_belongs_to(component, law):
    points = pd.DataFrame([("P", "M1", component, "left")], columns=list(POINTS))
    told = findings((component, 2, 1, "cracked, left"))
    got = condemned_points(points, told, NO_WORK, defects(), spelled)
    assert got[["point", "kind", "located"]].to_numpy().tolist() == [["P", "crack", True]]
    assert ("230." in got["paragraph"].iloc[0]) == law
    assert law or got["paragraph"].iloc[0] == "common practice, no source"


@pytest.mark.parametrize(
    ("found", "component", "quantity", "is_out"),
    [
        ("axlebox thrust pad", "driving axle", "wheel seat diameter", False),
        ("tire retaining ring", "tire", "thickness", False),
        ("journal box lid", "tender journal", "diameter", False),
        ("journal box lid", "journal", "diameter", False),
        ("firebox crown", "crown brass", "thickness", False),
        ("brake hanger", "hanger", "wear", False),
        ("driver tire", "tender tire", "thickness", False),
        ("tire", "driver tire", "thickness", True),
        ("driver tyres", "tire", "thickness", True),
        ("tire of driver 1 left", "driver tire", "thickness", True),
        ("connecting rod", "main rod back end", "clearance", True),
        ("coupling rods", "side rod bushing", "clearance", True),
        ("wheel center", "driver tire", "thickness", True),
        ("axle", "driving journal", "diameter", True),
        ("tender axle", "tender axle collar", "thickness", True),
    ],
)
def test_a_finding_speaks_of_the_part_that_its_name_ends_in(found, component, quantity, is_out):
    points = pd.DataFrame([("P", "M1", component, "driver 1 left", quantity)], columns=[*POINTS, "quantity"])
    points["limit_source"] = ""
    tables = {"wear_points": points, "findings": findings((found, 2, 1, "cracked")), "work": NO_WORK}
    assert (condemned(tables)["point"].tolist() == ["P"]) == is_out


def test_a_note_of_fifty_kilobytes_is_read_soon():
    begun = time.perf_counter()
    for text in ("1" * 50_000, "1 " * 25_000, "no " * 16_000, "no" + " " * 50_000, "not yet " * 6_000):
        out(("crank pin", 8, 1, text))
    assert time.perf_counter() - begun < 1.0


def test_two_spellings_of_a_component_are_one():
    points = pd.DataFrame([("P", "M1", "side rod bushing", "driver 2 left")], columns=list(POINTS))
    told = findings(("Coupling rod bush", 8, 1, "cracked, driver 2 left"))
    assert condemned_points(points, told, NO_WORK, defects(), spelled)["point"].tolist() == ["P"]
    assert condemned_points(points, told, NO_WORK, defects()).empty


PARTS = sorted({row["component"] for row in table_of("running_gear").to_dict("records")})
TO_THE_INSPECTOR = {"cylinder", "engine truck", "trailing truck"}
"""Where a crack may be let stand or welded: the note is for people to read."""


@pytest.mark.parametrize("component", PARTS)
def test_a_crack_in_any_part_of_the_running_gear_is_known(component):
    got = defects_found(findings((component, 2, 1, "cracked")), defects(), spelled)
    assert got["kind"].tolist() == ["not named" if component in TO_THE_INSPECTOR else "crack"]


def test_a_word_that_is_denied_finds_nothing():
    assert out(("crank pin", 8, 1, "no cracks, one worn oval")).empty
    assert len(out(("crank pin", 8, 1, "cracks, driver 2 left"))) == 1
    got = defects_found(findings(("crank pin", 8, 1, "free of cracks")), defects())
    assert got["kind"].tolist() == ["not named"]


@pytest.mark.parametrize(
    ("defective", "note", "stands"),
    [
        (1, "cracked, renewed", False),
        (2, "cracked, driver 2 left; replaced", False),
        (2, "cracked, 2 renewed", False),
        (2, "cracked, 1 renewed", True),
        (1, "cracked, to be renewed", True),
        (1, "cracked, not renewed", True),
        (1, "cracked, must be replaced before service", True),
        (1, "cracked; renewal ordered", True),
    ],
)
def test_what_a_note_says_was_put_right_condemns_nothing_any_more(defective, note, stands):
    assert (len(out(("crank pin", 8, defective, note))) > 0) == stands


def test_a_finding_without_a_defect_condemns_nothing():
    assert out(("crank pin", 8, 0, "examined for cracks by MT: cracked none")).empty


def test_a_note_may_name_two_kinds():
    got = defects_found(findings(("driving journal", 8, 1, "cracked and scored")), defects())
    assert sorted(got["kind"]) == ["crack", "scoring"]


def test_a_word_is_found_whole_only():
    # "cut" is a kind of journal damage; "cutoff" is not.
    got = defects_found(findings(("driving journal", 8, 1, "after running at short cutoff")), defects())
    assert got["kind"].tolist() == ["not named"]
