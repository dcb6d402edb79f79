"""The brief of a small case whose every figure can be followed by eye: words, sums, pictures, layouts."""

import re
import subprocess
import sys
from dataclasses import replace
from xml.etree import ElementTree

import pandas as pd
import pytest
import textstat
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from dashboard.papers import brief_words
from dashboard.papers.brief import BriefSettings, campaign_of, compose, own_text, render_html, render_pdf
from dashboard.papers.brief_logo import check_logo
from dashboard.papers.brief_picture import RemainingPicture, remaining_picture
from dashboard.papers.brief_tables import (
    bills_table,
    delay_table,
    gift_table,
    income_table,
    level_runs,
    rounded,
    scope_table,
)
from dashboard.papers.campaign_picture import campaign_png, campaign_svg
from dashboard.papers.excursion_words import parts_table, rounded_parts
from dashboard.words.brief_numbers import numbers
from models.case.case import Amount, Case
from models.case.delay import DELAY_COLUMNS
from models.case.excursion import Excursion, cost_of_excursions
from models.case.fund import FundPosition, GiftRate
from models.case.gifts import GIFT_COLUMNS
from models.case.mile import RunningCost, SinkingFund
from models.case.schedule import must_come_in

MADE_ON = pd.Timestamp("2026-11-12")
AS_OF = pd.Timestamp("2026-10-31")
OPENS = pd.Timestamp("2027-11-01")
EN = numbers("en", "USD")


