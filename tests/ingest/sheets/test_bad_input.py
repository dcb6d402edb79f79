"""Every kind of bad row is held back with its reason; every kind of bad file is refused in words."""

import io
import shutil
import zipfile
from datetime import date

import pytest

from ingest.errors import UserError
from ingest.store import Store
from ingest.verdicts.add import add_files

READINGS = "point,date,value,unit,odometer\n"
WORK = "point,date,action,value_after\n"
MILEAGE = "vehicle,date,odometer,unit\n"

BAD_ROWS = [
    ("readings", READINGS + "HOLLOW,2001-02-31,0.1,,", "date", "a day that the calendar does not have"),
    ("readings", READINGS + "HOLLOW,2026-06-02,0.1,,13000", "date", "in the future (today is 2026-06-01)"),
    ("readings", READINGS + "HOLLOW,1801-02-03,0.1,,13000", "date", "before there were steam railways"),
    ("readings", READINGS + "HOLLOW,03/04/05,0.1,,", "date", "more than one order"),
    ("readings", READINGS + "HOLLOW,,0.1,,", "date", "the cell is empty; every row needs it"),
    ("readings", READINGS + "HOLOW,2001-02-01,0.1,,", "point", "nearest: HOLLOW"),
    ("readings", READINGS + ",2001-02-01,0.1,,", "point", "the cell is empty; every row needs it"),
    ("readings", READINGS + "HOLLOW,2001-02-01,,,", "value", "the cell is empty; every row needs it"),
    ("readings", READINGS + "HOLLOW,2001-02-01,-0.1,,", "value", "the value is negative"),
    ("readings", READINGS + "HOLLOW,2001-02-01,3 1/8,,", "value", "far outside what this point can be"),
    ("readings", READINGS + "HOLLOW,2001-02-01,1375000,,", "value", "decimal"),
    ("readings", READINGS + "HOLLOW,2001-02-01,3 lb,,", "value", "this is in lb"),
    ("readings", READINGS + "LIFT,2001-02-01,3 mm,,", "value", "this is in mm"),
    ("readings", READINGS + "HOLLOW,2001-02-01,3,lb,", "value", "this is in lb"),
    ("readings", READINGS + "HOLLOW,2001-02-01,3,9 of them,", "unit", "this is no unit"),
    ("readings", READINGS + "HOLLOW,2003-02-01,0.1,,", "odometer", "outside the mileage log of vehicle 410"),
    ("readings", READINGS + "HOLLOW,2001-03-01,0.1,,15000", "odometer", "does not fit the mileage log"),
    ("readings", READINGS + "HOLLOW,2001-03-01,0.1,,12 in", "odometer", "this is no distance"),
    (
        "mileage",
        MILEAGE + "410,2002-03-01,11000,mi",
        "odometer",
        "12,000 mi on 2002-01-01 (mileage.csv, row 4) before",
    ),
    ("mileage", MILEAGE + "410,2002-01-02,99000,mi", "odometer", "does not fit the entries around it"),
    ("mileage", MILEAGE + "410,2002-03-01,,mi", "odometer", "neither an odometer nor a distance"),
    ("mileage", MILEAGE + "410,2002-03-01,12500,furlongs", "unit", "none of the words allowed"),
    ("mileage", MILEAGE + "411,2002-03-01,12500,mi", "vehicle", "nearest: 410"),
    ("mileage", MILEAGE + "410,2001-07-01,11001,mi", "vehicle", "says otherwise (mileage.csv, row 3)"),
    ("work", WORK + "HOLLOW,2001-02-01,painted,0", "action", "'painted' is none of the words allowed"),
    ("work", WORK + "HOLLOW,2001-02-01,renewed,as new", "value_after", "holds no number"),
    (
        "findings",
        "vehicle,date,component,examined,defective\n410,2001-02-01,pin,4,5",
        "defective",
        "more than examined",
    ),
    (
        "findings",
        "vehicle,date,component,examined,defective\n410,2001-02-01,pin,4.5,1",
        "examined",
        "whole number",
    ),
    ("costs", "component,action,cost\ntire,renewed,-5", "cost", "must not be less than 0"),
    ("usage", "vehicle,month,miles_planned\n410,2027-13,100", "month", "no month between 1 and 12"),
    ("funds", "date,amount,kind\n2020-01-01,50,hoped", "kind", "none of the words allowed"),
    ("vehicles", "vehicle,name\n,Nobody", "vehicle", "the cell is empty"),
    (
        "wear_points",
        "point,vehicle,component,quantity,unit,new_value,shop_limit,condemning_limit\nA,410,rod,bore,in,1,3,2",
        "shop_limit",
        "between new_value and condemning_limit",
    ),
    (
        "wear_points",
        "point,vehicle,component,quantity,unit,condemning_limit\nA,410,rod,bore,2 feet,1",
        "unit",
        "this is no unit",
    ),
]


