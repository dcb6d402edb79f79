"""The commands about data, end to end: what they print, what they end with."""

import json
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from dashboard.cli import main
from ingest.layouts.kept import sheet_kind
from ingest.layouts.layout import parse_layout
from ingest.sheets.readers import read_cells
from ingest.store import Store
from ingest.verdicts.layout_advice import keep_layout

POINTS = "point,vehicle,component,quantity,unit,new_value,condemning_limit\nH,A,tire,hollow,in,0,5/16\n"
LOG = "vehicle,date,odometer\nA,2001-01-01,1000\nA,2002-01-01,3000\n"
READINGS = "point,date,value,remark,colour\nH,2001-02-01,1/16,,red\nH,2001-02-30,1/16,,\nH,2001-03-01,3,,\n"


@pytest.fixture
def call(tmp_path):
    """Call milesleft with a store of its own."""

    def caller(*arguments: object) -> Result:
        command, *options = map(str, arguments)
        return CliRunner().invoke(main, [command, "--db", str(tmp_path / "s.duckdb"), *options])

    return caller


@pytest.fixture
def folder(tmp_path) -> Path:
    """Files of one small railway."""
    made = tmp_path / "files"
    made.mkdir()
    for name, text in {"points": POINTS, "log": LOG, "readings": READINGS}.items():
        (made / f"{name}.csv").write_text(text)
    return made


def test_add_prints_counts_reasons_and_what_was_not_used(call, folder):
    done = call("add", folder)
    assert done.exit_code == 0
    lines = done.output.splitlines()
    assert lines[0].split() == ["file", "table", "rows", "accepted", "held", "back", "already", "known"]
    assert "readings.csv  readings        3         1          2              0" in lines
    assert "in all                        6         4          2              0" in lines
    assert "Held back from readings.csv:" in lines
    assert any("row 3: date: '2001-02-30' is 30 Feb 2001" in line for line in lines)
    assert "Columns of readings.csv that were not used: colour" in lines
    assert lines[-1] == "Stored as batch 1."
    assert call("add", folder).output.splitlines()[-1] == "Nothing new: the store is as it was."


def test_the_same_folder_again_is_quiet_about_what_is_known(call, folder):
    call("add", folder)
    again = call("add", folder).output
    assert again == "3 files known already (6 rows), 0 new.\n\nNothing new: the store is as it was.\n"
    (folder / "week.csv").write_text("point,date,value\nH,2001-06-01,5/64\n")
    said = call("add", folder).output
    assert "readings.csv" not in said
    assert "week.csv  readings     1         1          0              0" in said
    assert "3 files known already (6 rows), 1 new." in said
    assert json.loads(call("add", "--json", folder).output)["already_known"] == 7


def test_the_reason_that_rows_share_is_printed_once(call, folder):
    late = "".join(f"H,2003-10-{day:02d},1/16\n" for day in range(1, 8))
    (folder / "late.csv").write_text("point,date,value\n" + late + "H,2003-11-31,1/16\nH,2003-11-31,5/64\n")
    said = call("add", folder).output
    assert said.count("it has run about") == 1
    assert "  rows 2, 3, 4 and 4 more: odometer: the reading has no odometer" in said
    assert "  rows 9 and 10: date: '2003-11-31' is 31 Nov 2003" in said


def test_a_file_that_gives_no_rows_under_its_layout_says_so(call, folder, tmp_path):
    layout = tmp_path / "own.toml"
    layout.write_text('[[table]]\ntable = "readings"\nsheet = "*"\n')
    book = tmp_path / "empty.xlsx"
    openpyxl.Workbook().save(book)
    call("add", folder)
    for files in ([book], [folder / "readings.csv", book]):
        done = call("add", "--layout", layout, *files)
        assert done.exit_code == 1
        said = " ".join((done.output + done.stderr).split())
        assert "'empty.xlsx': no sheet of the file holds rows under this layout" in said


def test_add_as_json_holds_the_same(call, folder):
    said = json.loads(call("add", "--json", folder).output)
    assert (
        said["batch"],
        said["rows"],
        said["accepted"],
        said["held_back"],
        said["already_known"],
    ) == (
        1,
        6,
        4,
        2,
        0,
    )
    assert [row["row"] for row in said["held_back_rows"]] == [3, 4]
    assert sum(file["rows"] for file in said["files"]) == 6


def test_add_of_something_unreadable_ends_with_1_and_one_message(call, folder):
    (folder / "broken.xlsx").write_bytes(b"PK\x03\x04")
    done = call("add", folder)
    assert done.exit_code == 1
    assert "Not read: broken.xlsx" in done.output
    assert "Stored as batch 1." in done.output
    lonely = call("add", folder / "broken.xlsx")
    assert lonely.exit_code == 1
    assert lonely.output.startswith("milesleft: ")
    assert "Traceback" not in lonely.output


def test_add_without_files_is_wrong_usage(call):
    assert call("add").exit_code == 2