def delays():
    rows = []
    for seasons, p50, ask, stopped, days in [
        (0, 131_246, 148_212, 0.31, 3),
        (1, 139_000, 157_900, 0.78, 31),
        (2, 151_400, 171_300, 0.97, 66),
        (3, 158_800, 180_500, 0.999, 101),
    ]:
        more = ask - 148_212
        rows.append(
            (
                seasons, OPENS + pd.DateOffset(years=seasons), p50, ask, ask,
                0.7 * more, more, 1.4 * more, 4_000 * seasons, 5_000 * seasons, 6_000 * seasons, stopped,
                days, 1.6 * days, 20.0 * days, 30.0 * days,
                900.0 * seasons, 700.0 * seasons, 1200.0 * seasons, ["A"],
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=DELAY_COLUMNS)


def example(**changes):
    lines = pd.DataFrame(
        [
            ("tire", "planned", "driver tire", "cut", 8.0, ["A", "B"], 9_412.0, 10_033.0),
            ("crown", "planned", "crown brass", "renewed", 8.0, ["C"], 21_007.5, 22_998.5),
            ("open", "opening", "opening", "wheels out", 1.0, ["A", "B", "C"], 86_000.25, 93_180.25),
            ("hidden", "hidden", "driving journal", "renewed", 0.6, ["C"], 14_826.25, 22_000.25),
        ],
        columns=["line", "kind", "component", "action", "parts", "points", "at50", "ask"],
    ).assign(p10=1.0, p90=2.0)
    months = pd.date_range("2026-10-01", "2028-01-01", freq="MS")
    due = pd.Series(0.0, index=months)
    due["2027-02-01"], due["2027-05-01"], due["2027-11-01"] = 9_000.0, 29_000.0, 110_212.0
    bills = pd.DataFrame(
        {
            "line": ["crown", "open", "open", "tire"],
            "payment": ["castings", "deposit", "balance", "balance"],
            "month": pd.to_datetime(["2027-02-01", "2027-05-01", "2027-11-01", "2027-11-01"]),
            "amount": [9_000.0, 29_000.0, 100_179.0, 10_033.0],
            "is_late": False,
            "source": "assumption",
        }
    )
    case = Case(
        vehicle="Alder",
        name="Alder",
        as_of=AS_OF,
        opens=OPENS,
        currency="USD",
        confidence=0.8,
        ask=148_212.0,
        amount=Amount(112_000.0, 131_246.0, 148_212.0, 158_000.0),
        lines=lines,
        bills=bills,
        schedule=must_come_in(due, 52_318.0),
        fund=FundPosition(AS_OF, 52_318.0, 60_000.0, 7_682.0, 8_000.0),
        rate=GiftRate(2_140.0, 1_500.0, 2_800.0, 36, pd.Timestamp("2023-11-01"), pd.Timestamp("2026-10-01")),
        chance_in_time=0.12,
        delays=delays(),
        mile=pd.DataFrame(
            {
                "component": ["crown brass", "driver tire", "all"],
                "action": ["renewed", "cut", ""],
                "jobs": [8, 8, 16],
                "p10": [0.5, 0.6, 1.3],
                "mean": [0.7, 0.8, 1.5],
                "p90": [0.9, 1.1, 1.8],
                "share": [0.47, 0.53, 1.0],
                "points": [["C"], ["A", "B"], ["A", "B", "C"]],
            }
        ),
        day=RunningCost(72.0, 108.0, 92.0, 131.0),
        miles_per_day=72.0,
        sinking=SinkingFund(
            (1.3, 1.5, 1.8), 0.9, 9_000.0, 8_100.0, 61_400.0, 52_000.0, 70_000.0, 52_318.0,
            pd.Timestamp("2023-11-01"), AS_OF,
        ),
        gifts=pd.DataFrame(
            [
                ("engine miles", "", "", 10.0, 13.0, 15.0, 18.0, ["A"]),
                ("component miles", "crown brass", "", 1000.0, 500.0, 700.0, 900.0, ["C"]),
                ("job", "driver tire", "cut", 1.0, 880.0, 1_010.0, 1_190.0, ["A"]),
            ],
            columns=GIFT_COLUMNS,
        ),
        remaining=pd.DataFrame(
            {
                "label": ["driver tire", "crown brass"],
                "note": ["first of 16 places", "first of 8 places"],
                "p10": [2_512.0, 3_100.0],
                "p50": [4_300.0, 5_000.0],
                "p90": [6_120.0, 8_800.0],
                "chance_by_window": [0.3, 0.1],
                "points": [["A", "B"], ["C"]],
            }
        ),
        seasons=pd.DataFrame(
            {
                "label": ["2027", "2028", "2029"],
                "start": [0.0, 3_900.0, 7_800.0],
                "end": [3_900.0, 7_800.0, 11_700.0],
            }
        ),
        window_miles=(3_300.0, 3_900.0, 4_500.0),
        assumptions=pd.DataFrame(
            {"what": ["prices rise each year by 3%"], "value": ["3%"], "source": ["assumption"]}
        ),
        unpriced=pd.DataFrame({"component": ["whistle"], "reason": ["no price"]}),
        unforecast=pd.DataFrame({"point": ["D"], "component": ["whistle"], "reason": ["too few readings"]}),
        is_planned=False,
        at_limit=(),
        draws=2000,
        readings=4_210,
        points=250,
        data_version=14,
    )  # fmt: skip
    return replace(case, **changes)


@pytest.fixture(scope="module")
def case():
    return example()


@pytest.fixture(scope="module")
def brief(case):
    return compose(case, BriefSettings(railway="Fernmoor Railway"), MADE_ON)


def money(text):
    return int(re.sub(r"[^0-9-]", "", text))


def column(table, index):
    return [money(row[index]) for row in table.rows]


def test_printed_sums_agree_with_each_other(case):
    sums = rounded(case)
    assert (sums.ask, sums.half_way, sums.in_hand, sums.to_raise) == (148_000, 131_000, 52_300, 95_700)
    assert sums.ask - sums.in_hand == sums.to_raise


def test_every_printed_total_is_the_sum_of_its_printed_parts(case):
    sums = rounded(case)
    scope = scope_table(case, sums, EN)
    for index in (1, 2):
        assert sum(column(scope, index)) == money(scope.total[index])
    assert money(scope.total[2]) == sums.ask
    bills = bills_table(case, sums, EN)
    assert sum(column(bills, 2)) == money(bills.total[2]) == sums.ask
    income = income_table(case, sums, EN)
    assert sum(column(income, 2)) == money(income.total[2]) == sums.to_raise


@settings(deadline=None)
@given(
    st.lists(st.floats(50.0, 300_000.0), min_size=1, max_size=30),
    st.floats(-20_000.0, 400_000.0),
    st.floats(1.0, 1.6),
)
def test_totals_hold_for_any_sums(parts, in_hand, dearer):
    lines = pd.DataFrame({"ask": [part * dearer for part in parts], "at50": parts})
    lines = lines.assign(
        kind="planned", component=[f"part {i}" for i in lines.index], action="renewed", parts=1.0
    )
    ask = lines["ask"].sum()
    months = pd.date_range("2026-10-01", periods=12, freq="MS")
    due = pd.Series([ask / 4, 0, 0, 0, 0, ask / 2, 0, 0, 0, 0, 0, ask / 4], index=months)
    bills = (
        due[due > 0]
        .rename("amount")
        .rename_axis("month")
        .reset_index()
        .assign(payment="x", source="shop", is_late=False)
    )
    case = example(
        lines=lines,
        ask=ask,
        amount=Amount(0.0, sum(parts), ask, ask),
        bills=bills,
        schedule=must_come_in(due, in_hand),
        fund=FundPosition(AS_OF, in_hand, 0.0, 0.0, 0.0),
    )
    sums = rounded(case)
    for table, index in [
        (scope_table(case, sums, EN), 1),
        (scope_table(case, sums, EN), 2),
        (bills_table(case, sums, EN), 2),
        (income_table(case, sums, EN), 2),
    ]:
        assert sum(column(table, index)) == money(table.total[index])
    assert sums.to_raise == max(0, sums.ask - sums.in_hand)


def test_small_kinds_of_work_are_put_together_and_counted():
    lines = pd.DataFrame(
        {"kind": "planned", "component": [f"part {i}" for i in range(14)], "action": "renewed", "parts": 2.0}
    ).assign(at50=[1000.0 - i for i in range(14)], ask=[1100.0 - i for i in range(14)])
    case = example(lines=lines, ask=lines["ask"].sum(), amount=Amount(0, lines["at50"].sum(), 0, 0))
    table = scope_table(case, rounded(case), EN)
    assert len(table.rows) == 10
    assert table.rows[0][0] == "2 × part 0: renewed"
    assert table.rows[-1][0] == "other work (5 kinds)"


def test_months_of_one_level_are_taken_together():
    to_raise = pd.Series(
        [0.0, 50.0, 50.0, 50.0, 20.0], index=pd.date_range("2026-10-01", periods=5, freq="MS")
    )
    runs = level_runs(to_raise)
    assert runs["months"].tolist() == [3, 1]
    assert runs["amount"].tolist() == [150, 20]
    assert level_runs(to_raise * 0).empty


def test_brief_says_its_dates_and_versions(brief):
    assert "Made on 12 November 2026" in brief.footer
    assert "data version 14" in brief.footer
    assert "as of 31 October 2026" in brief.footer


def test_chances_are_told_as_frequencies(brief):
    words = own_text(brief)
    assert "In 3 of 10 cases, a part that this work renews" in words
    assert "8 of 10 cases" in words
    assert "At that pace each bill finds its money in 1 of 10 cases" in words
    assert "%" not in words.replace("3%", "")  # the stated assumption alone is in percent


FIGURE = re.compile(r"\$[\d,]+(?:\.\d\d)?|\d[\d,]*(?= (?:more )?miles)")
RANGE_OR_DAY = re.compile(
    r"as of|of 10|of 20|of 100|\bto (?:\$)?[\d,]+|planned|10 miles of the whole|miles of wear|fund holds"
)


def test_no_figure_stands_without_its_range_or_its_day(brief):
    """Each sentence, cell or card with a sum or a distance also tells its range, its chance or its day."""
    places = [f"{card.label} {card.figure} {card.note}" for card in brief.cards]
    for section in brief.sections:
        places += [
            sentence
            for text in [*section.paragraphs, *section.bullets]
            for sentence in re.split(r"(?<=[a-z0-9)])[.:] ", text)
            if "Taken as given" not in text
        ]
        for table in section.tables:
            places += [" ".join([*table.head, *row]) for row in table.rows]
    # Follows from two figures beside it on the page; what came in is what the fund's book says it was.
    known = ("Still to come in", "came into the fund", "must still come in", "Must come in")
    bare = [
        p
        for p in places
        if FIGURE.search(p) and not RANGE_OR_DAY.search(p) and not any(k in p for k in known)
    ]
    assert bare == []


def test_words_read_at_ninth_grade_or_easier(brief):
    """Flesch-Kincaid, automated readability and Coleman-Liau of the brief's own sentences (textstat)."""
    words = own_text(brief)
    assert len(words.split()) > 300
    assert textstat.flesch_kincaid_grade(words) <= 9
    assert textstat.automated_readability_index(words) <= 9
    assert textstat.coleman_liau_index(words) <= 9


def test_caution_stands_in_every_brief_whatever_the_settings(case):
    brief = compose(case, BriefSettings(title="t", intro="i"), MADE_ON)
    assert brief_words.CAUTION in render_html(brief)
    assert "never replaces inspection" in pdf_text(render_pdf(brief))


def test_nothing_promises(brief):
    words = own_text(brief) + " ".join(card.note for card in brief.cards)
    assert not re.search(r"guarantee|certain(?:ly)?\b|we promise|will not fail|safe until", words, re.I)


def pdf_text(content):
    from io import BytesIO

    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_pdf_has_two_pages_of_the_paper_asked_for(brief, paper, size):
    from io import BytesIO

    reader = PdfReader(BytesIO(render_pdf(brief, paper=paper)))
    assert len(reader.pages) == 2
    assert tuple(float(side) for side in reader.pages[0].mediabox[2:]) == pytest.approx(size, abs=0.1)
    assert reader.metadata.title == brief.title


PLAN = (Excursion("fall colors", 62.0, 4, 240), Excursion("winter trains", 18.0, 10, 150))


def test_excursions_are_told_with_the_cost_of_a_mile_and_add_up(case):
    brief = compose(case, BriefSettings(excursions=PLAN), MADE_ON)
    part = next(part for part in brief.sections if part.heading == brief_words.MILE_HEADING)
    told = part.tables[-1]
    assert [row[0] for row in told.rows] == ["fall colors", "winter trains"]
    assert told.total == ["All together", "14", "428 miles", "$642", "$556 to $770"]  # 428 mi × 1.3, 1.5, 1.8
    assert sum(column(told, 3)) == money(told.total[3])
    assert "Each of the 2,460 seats sold must carry $0.26 of it ($0.23 to $0.31)" in part.paragraphs[-1]
    assert "at the prices of 31 October 2026" in part.paragraphs[-1]
    from io import BytesIO

    assert len(PdfReader(BytesIO(render_pdf(brief))).pages) == 2


def test_a_single_excursion_is_told_by_component(case):
    cost = cost_of_excursions(case.mile, PLAN[:1])
    brief = compose(case, BriefSettings(excursions=PLAN[:1]), MADE_ON)
    told = next(part for part in brief.sections if part.heading == brief_words.MILE_HEADING).tables[-1]
    assert [row[:2] for row in told.rows] == [["driver tire: cut", "$198"], ["crown brass: renewed", "$174"]]
    assert told.total[1] == "$372"
    assert rounded_parts(cost)["mean"].tolist() == [198, 174, 372]


@given(st.lists(st.floats(0.0001, 5.0), min_size=1, max_size=40), st.floats(0.1, 2000.0), st.integers(1, 366))
@settings(max_examples=60, deadline=None)
def test_printed_parts_of_any_excursion_add_up(means, miles, days):
    mile = pd.DataFrame(
        {"component": [f"part {i}" for i in range(len(means))] + ["all"], "action": "renewed", "jobs": 1}
    )
    mile = mile.assign(mean=[*means, sum(means)], share=0.0, points=[[]] * len(mile))
    mile = mile.assign(p10=0.8 * mile["mean"], p90=1.2 * mile["mean"])
    shown = parts_table(cost_of_excursions(mile, [Excursion("x", miles, days)]), EN)
    assert sum(column(shown, 1)) == money(shown.total[1])
    assert all(" to " in row[2] for row in shown.rows)


def test_pdf_and_html_hold_the_same_words(brief):
    printed = " ".join(pdf_text(render_pdf(brief)).split())
    page = " ".join(re.sub(r"<[^>]+>", " ", render_html(brief)).split())
    for section in brief.sections:
        assert section.heading in printed
        assert section.heading.replace("'", "&#39;") in page
    for text in ("$148,000", "$131,000", "$52,300", "$95,700"):
        assert text in printed
        assert text in page


def test_html_is_self_contained(brief):
    page = render_html(brief)
    assert "<script" not in page
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!data:|#)""", page)
    assert not re.search(r"url\((?!#)", page)
    assert "default-src 'none'" in page


NASTY = [
    "<script>alert(1)</script>",
    '#panic("x") #read("/etc/passwd") $ x $ *bold* _it_ @ref <label> `raw` // c \\',
    "{{ 7 * 7 }} {% raw %} {# #}",
    '"><img src=x onerror=alert(1)>',
    "]]> & &amp; <!-- -->",
    "Zwölf Žluťoučký κόσμος № 12 – ‘quoted’",
    "a\x00b\x1bc\u202e\ufffe",
    "#" * 50 + "[" * 50,
]


@pytest.mark.parametrize("text", NASTY)
def test_what_users_write_is_shown_as_it_is_and_does_nothing(case, text):
    brief = compose(case, BriefSettings(title=text, intro=text, railway=text), MADE_ON)
    page = render_html(brief)
    assert "<script>" not in page
    assert "<img src=x" not in page
    assert "49" not in re.search(r"<h1>(.*?)</h1>", page).group(1)
    ElementTree.fromstring(campaign_svg(campaign_of(case, BriefSettings(title=text)), EN))
    printed = pdf_text(render_pdf(brief))
    for word in re.findall(r"[A-Za-z]{4,}", text):
        assert word in printed.replace("\n", "")


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=60))
def test_any_text_makes_a_brief(case, text):
    brief = compose(case, BriefSettings(title=text, intro=text, railway=text), MADE_ON)
    assert render_pdf(brief)[:5] == b"%PDF-"
    assert render_html(brief).count("<h1>") == 1


