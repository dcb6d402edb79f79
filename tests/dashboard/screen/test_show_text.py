"""Text from files stays text, on the page and in what is downloaded."""

import csv
from io import BytesIO, StringIO

import pandas as pd
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from openpyxl import load_workbook

from dashboard.pictures.charts import dressed
from dashboard.screen.show import csv_bytes, drawn, plain, xlsx_bytes

HOSTILE = ["=1+1", "+cmd", "-2+3", "@SUM(A1)", "\tx", "\rx"]


@pytest.mark.parametrize(
    "text",
    [
        "![x](http://evil.example/p.png)",
        "[click](http://evil.example)",
        "<img src=x onerror=alert(1)>",
        "**bold** _it_ `code` ~~no~~",
        "# heading",
        "| a | b |",
        "http://evil.example www.evil.example a@evil.example",
        ":smile: :material/delete:",
        "&lt;b&gt;",
        "1. list",
        "- item",
        "$x^2$",
        ":red[danger]",
    ],
)
def test_markdown_and_html_stay_the_text_that_they_are(text):
    html = MarkdownIt("gfm-like", {"linkify": False}).render(plain(text))
    inner = html.removeprefix("<p>").removesuffix("</p>\n")
    assert "<" not in inner
    for sign, entity in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&amp;", "&")):
        inner = inner.replace(sign, entity)
    assert inner.replace("\u2060", "") == text


def test_characters_that_turn_the_text_round_are_made_visible():
    assert "<U\\+202E>".replace("<", "\\<").replace(">", "\\>") in plain("a\u202eb")


def is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize("cell", HOSTILE)
def test_a_downloaded_table_runs_nothing(cell):
    frame = pd.DataFrame({"note": [cell, "plain"], "n": [-1.5, 2.0]})
    rows = list(csv.reader(StringIO(csv_bytes(frame).decode("utf-8-sig"), newline="")))
    assert rows == [["note", "n"], ["'" + cell, "-1.5"], ["plain", "2.0"]]  # a number keeps its sign
    sheet = load_workbook(BytesIO(xlsx_bytes(frame))).active
    kinds = [[field.data_type for field in row] for row in sheet.iter_rows(min_row=2)]
    assert kinds == [["s", "n"], ["s", "n"]]  # s: text, n: number, f would be a formula
    assert sheet["A2"].value.startswith("'")


@given(st.text(alphabet=st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=40))
def test_a_cell_is_quoted_only_where_it_must_be(text):
    assume(not is_number(text))  # -2 stays what it is
    frame = pd.DataFrame({"note": pd.Series([text], dtype="str")})
    (_, [cell]) = csv.reader(StringIO(csv_bytes(frame).decode("utf-8-sig"), newline=""))
    assert cell == ("'" + text if text[0] in "=+-@" else text)


def test_a_picture_is_drawn_once_for_equal_figures():
    asked = []

    def draw(frame):
        asked.append(len(frame))
        return dressed([], 100)

    frame = pd.DataFrame({"a": [1.0, 2.0]})
    assert drawn(draw, frame) is drawn(draw, frame.copy())
    drawn(draw, frame.iloc[:1])
    assert asked == [2, 1]