def test_held_lists_corrects_accepts_and_dismisses(call, folder):
    call("add", folder)
    listed = call("held").output
    assert "1  readings.csv, row 3 (readings)" in listed
    assert "2 rows." in listed
    assert "(can be accepted)" in listed
    assert (
        call("held", "correct", 1, "--set", "date=2001-02-03", "--reason", "slip").output
        == "Stored as batch 2.\n"
    )
    assert call("held", "accept", 2, "--reason", "seen", "--who", "RH").output == "Stored as batch 3.\n"
    assert call("held").output == "0 rows.\n"
    assert "corrected in batch 2: slip" in call("held", "--all").output
    refused = call("held", "dismiss", 1, "--reason", "x")
    assert refused.exit_code == 1
    assert "No row 1 waits" in refused.output
    assert call("held", "dismiss", 1).exit_code == 2
    assert "No row 1 waits" in call("held", "mend", 1, "--set", "unit=in", "--reason", "x").output


def test_held_told_to_be_quiet_prints_nothing(call, folder):
    call("add", folder)
    assert call("held", "--quiet").output == ""
    assert call("held", "--quiet", "dismiss", 1, "--reason", "slip").output == ""
    assert call("held", "--quiet", "retry").output == ""
    assert call("held").output.endswith("1 rows.\n")


def test_undo_lists_and_takes_back(call, folder):
    call("add", folder)
    assert "add" in call("undo").output
    assert call("undo", 1, "--reason", "wrong files").output == "Batch 1 is undone, by batch 2.\n"
    assert call("undo", 1, "--reason", "again").exit_code == 1
    assert json.loads(call("undo", "--json").output)[0]["about"] == {"undone": 1, "reason": "wrong files"}


def test_backup_restore_and_export(call, folder, tmp_path):
    call("add", folder)
    assert "data version 1" in call("backup", tmp_path / "b").output
    assert "is whole" in call("restore", "--check", tmp_path / "b").output
    assert call("restore", tmp_path / "b").exit_code == 1
    assert "restored into" in call("restore", "--replace", tmp_path / "b").output
    out = call("export", tmp_path / "out").output.splitlines()
    assert [Path(line).name for line in out] == [
        "wear_points.csv",
        "mileage.csv",
        "readings.csv",
        "readings_held_back.csv",
    ]
    assert json.loads(call("export", "--json", "--form", "xlsx", tmp_path / "out").output) == [
        str(tmp_path / "out" / "milesleft.xlsx")
    ]


@pytest.mark.parametrize("command", ["add", "held", "undo", "backup", "restore", "export"])
def test_every_command_about_data_says_what_it_does(command):
    done = CliRunner().invoke(main, [command, "--help"])
    assert done.exit_code == 0
    assert "--db" in done.output


def test_many_held_rows_are_listed_and_settled_by_their_reason(call, folder):
    far = "".join(f"H,2001-{month:02d}-05,3.{month},\n" for month in range(2, 8))
    (folder / "far.csv").write_text("point,date,value,remark\n" + far + "H,2001-02-30,1/16,\n")
    call("add", folder / "points.csv", folder / "log.csv", folder / "far.csv")
    listed = call("held").output
    assert "6 rows wait for one reason, as row 1 does:" in listed
    assert "and 3 more like it (--json lists all). Settle them together: held " in listed
    assert "correct or dismiss --like 1" in listed
    assert [row["like"] for row in json.loads(call("held", "--json").output)] == [1, 1, 1, 1, 1, 1, 7]
    said = call("held", "correct", "--like", 1, "--set", "unit=mm", "--reason", "a metric rule").output
    assert said == "Stored as batch 2 (6 rows).\n"
    assert call("held", "dismiss", "--like", 7, 7, "--reason", "x").exit_code == 2
    assert call("held", "dismiss", "--reason", "x").exit_code == 2
    refused = call("held", "accept", "--like", 7, "--reason", "x")
    assert refused.exit_code == 1
    assert "30 Feb 2001" in refused.stderr
    (folder / "later.csv").write_text("point,date,value\nH,2001-08-01,5/64\n")
    assert "no longer wait" not in call("add", folder / "later.csv").output


def test_a_file_that_was_not_read_is_asked_about_and_told_the_layout_that_would(call, folder):
    call("add", folder / "points.csv", folder / "log.csv")
    book = folder / "book.csv"
    book.write_text("Depot book,,,\n,,,\nEngine,Wear point,2001-03-01,2001-09-01\nA,H,0.1,0.11\n")
    asked = call("add", book)
    assert asked.exit_code == 1
    assert "asks whether it is read right" in asked.stdout
    assert "2 of 2 values would be read" in asked.stdout
    told = json.loads(call("add", "--json", folder / "points.csv", book).output)
    assert told["layouts"] == []
    left = call("add", book, "--answer", f"{told['questions'][0]['id']}=no")
    assert left.exit_code == 1
    assert "A layout made from book.csv would read 2 of its rows." in left.stdout
    text = (
        '[[table]]\ntable = "readings"\nheader = 3\n[table.columns]\n"Wear point" = "point"\n'
        '[table.spread]\ncolumns = ["C:D"]\nheadings = ["date"]\n'
    )
    kind = sheet_kind(read_cells(book), parse_layout(text))
    keep_layout(Store(folder.parent / "s.duckdb"), "depot book", kind, text)
    assert "The layout 'depot book', which is kept here, would read 2 rows" in call("add", book).stdout
    assert "no layout 'depot'" in call("add", "--layout", "depot", book).stderr
    assert "2         2" in call("add", "--layout", "depot book", book).output