def test_component_names_from_the_data_do_nothing_either():
    nasty = "<b>tire</b> #box"
    case = example()
    case = replace(
        case,
        remaining=case.remaining.assign(label=nasty),
        lines=case.lines.assign(component=nasty),
        gifts=case.gifts.assign(component=nasty),
    )
    brief = compose(case, BriefSettings(), MADE_ON)
    page = render_html(brief)
    assert "<b>tire" not in page
    assert "&lt;b&gt;tire&lt;/b&gt; #box" in page
    ElementTree.fromstring(brief.sections[0].picture)
    assert "#box" in pdf_text(render_pdf(brief))


PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c4890000000d49444154789c6360606060000000050001a5f64540"
    "0000000049454e44ae426082"
)


def test_logo_is_in_both(case):
    logo = check_logo(PNG, "logo.png")
    brief = compose(case, BriefSettings(railway="Fernmoor"), MADE_ON)
    assert 'src="data:image/png;base64,' in render_html(brief, logo)
    assert render_pdf(brief, logo=logo).count(b"/Image") > render_pdf(brief).count(b"/Image")
    drawing = check_logo(
        b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>',
        "l",
    )
    assert render_pdf(brief, logo=drawing)[:5] == b"%PDF-"


def test_a_broken_logo_is_the_users_to_mend(case):
    from ingest.errors import UnreadableFile

    brief = compose(case, BriefSettings(), MADE_ON)
    with pytest.raises(UnreadableFile, match="cannot be drawn"):
        render_pdf(brief, logo=check_logo(PNG[:40] + b"\0" * 40, "broken.png"))


