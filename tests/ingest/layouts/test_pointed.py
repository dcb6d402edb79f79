"""Layouts by pointing: what a sheet shows by itself, what each click changes, which layout is for a sheet."""

import pandas as pd
import pytest

from ingest.layouts.kept import kept_for, sheet_kind
from ingest.layouts.layout import parse_layout
from ingest.layouts.pointed import (
    proposed,
    result_of,
    with_blocks,
    with_cell,
    with_columns,
    with_header,
    with_measurements,
)
from ingest.layouts.titles import with_title
from ingest.sheets.readers import read_cells

WIDE = """Tread hollow of engine 410,,,
,,,
Wheel,2001-03-01,2001-09-01,2002-03-01
D1L,1.1,1.2,1.3
D1R,1.0,1.3,-
Average,1.05,1.25,
"""
STACKED = """Lok 410;;
Stelle;03.05.2001;14.09.2001
Treibachse 1 links;1,1;1,2
;;
Lok 52 8055;;
Stelle;03.05.2001;14.09.2001
Treibachse 1 links;2,1;2,2
"""
PAIRED = """,driver 1,,driver 2,
Date,left,right,left,right
2001-03-01,1.1,1.2,1.3,1.4
2001-09-01,1.2,1.3,1.4,1.5
"""
WORDS = {
    "de": ("Lok;Bauteil;Stelle;Messgröße;Datum;Messwert;Einheit", "Treibachse 1 links"),
    "fr": ("Machine;Organe;Emplacement;Grandeur;Date de mesure;Valeur;Unité", "essieu couplé 1 gauche"),
    "pl": ("Parowóz;Część;Miejsce;Wielkość;Data pomiaru;Wartość;Jednostka", "oś wiązana 1 lewa"),
    "cs": ("Lokomotiva;Díl;Poloha;Veličina;Datum měření;Naměřená hodnota;Jednotka", "hnací náprava 1 levá"),
}


