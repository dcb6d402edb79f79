"""``milesleft layout``: a layout proposed, kept, tried, and used by ``add``."""

import pytest
from click.testing import CliRunner

from dashboard.cli import main

SHEET = """\
Engine:;Bramwick;;Date: 25.4.2001

Wheel;Hollow (1/64 in);;
;L;R;
Driver 1;2;3;
Driver 2;-;4;
Average;2;3,5;
"""
POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n" + "".join(
    f"B-D{n}{side[0]},Bramwick,driver tire,driver {n} {side},tread hollow,in,0,5/16\n"
    for n in (1, 2)
    for side in ("left", "right")
)
LOG = "vehicle,date,odometer\nBramwick,2001-01-01,1000\nBramwick,2001-12-31,2000\n"


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "wheels.csv"
    path.write_text(SHEET, encoding="utf-8")
    return path


def run(*arguments):
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_a_proposal_is_printed_with_what_it_gives(sheet):
    done = run("layout", sheet)
    assert done.exit_code == 0
    assert 'dates = "dmy"' in done.stdout
    assert "[table.spread]" in done.stdout
    assert "3 rows of the table readings" in done.stderr


def test_a_proposal_is_written_confirmed_and_used(sheet, tmp_path):
    layout, db = tmp_path / "wheels.toml", tmp_path / "store.duckdb"
    assert run("layout", sheet, "--out", layout).exit_code == 0
    text = layout.read_text(encoding="utf-8")
    assert '# component = ""' in text
    layout.write_text(text.replace('# component = ""', 'component = "driver tire"'), encoding="utf-8")
    tried = run("layout", sheet, "--layout", layout)
    assert "driver tire" in tried.stdout
    (tmp_path / "points.csv").write_text(POINTS)
    (tmp_path / "log.csv").write_text(LOG)
    assert run("add", tmp_path / "points.csv", tmp_path / "log.csv", "--db", db).exit_code == 0
    added = run("add", sheet, "--layout", layout, "--db", db, "--json")
    assert added.exit_code == 0, added.output
    assert '"accepted": 3' in added.stdout
    assert '"held_back": 0' in added.stdout


def test_a_file_is_not_overwritten_unasked(sheet, tmp_path):
    layout = tmp_path / "wheels.toml"
    layout.write_text("mine")
    done = run("layout", sheet, "--out", layout)
    assert done.exit_code == 2
    assert "--force" in done.stderr
    assert layout.read_text() == "mine"
    assert run("layout", sheet, "--out", layout, "--force").exit_code == 0
    assert layout.read_text() != "mine"


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["none.csv"], 1, "cannot be read"),
        (["wheels.csv", "--layout", "none.toml"], 1, "none.toml"),
        (["wheels.csv", "--out", "no/such/folder.toml"], 2, "there is no folder"),
        (["empty.csv"], 1, "empty"),
    ],
)
def test_what_cannot_be_done_is_said(sheet, tmp_path, arguments, code, words):
    (tmp_path / "empty.csv").write_text("\n")
    placed = [word if word.startswith("--") else tmp_path / word for word in arguments]
    done = run("layout", *placed)
    assert done.exit_code == code
    assert words in done.stderr
    assert "Traceback" not in done.output