def test_other_languages_of_numbers(case):
    page = render_html(compose(case, BriefSettings(numbers="de"), MADE_ON))
    assert "148.000\xa0$" in page
    assert "3.900" in page


def test_picture_tells_the_window_and_each_component(case):
    shown = RemainingPicture(case.seasons, case.remaining, 3_900.0, OPENS)
    picture = remaining_picture(shown, EN)
    texts = [node.text for node in ElementTree.fromstring(picture).iter() if node.tag.endswith("text")]
    assert "work planned: Nov 2027" in texts
    assert "2,500–6,100 mi" in texts
    assert {"2027", "2028", "driver tire", "crown brass"} <= set(texts)


def test_bars_are_as_long_as_the_miles(case):
    shown = RemainingPicture(case.seasons, case.remaining, 3_900.0, OPENS)
    root = ElementTree.fromstring(remaining_picture(shown, EN))
    sure = [
        float(r.get("width")) for r in root.iter() if r.tag.endswith("rect") and r.get("fill") == "#1f5a6e"
    ]
    assert sure[1] / sure[0] == pytest.approx(3_100 / 2_512, rel=1e-3)


def test_picture_of_many_components_counts_those_left_out():
    many = pd.DataFrame({"label": [f"part {i}" for i in range(12)], "note": "one place"})
    many = many.assign(p10=[1000.0 + i for i in range(12)], p50=2000.0, p90=3000.0)
    case = example(remaining=many)
    picture = remaining_picture(RemainingPicture(case.seasons, many, 3_900.0, OPENS), EN)
    assert "and 5 more that last longer" in picture
    assert "part 0" in picture
    assert "part 11" not in picture