@pytest.fixture(scope="module")
def verdicts(known_once, tmp_path_factory):
    """All bad rows handed in at once, a file for each heading; what became of them, by file and row."""
    folder = tmp_path_factory.mktemp("bad")
    shutil.copyfile(known_once[0], folder / "store.duckdb")
    files: dict[str, str] = {}
    for name, rows in by_file().items():
        files[name] = rows[0].splitlines()[0] + "\n" + "".join(text.splitlines()[1] + "\n" for text in rows)
        (folder / name).write_text(files[name])
    store = Store(folder / "store.duckdb")
    report = add_files(store, [folder / name for name in files], today=date(2026, 6, 1))
    return report.verdicts.set_index(["file", "row"]), store.held().set_index(["source_file", "source_row"])


def by_file() -> dict[str, list[str]]:
    """Bad rows of one table under one heading share a file."""
    files: dict[str, list[str]] = {}
    for table, text, _, _ in BAD_ROWS:
        files.setdefault(f"{table}{text.splitlines()[0].count(',')}.csv", []).append(text)
    return files


@pytest.mark.parametrize(
    ("table", "text", "column", "words"), BAD_ROWS, ids=[f"{t}-{c}-{w[:25]}" for t, _, c, w in BAD_ROWS]
)
def test_a_bad_row_is_held_back_with_its_reason(verdicts, table, text, column, words):
    (at,) = [(name, rows.index(text) + 2) for name, rows in by_file().items() if text in rows]
    verdict, held = verdicts[0].loc[at], verdicts[1].loc[at]
    assert verdict["verdict"] == "held back"
    assert f"{column}: " in verdict["reasons"]
    assert words in verdict["reasons"]
    assert held["table_name"] == table
    assert all(cell.strip() in held["raw"] for cell in text.splitlines()[1].split(","))


def test_all_reasons_of_a_row_are_told(add, known):
    reasons = add(readings=READINGS + "NOWHERE,2001-02-30,many,,\n").held_back["reasons"].iloc[0]
    assert [part.split(":")[0] for part in reasons.split("; ") if ":" in part] == ["date", "value", "point"]


def test_two_readings_of_a_day_that_disagree_on_one_sheet_both_wait_for_what_holds(add, known):
    report = add(readings=READINGS + "HOLLOW,2001-02-01,0.10,,\nHOLLOW,2001-02-01,0.20,,\n")
    assert report.verdicts["verdict"].tolist() == ["held back", "held back"]
    (question,) = report.questions
    assert list(question.answers) == ["worst", "last", "first", "all"]


def test_a_reading_that_disagrees_with_one_that_is_stored_is_asked_about_and_names_it(add, known):
    add(readings=READINGS + "HOLLOW,2001-02-01,0.10,,\n")
    report = add(readings=READINGS + "HOLLOW,2001-02-01,0.20,,\n")
    assert report.verdicts["verdict"].tolist() == ["held back"]
    reasons = report.held_back["reasons"].iloc[0]
    assert "from readings.csv say, such as HOLLOW: 0.20 in" in reasons
    assert "and 0.10 in of 2001-02-01" in reasons


def test_one_misread_odometer_does_not_bring_down_the_log(add, basics):
    days = {"2001-01-01": 100, "2001-02-01": 90000, "2001-03-01": 300, "2001-04-01": 400}
    rows = [f"410,{day},{odometer}" for day, odometer in days.items()]
    report = add(**basics | {"mileage": "vehicle,date,odometer\n" + "\n".join(rows)})
    assert report.held_back["row"].tolist() == [3]


def _macros() -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as book:
        book.writestr("[Content_Types].xml", "<Types/>")
        book.writestr("xl/vbaProject.bin", "x")
    return made.getvalue()


def _bomb() -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("[Content_Types].xml", "<Types/>")
        book.writestr("xl/worksheets/sheet1.xml", b" " * 300_000_000)
    return made.getvalue()


BAD_FILES = {
    "empty.csv": (b"", "is empty"),
    "picture.csv": (b"\x89PNG\r\n\x1a\n" + b"\x00" * 100, "picture"),
    "page.csv": (b"<html><table><tr><td>point</td></tr></table></html>", "markup"),
    "odd.csv": ("points and so on;é\n".encode("cp1252") * 3, "UTF-8"),
    "other.csv": (b"recipe,flour\nbread,1\n", "none of a known table"),
    "macros.xlsx": (_macros(), "macro"),
    "macros.xlsm": (_macros(), "macro"),
    "bomb.xlsx": (_bomb(), ""),
    "broken.xlsx": (b"PK\x03\x04 and nothing more", ""),
    "part.parquet": (b"PAR1 and nothing more", "Parquet"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_is_refused_in_words_and_stores_nothing(folder, store, name):
    content, words = BAD_FILES[name]
    (folder / name).write_bytes(content)
    with pytest.raises(UserError) as caught:
        add_files(store, [folder / name])
    assert name in str(caught.value) or "headings" in str(caught.value)
    assert words in str(caught.value)
    assert store.version() == 0


def test_a_life_with_one_reading_is_stored_as_it_is(add, known, store):
    add(work=WORK + "HOLLOW,2001-02-01,renewed,0\n", readings=READINGS + "HOLLOW,2001-03-01,0.02,,\n")
    assert len(store.read("readings")) == len(store.read("work")) == 1
