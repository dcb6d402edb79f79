"""Many rows put right alike on the command line; batches and their rows listed."""

import json

import pytest
from click.testing import CliRunner, Result

from dashboard.cli import main

POINTS = "point,vehicle,component,quantity,unit,new_value,condemning_limit\nH,A,tire,hollow,in,0,5/16\n"
LOG = "vehicle,date,odometer\nA,2001-01-01,1000\nA,2002-01-01,3000\n"
READINGS = (
    "point,date,value,gauge,observer,note\nH,2001-02-01,0.104,G7,J.D.,cold\nH,2001-03-01,0.110,G7,J.D.,\n"
    "H,2001-04-01,0.113,G8,J.D.,\n"
)


@pytest.fixture
def call(tmp_path):
    """Call milesleft with a store of three readings."""
    files = tmp_path / "files"
    files.mkdir()
    for name, text in {"points": POINTS, "log": LOG, "readings": READINGS}.items():
        (files / f"{name}.csv").write_text(text)

    def caller(*arguments: object) -> Result:
        command, *options = map(str, arguments)
        return CliRunner().invoke(main, [command, "--db", str(tmp_path / "s.duckdb"), *options])

    caller("add", files)
    return caller


def test_a_correction_is_shown_then_stored_then_taken_back(call):
    asked = ("correct", "--gauge", "G7", "--until", "2001-02-28", "--read-high", "4 thou")
    shown = call(*asked).output.splitlines()
    assert shown[0] == "1 row of readings (gauge G7, to 28 Feb 2001): they read 4 thou too high."
    assert shown[2].split() == ["H", "2001-02-01", "0.104", "in", "0.1", "in", "readings.csv,", "row", "2"]
    assert shown[-1].startswith("Nothing was stored.")
    assert call(*asked, "--store").exit_code == 1
    said = call(*asked, "--store", "--reason", "certificate 12").output
    assert "Stored as batch 2; 'milesleft undo 2' takes it back." in said
    listed = call("undo").output
    assert "rows corrected alike: 1 row stored; 1 row taken back" in listed
    assert "gauge G7, to 28 Feb 2001: they read 4 thou too high; why: certificate 12" in listed
    call("undo", 2, "--reason", "another gauge's")
    assert "rows corrected alike: 1 row stored; 1 row taken back; undone by batch 3" in call("undo").output


def test_as_json_it_holds_every_row(call):
    said = json.loads(call("correct", "--json", "--observer", "J.D.", "--set", "observer=J. Dale").output)
    assert (said["batch"], said["rows"], said["changed"]) == (None, 3, 3)
    assert said["corrected"][0]["before"] == "observer J.D."
    assert said["corrected"][0]["row"] == 2


def test_rows_of_a_batch_lead_back_to_their_sheet(call):
    said = call("undo", "--show", 1).output
    assert "readings: 3 rows" in said
    assert [line.split()[-2:] for line in said.splitlines() if "0.104" in line] == [["readings.csv", "2"]]
    rows = json.loads(call("undo", "--show", "--json", 1).output)
    assert rows["batches"][0]["brought"] == 6
    assert rows["rows"]["readings"][0]["observer"] == "J.D."


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        ((), 2, "Say which rows: --gauge, --observer"),
        (("--gauge", "G7", "--read-high", "1 mm", "--read-low", "1 mm"), 2, "not both"),
        (("--gauge", "G7"), 1, "stay as they are"),
        (("--gauge", "nobody's", "--unit", "mm"), 1, "No stored row"),
        (("--gauge", "G7", "--read-low", "4"), 2, "4 thou, 0.1 mm"),
    ],
)
def test_what_cannot_be_corrected_is_said_in_words(call, options, code, words):
    done = call("correct", *options)
    assert done.exit_code == code
    assert words in done.output + done.stderr