def test_progress_picture_is_to_scale(case):
    campaign = campaign_of(case, BriefSettings())
    root = ElementTree.fromstring(campaign_svg(campaign, EN))
    boxes = {r.get("fill"): float(r.get("width")) for r in root.iter() if r.tag.endswith("rect")}
    assert boxes["#ffffff"] == 720  # its own ground, whatever page it stands on
    assert boxes["#1f5a6e"] / boxes["#f1f4f5"] == pytest.approx(52_300 / 148_000, rel=1e-3)
    assert boxes["url(#stripes)"] / boxes["#f1f4f5"] == pytest.approx(8_000 / 148_000, rel=2e-3)
    png = campaign_png(campaign, EN)
    assert png.startswith(b"\x89PNG")


@pytest.mark.parametrize("in_hand", [52_300.0, 148_000.0, 180_000.0, 400_000.0])
def test_marks_of_the_progress_picture_leave_what_is_in_hand_readable(case, in_hand):
    campaign = replace(campaign_of(case, BriefSettings()), in_hand=in_hand, promised=30_000.0)
    root = ElementTree.fromstring(campaign_svg(campaign, EN))
    label = next(t for t in root.iter() if t.tag.endswith("text") and (t.text or "").endswith("in hand"))
    foot = float(label.get("y"))
    marks = [each for each in root.iter() if each.get("stroke") == "#b3541e"]
    assert len(marks) == 2
    for mark in marks:
        top, bottom = float(mark.get("y1")), float(mark.get("y2"))
        assert bottom < foot - 12 or top > foot + 2