@pytest.fixture
def sheet(tmp_path):
    """The one sheet of a file written as text."""

    def read(text, name="sheet.csv"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        (cells,) = read_cells(tmp_path / name)
        return cells

    return read


def rows(sheet, pointed, *columns):
    table = result_of(sheet, pointed).table
    return table.rows[list(columns)].to_numpy().tolist()


def test_a_wide_sheet_by_date_shows_itself(sheet):
    cells = sheet(WIDE)
    pointed = proposed(cells, several=False)
    result = result_of(cells, pointed)
    assert result.lacking == ("vehicle", "component", "quantity")
    assert rows(cells, pointed, "position", "date", "value") == [
        ["D1L", "2001-03-01", "1.1"],
        ["D1L", "2001-09-01", "1.2"],
        ["D1L", "2002-03-01", "1.3"],
        ["D1R", "2001-03-01", "1.0"],
        ["D1R", "2001-09-01", "1.3"],
    ]


def test_stacked_engines_show_themselves(sheet):
    cells = sheet(STACKED)
    pointed = proposed(cells, several=False)
    assert rows(cells, pointed, "vehicle", "date", "value") == [
        ["410", "03.05.2001", "1,1"],
        ["410", "14.09.2001", "1,2"],
        ["52 8055", "03.05.2001", "2,1"],
        ["52 8055", "14.09.2001", "2,2"],
    ]
    assert (pointed.dates, pointed.decimal) == ("dmy", ",")


def test_left_and_right_under_a_common_heading_show_themselves(sheet, tmp_path):
    import xlsxwriter

    with xlsxwriter.Workbook(tmp_path / "paired.xlsx") as book:
        page = book.add_worksheet()
        for place, line in enumerate(PAIRED.splitlines()):
            page.write_row(place, 0, line.split(","))
        for column, text in ((1, "driver 1"), (3, "driver 2")):
            page.merge_range(0, column, 0, column + 1, text)
    (cells,) = read_cells(tmp_path / "paired.xlsx")
    pointed = proposed(cells, several=False)
    assert rows(cells, pointed, "date", "position", "value")[:4] == [
        ["2001-03-01", "driver 1 left", "1.1"],
        ["2001-03-01", "driver 1 right", "1.2"],
        ["2001-03-01", "driver 2 left", "1.3"],
        ["2001-03-01", "driver 2 right", "1.4"],
    ]


@pytest.mark.parametrize("language", WORDS)
def test_headings_in_other_languages_are_understood(sheet, language):
    head, position = WORDS[language]
    cells = sheet(f"{head}\n410;driver tire;{position};hollow;2001-05-03;2,5;mm\n")
    result = result_of(cells, proposed(cells, several=False))
    assert result.lacking == ()
    assert set(result.table.rows) == {"vehicle", "component", "position", "quantity", "date", "value", "unit"}


def test_each_thing_pointed_at_changes_what_the_sheet_gives(sheet):
    cells = sheet("Depot book,,\n,new,worn\nw,a,b\nD1L,1.1,1.2\nD1R,1.3,1.4\nEngine,410,\n")
    pointed = with_header(cells, proposed(cells, several=False), [3])
    pointed = with_columns(pointed, [0], "position")
    pointed = with_measurements(cells, pointed, [1, 2])
    assert rows(cells, pointed, "position", "quantity", "value")[:2] == [
        ["D1L", "a", "1.1"],
        ["D1L", "b", "1.2"],
    ]
    pointed = with_header(cells, pointed, [2, 3])
    assert "header = [2, 3]" in result_of(cells, pointed).text
    pointed = with_cell(pointed, "B6", "vehicle")
    assert {row[0] for row in rows(cells, pointed, "vehicle")} == {"410"}
    pointed = with_columns(pointed, [2], "note")
    assert pointed.spread == (1,)
    assert rows(cells, pointed, "note")[0] == ["1.2"]
    assert with_columns(pointed, [2], "").columns == {0: "position"}


def test_a_block_that_is_pointed_at_is_found_again(sheet):
    block = "Wheel,2001-03-01,2001-09-01\nD1L,1.1,1.2\n"
    cells = sheet(f"Hobnail,,\n{block}Hobnail second,,\n{block.replace('1.1,1.2', '2.1,2.2')}")
    pointed = with_blocks(cells, with_header(cells, proposed(cells, several=False), [2]), 1, "component")
    assert pointed.header == (2,)
    assert [row[0] for row in rows(cells, pointed, "value")] == ["1.1", "1.2", "2.1", "2.2"]


def test_what_cannot_be_read_says_why(sheet):
    cells = sheet(WIDE)
    result = result_of(cells, with_header(cells, proposed(cells, several=False), [90]))
    assert result.table is None
    assert "no row 90" in result.problem


def test_a_kept_layout_is_known_again_by_its_headings_whatever_the_days(sheet):
    cells = sheet(WIDE)
    text = result_of(cells, proposed(cells, several=False)).text
    kind = sheet_kind([cells], parse_layout(text))
    assert kind == "wheel"
    kept = pd.DataFrame(
        {"layout": ["wheels", "other"], "sheet_kind": [kind, "axle"], "content": [text, text]}
    )
    assert kept_for([sheet(WIDE.replace("2001", "2011"))], kept) == ["wheels"]
    assert kept_for([sheet(WIDE.replace("Wheel", "Box"))], kept) == []
    assert kept_for([sheet("a,b\n1,2\n")], kept) == []
    assert kept_for([cells], kept.assign(content="no layout")) == []


NAMES = {
    "vehicle": ["Nettle", "Reed 5"],
    "component": ["driver tire", "side rod bushing"],
    "quantity": ["clearance", "flange thickness", "thickness"],
}


@pytest.mark.parametrize(
    ("title", "fixed"),
    [
        ("Reed 5 side rod bushings - clearance in mm", ("Reed 5", "side rod bushing", "clearance", "mm")),
        ("NETTLE, driver tires, flange thickness", ("Nettle", "driver tire", "flange thickness", None)),
        ("Nettle and Reed 5: thickness", (None, None, "thickness", None)),
        ("Wheel book", (None, None, None, None)),
    ],
)
def test_a_title_says_what_holds_for_all_rows(sheet, title, fixed):
    cells = sheet(f"{title};;\n;;\nWheel;2022-01-14;2022-03-20\nD1L;0.15;0.16\nD1R;0.13;0.14\n")
    begun = with_title(cells, proposed(cells, several=False), NAMES)
    assert tuple(begun.fixed.get(name) for name in ("vehicle", "component", "quantity", "unit")) == fixed


def test_what_the_sheet_says_itself_outranks_its_title(sheet):
    text = "Nettle, driver tires;;;\nEngine;Wheel;2022-01-14;2022-03-20\nReed 5;D1L;0.15;0.16\n"
    cells = sheet(text)
    begun = with_title(cells, proposed(cells, several=False), NAMES)
    assert begun.fixed == {"component": "driver tire"}
