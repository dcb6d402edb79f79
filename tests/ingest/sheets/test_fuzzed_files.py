"""Files made at random to be wrong: each ends in verdicts that add up or a reason, never a traceback."""

import io
from datetime import date

import numpy as np
import pytest
import xlsxwriter

from ingest.schema import TABLES
from ingest.verdicts.add import add_files

TODAY = date(2026, 6, 1)
PER_CALL = 50

ODD = [
    "",
    " ",
    "0",
    "-1",
    "1e999",
    "nan",
    "n/a",
    "1 3/8",
    '1-3/8"',
    "2' 3 1/2\"",
    "88/64",
    "1/0",
    "12 thou",
    "34.9 mm",
    "1,375",
    "1,5",
    "5 km",
    "½",
    "03/04/05",
    "31/02/1998",
    "1998-02-31",
    "1998-05-03",
    "2001-05-01",
    "2999-01-01",
    "3 May 1998",
    "35918",
    "renewed",
    "cut",
    "beyond",
    "replaced",
    "rolled_over",
    "HOLLOW",
    "THICK",
    "410",
    "driver 1 left",
    "L2",
    "=1+1",
    "+cmd|' /C calc'!A0",
    "@SUM(1)",
    "<b>x</b>",
    "[x](javascript:1)",
    "'; drop table readings; --",
    "{{7*7}}",
    "\x00",
    "\x1b[2J",
    "\u202eabc",
    "\ud7ff",
    "\U0001f682",
    "a\nb",
    'say "x"',
    "x" * 400,
    "9" * 90,
    "٣",
    "in",
    "%",
    "mi",
    "km",
]


def table_cells(rng):
    """Headings of some table, mended at random, and rows of odd cells: (headings, rows)."""
    table = TABLES[rng.choice(list(TABLES))]
    columns = [name for name in table.public if rng.random() < 0.95]
    rng.shuffle(columns)
    if rng.random() < 0.2:
        columns.append(str(rng.choice(["Remarks", "point", "x (in)", "", "date"])))
    sound = {"point": "HOLLOW", "vehicle": "410", "date": "2001-05-01", "value": "1/8", "odometer": "10600"}

    def cell(name):
        return sound.get(name, "") if rng.random() < 0.5 else str(rng.choice(ODD))

    return columns, [[cell(name) for name in columns] for _ in range(rng.integers(0, 8))]


def csv_file(rng):
    """A CSV file as bytes, often damaged; the number of its rows where it can be known, else None."""
    columns, rows = table_cells(rng)
    mark = str(rng.choice([",", ";", "\t"]))
    lines = [mark.join('"' + cell.replace('"', '""') + '"' for cell in row) for row in [columns, *rows]]
    content = (
        str(rng.choice(["\n", "\r\n"])).join(lines).encode(str(rng.choice(["utf-8", "utf-8-sig", "utf-16"])))
    )
    damage = rng.random()
    if damage < 0.6:
        filled = sum(any(cell.strip() for cell in row) for row in rows)
        return content, filled
    if damage < 0.75:
        return content[: rng.integers(0, len(content) + 1)], None
    if damage < 0.9:
        return flipped(rng, content), None
    return rng.bytes(int(rng.integers(0, 400))), None


def workbook(rng):
    """A workbook as bytes, often damaged; the number of its rows where it can be known, else None."""
    columns, rows = table_cells(rng)
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"strings_to_formulas": False, "strings_to_urls": False}) as book:
        sheet = book.add_worksheet("S")
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for place, row in enumerate([columns, *rows]):
            for at, text in enumerate(row):
                kind = rng.random() if place else 0.0
                if kind > 0.97:
                    sheet.write_formula(place, at, "=1/0", None, rng.choice(["#DIV/0!", 0, ""]))
                elif kind > 0.9:
                    sheet.write_datetime(place, at, date(2001, 1, int(rng.integers(1, 28))), day)
                elif kind > 0.8:
                    sheet.write_number(place, at, float(rng.normal() * 10.0 ** rng.integers(-3, 9)))
                elif text.strip("\x00\x1b"):
                    sheet.write_string(place, at, text.replace("\x00", "").replace("\x1b", ""))
    content = buffer.getvalue()
    damage = rng.random()
    if damage < 0.5:
        return content, None
    return (flipped(rng, content) if damage < 0.9 else content[: rng.integers(0, len(content))]), None


def flipped(rng, content):
    """The content with some bytes changed."""
    changed = bytearray(content)
    for place in rng.integers(0, len(changed), rng.integers(1, 6)) if changed else ():
        changed[place] = rng.integers(0, 256)
    return bytes(changed)


def add_and_count(store, folder, rng, n_files):
    """Add files at random to a store; check that every file and every row is accounted for."""
    for begin in range(0, n_files, PER_CALL):
        here = folder / str(begin)
        here.mkdir()
        known = {}
        for number in range(min(PER_CALL, n_files - begin)):
            make, ending = (csv_file, "csv") if rng.random() < 0.7 else (workbook, "xlsx")
            content, n_rows = make(rng)
            (here / f"f{number}.{ending}").write_bytes(content)
            known[f"f{number}.{ending}"] = n_rows
        check(store, here, known)


def check(store, folder, known):
    report = add_files(store, [folder], who="fuzz", today=TODAY)
    files = report.files
    assert (files["rows"] == files["accepted"] + files["held_back"] + files["already_known"]).all()
    assert files["rows"].sum() == len(report.verdicts)
    assert {*files["file"], *(item.file for item in report.not_read)} == set(known)
    stated = files["file"].map(known)
    wrong = files[stated.notna() & (stated != files["rows"])]
    assert wrong.empty, [(folder / name).read_bytes() for name in wrong["file"]]
    assert (report.held_back["reasons"] != "").all()
    for item in report.not_read:
        assert item.reason
        assert "\x1b" not in item.reason
    assert add_files(store, [folder], who="fuzz", today=TODAY).batch is None  # the same again changes nothing


def test_two_hundred_files(store, known, tmp_path):
    add_and_count(store, tmp_path, np.random.default_rng(1998), 200)


@pytest.mark.long
def test_ten_thousand_files(store, known, tmp_path):
    add_and_count(store, tmp_path, np.random.default_rng(2026), 10_000)
