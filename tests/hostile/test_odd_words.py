"""Odd words on the command line, odd files and odd names: a message with exit 1 or 2, never a traceback."""

import json
import os
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.screen import served
from dashboard.screen.access import load
from ingest.errors import WrongUsage
from ingest.store import Store
from ingest.verdicts.add import add_files

MISSING = "no-such-folder"


@pytest.fixture
def here(small_store, small_backup, tmp_path, monkeypatch):
    """A folder with a store and a backup of it, in which commands are called."""
    shutil.copy(small_store, tmp_path / "s.duckdb")
    shutil.copy(small_backup, tmp_path / "b.milesleft")
    monkeypatch.setenv("MILESLEFT_DB", str(tmp_path / "s.duckdb"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def called(*words):
    result = CliRunner().invoke(main, list(words))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.output
    return result


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["forecast", "--db", ""], 2, "the name is empty"),
        (["add", "x.csv", "--db", ""], 2, "the name is empty"),
        (["add", ""], 2, "the name is empty"),
        (["backup", ""], 2, "the name is empty"),
        (["export", ""], 2, "the name is empty"),
        (["forecast", "--out", ""], 2, "the name is empty"),
        (["forecast", "--out", f"{MISSING}/x.csv"], 2, f"there is no folder '{MISSING}'"),
        (["plan", "--out", f"{MISSING}/x.xlsx"], 2, f"there is no folder '{MISSING}'"),
        (["share", "--name", "x", "--out", f"{MISSING}/x.json"], 2, f"there is no folder '{MISSING}'"),
        (["backup", f"{MISSING}/x.milesleft"], 2, f"there is no folder '{MISSING}'"),
        (["brief", "--out", f"{MISSING}/x.pdf"], 2, "there is no folder"),
        (["layout", "s.duckdb", "--out", f"{MISSING}/x.toml"], 2, f"there is no folder '{MISSING}'"),
        (
            ["new-vehicle", "--vehicle", "T", "--arrangement", "4-8-2", "--out", f"{MISSING}/x.csv"],
            2,
            f"there is no folder '{MISSING}'",
        ),
        (["restore", "b.milesleft", "--db", f"{MISSING}/r.duckdb"], 1, "no such file or folder"),
        (["export", "s.duckdb/inside"], 1, "a file where a folder is needed"),
        (["forecast", "--as-of", "9999-12-31"], 2, "out of reach"),
        (["checks", "--as-of", "9999-12-31"], 2, "out of reach"),
        (["plan", "--window", "9999-01-01:9999-12-31"], 2, "out of reach"),
        (["brief", "--json", "--window", "9999-12-31"], 2, "out of reach"),
        (["clocks", "--done", "annual=9999-12-31"], 2, "out of reach"),
        (["forecast", "--as-of", "2190-12-31"], 2, "lies ahead"),
        (["forecast", "--as-of", "31/12/2023"], 2, "is no day"),
        (["forecast", "--db", "/dev/null"], 1, "/dev/null"),
    ],
)
def test_what_makes_no_sense_is_said(here, words, code, says):
    result = called(*words)
    assert (result.exit_code, says in result.output) == (code, True), result.output


def test_every_command_refuses_an_empty_name():
    """Names of files are read by the kind of ``common.py``, which refuses an empty one."""
    folder = Path(__file__).parents[2] / "dashboard" / "commands"
    assert [path.name for path in folder.glob("*.py") if "type=click.Path" in path.read_text()] == []


ABOUT = {"form": 1, "version": 1, "made_at": "2026-01-01 00:00:00", "made_by": "milesleft backup"}
ABOUT |= {"tables": {}, "sha256": {}, "rows": {}}