@pytest.mark.parametrize("in_hand", [0.0, -500.0, 1_000.0, 148_000.0, 400_000.0])
def test_progress_picture_holds_for_any_fund(in_hand):
    case = example(fund=FundPosition(AS_OF, in_hand, 0.0, 0.0, 0.0))
    brief = compose(case, BriefSettings(), MADE_ON)
    assert render_pdf(brief)[:5] == b"%PDF-"
    assert min(float(r.get("width", 1)) for r in ElementTree.fromstring(brief.progress).iter()) >= 0


def test_case_without_rate_or_days_still_reads(case):
    bare = replace(case, rate=None, chance_in_time=None, day=None, miles_per_day=float("nan"))
    bare = replace(bare, delays=bare.delays.assign(days_lost_mean=float("nan"), days_lost_p80=float("nan")))
    brief = compose(bare, BriefSettings(), MADE_ON)
    assert "Too few gifts" in own_text(brief)
    assert "nan" not in render_html(brief).replace("finance", "")


@pytest.mark.parametrize(
    ("p10", "p50", "says"),
    [
        (0.0, 10.0, "In 5 of 10 cases it is at its limit by now"),
        (10.0, 900.0, "In 1 of 10 cases it is at its limit by now"),
        (600.0, 900.0, "In 9 of 10 cases it is good for 600 more miles"),
    ],
)
def test_first_part_to_watch_is_told_as_it_is(case, p10, p50, says):
    remaining = case.remaining.iloc[[0]].assign(p10=p10, p50=p50, p90=6_700.0)
    bullet = compose(replace(case, remaining=remaining), BriefSettings(), MADE_ON).sections[1].bullets[0]
    assert says in bullet
    assert "In 1 of 10 it lasts beyond 6,700 more miles" in bullet


