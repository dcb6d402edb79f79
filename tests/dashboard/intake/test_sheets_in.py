"""From a sheet of its own make to stored readings: pointed at, looked at, asked about, known again."""

import pytest
from pages.without_browser import opened, said, widget

from dashboard.intake.sheets_in import KEPT
from ingest.store import Store
from ingest.verdicts.add import add_files

WIDE = (
    b"Winter book of the hollows,,,\n,,,\nWheel,2022-01-14,2022-03-20,Remarks\n"
    b"D1L,0.15,0.16,cold\nD1R,0.13,0.14,\nAverage,0.14,0.15,\n"
)
UNCLEAR = b"point,date,value,unit\nN-D1L-HOLLOW,03/04/2022,0.15,in\nN-D1L-HOLLOW,05/06/2022,0.155,in\n"


def uploaded(app, name, content):
    page = opened(app, "batch")
    page.file_uploader(key="batch-files").upload(name, content).run()
    assert not page.exception, page.exception
    return page


def choose(page, label, word):
    widget(page.selectbox, label).select(word).run()
    assert not page.exception, page.exception


def pointed_out(page):
    choose(page, "Vehicle, for all rows", "Nettle")
    choose(page, "Part, for all rows", "driver tire")
    choose(page, "What is measured, for all rows", "tread hollow")
    choose(page, "Unit, for all rows", "in")
    return page


def test_a_wide_sheet_is_stored_without_a_line_of_text_and_known_again(app, small):
    page = uploaded(app, "hollows.csv", WIDE)
    assert "Still to be said: vehicle, part, what is measured." in said(page)
    pointed_out(page)
    assert "4 rows: 4 accepted. Nothing is stored yet." in said(page).replace("*", "")
    look = page.dataframe[-1].value
    assert look[["Verdict", "Row", "Wear point", "Written", "Value read", "Date read"]].iloc[0].tolist() == [
        "accepted",
        "4",
        "N-D1L-HOLLOW",
        "0.15",
        "0.15",
        "2022-01-14",
    ]
    widget(page.button, "Add these files").click().run()
    assert not page.exception, page.exception
    assert "Stored as batch 2." in said(page)
    store = Store(small)
    assert len(store.read("readings")) == 34
    kept = store.read("layouts").iloc[0]
    assert (kept["layout"], kept["sheet_kind"]) == ("hollows", "remarks|wheel")
    page = uploaded(page, "next.csv", WIDE.replace(b"2022-", b"2021-"))
    assert page.selectbox(key="kept-next.csv").value == "hollows"
    widget(page.button, "Add these files").click().run()
    assert len(store.read("readings")) == 38


def test_before_and_after_are_shown_in_words_as_the_layout_gives_them(app, small):
    sheet = b"Nettle,,\n,tread hollow in,\nWheel,before,after\nD1L,0.2,0.1\nD1R,0.21,0.1\n"
    page = uploaded(app, "hollows.csv", sheet)
    assert widget(page.selectbox, "Headings in row 3 over the measurements say").value == "stage"
    given = page.dataframe[-1].value
    assert given["before or after"].tolist() == ["before", "after"] * 2
    assert [name for name in given if name.startswith(":")] == []


def picked(page, selection):
    page.session_state["pointed-hollows.csv-hollows.csv-grid-0"] = {
        "selection": {"rows": [], "columns": [], "cells": [], **selection}
    }
    return page.run()


@pytest.mark.parametrize(
    ("selection", "asked", "answer", "text"),
    [
        ({"rows": [1]}, "Row 2:", "holds the headings", "header = [2]"),
        (
            {"columns": ["D: note"]},
            "Column D:",
            "nothing: leave it out",
            '"Wheel" = "position"\n\n[table.spread]',
        ),
        ({"cells": [[0, "A: position (which wheel, which side)"]]}, "Cell A1", "note", 'note = "A1"'),
    ],
)
def test_what_is_pointed_at_is_asked_and_shown_at_once(app, small, selection, asked, answer, text):
    page = picked(uploaded(app, "hollows.csv", WIDE), selection)
    (pills,) = [group for group in page.button_group if group.label.startswith(asked)]
    pills.set_value(answer).run()
    assert not page.exception, page.exception
    assert text in page.code[0].value


def test_what_is_said_to_be_selected_beyond_the_sheet_is_nothing(app, small):
    beyond = [10**9, "A: position (which wheel, which side)"]
    page = picked(uploaded(app, "hollows.csv", WIDE), {"rows": [10**9, -1], "cells": [beyond]})
    assert not page.exception, page.exception


def test_a_question_is_asked_once_with_its_readings_and_then_stored(app, small):
    page = uploaded(app, "unclear.csv", UNCLEAR)
    (radio,) = page.radio
    assert "2 held back" in said(page).replace("*", "")
    assert any("3 Apr 2022" in option or "day" in option for option in radio.options)
    widget(page.button, "Add these files; 2 rows wait for an answer")
    radio.set_value("dmy").run()
    assert not page.exception, page.exception
    assert "2 rows: 2 accepted" in said(page).replace("*", "")
    widget(page.button, "Add these files").click().run()
    days = Store(small).read("readings").query("batch == 2")["date"].dt.strftime("%Y-%m-%d").tolist()
    assert sorted(days) == ["2022-04-03", "2022-06-05"]


def test_rows_that_wait_are_counted_as_those_that_are_read(app, small):
    """Each line of the sheet holds two readings, and it is readings that are said to be held back."""
    unclear = WIDE.replace(b"2022-01-14", b"03/04/2022").replace(b"2022-03-20", b"05/06/2022")
    page = pointed_out(uploaded(app, "hollows.csv", unclear))
    assert "4 rows: 4 held back" in said(page).replace("*", "")
    widget(page.button, "Add these files; 4 rows wait for an answer")


def test_a_text_file_from_windows_is_shown_and_read(app, small):
    text = "Meßpunkt;Messdatum;Befund (in)\nN-D1L-HOLLOW;3. März 2022;0,15\nN-D1R-HOLLOW;3. März 2022;0,16\n"
    page = uploaded(app, "buch.csv", text.encode("cp1252"))
    assert 'encoding = "cp1252"' in page.code[0].value
    assert "2 rows: 2 accepted" in said(page).replace("*", "")


def test_rows_that_wait_for_an_answer_are_answered_where_they_wait(app, small):
    page = uploaded(app, "unclear.csv", UNCLEAR)
    widget(page.button, "Add these files; 2 rows wait for an answer").click().run()
    page = opened(app, "batch", part="held")
    (radio,) = page.radio
    radio.set_value("dmy").run()
    assert not page.exception, page.exception
    assert "2 rows no longer wait; 0 still do." in said(page)
    days = Store(small).read("readings").query("batch > 1")["date"].dt.strftime("%Y-%m-%d").tolist()
    assert sorted(days) == ["2022-04-03", "2022-06-05"]


def test_a_look_is_kept_until_the_store_is_another(app, small, tmp_path):
    clear = b"point,date,value,unit,odometer\nN-D1L-HOLLOW,2023-09-20,0.16,in,\n"
    page = uploaded(app, "clear.csv", clear)
    assert "1 row: 1 accepted." in said(page).replace("*", "")
    first = page.session_state[KEPT][1]
    page.run()
    assert page.session_state[KEPT][1] is first
    (tmp_path / "by_hand.csv").write_bytes(clear)
    assert add_files(Store(small), [tmp_path / "by_hand.csv"]).count("accepted") == 1
    page.run()  # somebody else handed the same in meanwhile
    assert "1 row: 1 already known." in said(page).replace("*", "")