@pytest.mark.parametrize(
    "about",
    [
        "[]",
        "3",
        '"milesleft backup"',
        "{",
        "[" * 100_000,
        json.dumps(ABOUT | {"form": "1"}),
        json.dumps(ABOUT | {"version": None}),
        json.dumps(ABOUT | {"tables": ["readings"]}),
        json.dumps(ABOUT | {"tables": {"readings": [["a"]]}}),
        json.dumps(ABOUT | {"sha256": {"x.parquet": 3}}),
        json.dumps(ABOUT | {"rows": {"readings": "many"}}),
        json.dumps({"made_by": "milesleft backup"}),
    ],
)
def test_a_backup_that_tells_odd_things_of_itself_is_none(here, about):
    with zipfile.ZipFile(here / "odd.milesleft", "w") as archive:
        archive.writestr("about.json", about)
    before = (here / "s.duckdb").read_bytes()
    for words in (["--check"], ["--replace"]):
        result = called("restore", "odd.milesleft", *words)
        assert (result.exit_code, "is not a backup of milesleft" in result.output) == (1, True), result.output
    assert (here / "s.duckdb").read_bytes() == before


@pytest.mark.parametrize(
    ("words", "to"),
    [
        (["limits", "us-cfr-230"], "/dev/full"),
        (["limits", "us-cfr-230", "--json"], "/dev/full"),
        (["--help"], "/dev/full"),
    ],
)
def test_an_output_that_is_full_is_said(milesleft, words, to):
    with open(to, "w") as out:
        done = subprocess.run([*milesleft, *words], stdout=out, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 1
    assert done.stderr.startswith("milesleft: 'standard output': the disk is full.")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("closing", ["| head -c 1 > /dev/null", ">&-"])
def test_an_output_that_is_closed_ends_it_quietly(milesleft, closing):
    call = f"{' '.join(milesleft)} limits us-cfr-230 --json {closing}"
    done = subprocess.run(["bash", "-c", call], capture_output=True, text=True)
    assert done.stderr == ""


def test_a_terminal_that_knows_no_dashes_stops_nothing(milesleft):
    call = [*milesleft, "limits", "us-cfr-230"]
    done = subprocess.run(
        call, capture_output=True, text=True, env=os.environ | {"PYTHONIOENCODING": "ascii"}
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_a_link_stays_and_a_file_is_replaced_whole(here):
    (here / "real.csv").write_text("before")
    (here / "link.csv").symlink_to("real.csv")
    (here / "real.csv").chmod(0o640)
    assert called("forecast", "--out", "link.csv").exit_code == 0
    assert (here / "link.csv").is_symlink()
    assert (here / "real.csv").read_text().startswith('"point"')
    assert (here / "real.csv").stat().st_mode & 0o777 == 0o640


STARTS = ["=1+1", "+1+1", "-1+1", "@ABS(A1)"]


def test_no_cell_of_a_file_that_goes_out_begins_a_formula(here):
    points = [
        f'"{start}","{start}","{start}","{start} left","{start}",in,0,0.3,"{start}"' for start in STARTS
    ]
    head = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,limit_source"
    (here / "wear_points.csv").write_text("\n".join([head, *points]))
    vehicles = [f'"{start}","{start}"' for start in STARTS]
    (here / "vehicles.csv").write_text("\n".join(["vehicle,name", *vehicles]))
    readings = [f'"{start}",2022-0{m}-01,0.{m},in' for start in STARTS for m in (1, 2)]
    (here / "readings.csv").write_text("\n".join(["point,date,value,unit", *readings]))
    log = [f'"{start}",2022-0{m}-01,{m}000,mi' for start in STARTS for m in (1, 2)]
    (here / "mileage.csv").write_text("\n".join(["vehicle,date,odometer,unit", *log]))
    report = add_files(Store(here / "o.duckdb"), sorted(here.glob("*.csv")))
    assert not len(report.held_back)
    assert called("forecast", "--out", "out.csv", "--db", "o.duckdb").exit_code == 0
    assert (
        called("new-vehicle", "--vehicle", "=1+1", "--arrangement", "4-4-0", "--out", "t.csv").exit_code == 0
    )
    assert (
        called("new-vehicle", "--vehicle", "=1+1", "--arrangement", "4-4-0", "--out", "t.xlsx").exit_code == 0
    )
    sheets = [pd.read_csv(here / name, dtype="str", keep_default_na=False) for name in ("out.csv", "t.csv")]
    cells = pd.concat([sheet.melt()["value"] for sheet in sheets])
    assert cells.str.startswith("'=").any()
    number = r"[-+]?[0-9.]+(e[-+]?[0-9]+)?"
    assert not (cells.str.match(r"[=+\-@\t\r]") & ~cells.str.fullmatch(number)).any()
    with zipfile.ZipFile(here / "t.xlsx") as book:
        assert not re.search(rb"<f[ >]", b"".join(book.read(name) for name in book.namelist()))


def test_health_tells_what_is_wrong_and_no_names(here, monkeypatch):
    assert served.health()[1] == 200
    (here / "folder").mkdir()
    monkeypatch.setenv("MILESLEFT_DB", str(here / "folder"))
    found, status = served.health()
    assert (status, found["ok"]) == (503, False)
    assert str(here) not in json.dumps(found)


ROLES = """
[sign_in]
provider = "https://id.example.org/.well-known/openid-configuration"
client_id = "milesleft"
client_secret = "not a secret"
cookie_secret = "0123456789abcdef0123456789abcdef"
address = "https://engines.example.org/"

[roles]
"officer@example.org" = "all"
"""


@pytest.mark.parametrize(
    "text",
    [
        "",
        "roles",
        "roles = 3",
        'sign_in = "x"\n[roles]\n"officer@example.org" = "all"',
        ROLES + '"fitter@example.org" = "admin"',
        ROLES + '"fitter@example.org" = 3',
        ROLES + '"OFFICER@example.org" = "look"',
        ROLES + '[roles.fitter]\nrole = "add"',
        ROLES + "[donors]\nlinks_since = 2026",
        ROLES.replace("[roles]", "hours = true\n[roles]"),
        "x = " + "[" * 5000,
        "\x00",
    ],
)
def test_a_broken_roles_file_is_said_and_names_nobody(tmp_path, text):
    path = tmp_path / "roles.toml"
    path.write_text(text)
    with pytest.raises(WrongUsage) as caught:
        load(path)
    assert "@" not in str(caught.value).replace(str(path), "")


def test_a_vehicle_with_two_underscores_has_its_pages(small_store, tmp_path, monkeypatch):
    import streamlit as st
    from pages.small_railway import small_railway
    from pages.without_browser import opened
    from streamlit.testing.v1 import AppTest

    folder = small_railway(tmp_path / "files")
    for file in folder.glob("*.csv"):
        file.write_text(file.read_text().replace("Nettle", "No__12"))
    store = Store(tmp_path / "s.duckdb")
    add_files(store, [folder])
    from dashboard.services.forecasting import run_forecast

    run_forecast(store)
    monkeypatch.setenv("MILESLEFT_DB", str(store.path))
    st.cache_data.clear()
    app = str(Path(__file__).parents[2] / "dashboard" / "app.py")
    page = opened(AppTest.from_file(app, default_timeout=60), "engine", vehicle="No__12")
    assert page.title[0].value == "Readings at the engine"


def test_a_forecast_of_a_day_to_come_closes_no_page(here):
    """A clock that was set back makes the newest forecast one of a day to come."""
    import streamlit as st
    from pages.without_browser import opened
    from streamlit.testing.v1 import AppTest

    from dashboard.services.forecasting import run_forecast

    run_forecast(Store(here / "s.duckdb"), pd.Timestamp("2190-12-31"))
    st.cache_data.clear()
    app = str(Path(__file__).parents[2] / "dashboard" / "app.py")
    page = opened(AppTest.from_file(app, default_timeout=60), "how")
    assert page.title[0].value == "How a forecast is made"