def test_parts_at_their_limit_are_told_first(case):
    brief = compose(replace(case, at_limit=("A", "B")), BriefSettings(), MADE_ON)
    assert any("2 places are most likely at the limit now" in text for text in brief.sections[0].bullets)


def test_waiting_is_told_by_season(case):
    table = delay_table(case, rounded(case), EN)
    assert [row[0] for row in table.rows] == ["Nov 2027, as planned", "Nov 2028", "Nov 2029", "Nov 2030"]
    assert table.rows[1][2:4] == ["$6,800 to $13,600", "$4,000 to $6,000"]
    assert table.rows[0][4] == "3 of 10"
    assert [row[5] for row in table.rows[:2]] == ["about 3 (up to 5)", "about 31 (up to 50)"]
    rare = case.delays.assign(days_lost_mean=[2.0, 0.0, 5.0, 9.0], days_lost_p80=[0.0, 0.0, 7.0, 12.0])
    rows = delay_table(replace(case, delays=rare), rounded(case), EN).rows
    assert [row[5] for row in rows[:3]] == ["none in 8 of 10", "none", "about 5 (up to 7)"]


def test_gifts_are_told_in_real_units(case):
    rows = gift_table(case, EN).rows
    assert rows[0] == ["10 miles of the whole engine", "$15", "$13 to $18"]
    assert rows[2] == ["one driver tire: cut", "$1,010", "$880 to $1,190"]


def test_brief_needs_neither_network_nor_system_fonts(tmp_path):
    """In a process of its own: no socket may be opened, and no font outside the writer is looked for."""
    script = (
        "import socket, sys, importlib.util\n"
        "def no(*a, **k): raise OSError('network')\n"
        "socket.socket.connect = no; socket.getaddrinfo = no\n"
        f"spec = importlib.util.spec_from_file_location('t', {__file__!r})\n"
        "t = importlib.util.module_from_spec(spec); spec.loader.exec_module(t)\n"
        "b = t.compose(t.example(), t.BriefSettings(), t.MADE_ON)\n"
        "assert t.render_pdf(b).startswith(b'%PDF-') and t.render_html(b)\n"
        "t.campaign_png(t.campaign_of(t.example(), t.BriefSettings()), t.EN)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
