"""The printed round: every wear point once, in walking order, each sheet with a code that finds it again."""

import io
from datetime import date

import pytest
from pypdf import PdfReader

from dashboard.papers.round_sheet import ROWS, code_of, parts_of, round_pdf
from dashboard.pit.rounds import round_of
from ingest.store import Store


@pytest.fixture(scope="module")
def told(demo_store):
    return round_of(Store(demo_store), "Quillon", date(2026, 11, 20))


def cut(points, paper):
    """Sheets of wear points, as they are printed the first time."""
    parts = parts_of([each["point"] for each in points], paper)
    return [{"code": code_of(part), "points": part} for part in parts]


def printed(told, made, paper="a4"):
    content = round_pdf(told, made, title="Readings of Quillon: all places", paper=paper)
    return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]


@pytest.mark.parametrize("paper", list(ROWS))
def test_each_sheet_is_one_page_with_its_code_and_its_wear_points(told, paper):
    made = cut(told["points"], paper)
    pages = printed(told, made, paper)
    assert len(pages) == len(made)
    assert [name for sheet in made for name in sheet["points"]] == [each["point"] for each in told["points"]]
    what = {each["point"]: each["what"] for each in told["points"]}
    for page, sheet in zip(pages, made, strict=True):
        assert sheet["code"] in page
        assert "Readings of Quillon: all places" in page
        flat = " ".join(page.split())
        for name in sheet["points"]:
            assert what[name].split(", ")[0].split()[0] in flat


def test_no_two_sheets_have_one_code_and_another_turn_has_another(told):
    codes = [sheet["code"] for paper in ROWS for sheet in cut(told["points"], paper)]
    codes += [code_of([each["point"] for each in told["points"]], turn) for turn in range(20)]
    assert len(set(codes)) == len(codes)


def test_the_sheet_says_why_a_place_is_due_and_shows_no_last_value_and_nothing_of_money(told):
    text = "".join(printed(told, cut(told["points"], "a4")))
    for word in ("expected", "USD", "miles left", "forecast"):
        assert word not in text
    reasons = {each["due"] for each in told["points"] if each["due"]}
    flat = " ".join(text.split())
    assert reasons
    for reason in reasons:
        assert reason in flat
