"""Sentences of the brief: what they say, how hard they read, what they never say."""

import re
from dataclasses import replace

import pandas as pd
import pytest
import textstat
from briefs.example_case import MADE_ON, own_text

from dashboard.papers.brief import BriefSettings, compose, render_html
from dashboard.papers.brief_words import in_all_words


def test_brief_says_its_dates_and_versions(brief):
    assert "Made on 12 November 2026" in brief.footer
    assert "data version 14" in brief.footer
    assert "as of 31 October 2026" in brief.footer


def test_chances_are_told_as_frequencies(brief):
    words = own_text(brief)
    assert "3 times in 10, a part behind rods or under wheels that this work renews" in words
    assert "8 times in 10" in words
    assert "At that pace each bill finds its money 1 time in 10" in words
    assert "%" not in words.replace("3%", "")  # the stated assumption alone is in percent


FIGURE = re.compile(r"\$[\d,]+(?:\.\d\d)?|\d[\d,]*(?= (?:more )?miles)")
RANGE_OR_DAY = re.compile(
    r"as of|times? in [12]0|\bto (?:\$)?[\d,]+|planned|10 miles of the whole|miles of wear|fund holds"
)


def test_no_figure_stands_without_its_range_or_its_day(brief):
    """Each sentence, cell or card with a sum or a distance also tells its range, its chance or its day."""
    places = [f"{card.label} {card.figure} {card.note}" for card in brief.cards]
    for section in brief.sections:
        places += [
            sentence
            for text in [*section.paragraphs, *section.bullets]
            for sentence in re.split(r"(?<=[a-z0-9)])[.:] ", text)
            if "Assumed: " not in text
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


def test_nothing_promises(brief):
    words = own_text(brief) + " ".join(card.note for card in brief.cards)
    assert not re.search(r"guarantee|certain(?:ly)?\b|we promise|will not fail|safe until", words, re.I)


def test_case_without_rate_or_days_still_reads(case):
    bare = replace(case, rate=None, chance_in_time=None, day=None, miles_per_day=float("nan"))
    bare = replace(bare, delays=bare.delays.assign(days_lost_mean=float("nan"), days_lost_p80=float("nan")))
    brief = compose(bare, BriefSettings(), MADE_ON)
    assert "Too few gifts" in own_text(brief)
    assert "nan" not in render_html(brief).replace("finance", "")


@pytest.mark.parametrize(
    ("p10", "p50", "says"),
    [
        (0.0, 10.0, "5 times in 10 it is at its limit by now"),
        (10.0, 900.0, "1 time in 10 it is at its limit by now"),
        (600.0, 900.0, "9 times in 10 it is good for 600 more miles"),
    ],
)
def test_first_part_to_watch_is_told_as_it_is(case, p10, p50, says):
    remaining = case.remaining.iloc[[0]].assign(p10=p10, p50=p50, p90=6_700.0)
    bullet = compose(replace(case, remaining=remaining), BriefSettings(), MADE_ON).sections[1].bullets[0]
    assert says in bullet
    assert "1 time in 10 it lasts beyond 6,700 more miles" in bullet


def test_parts_at_their_limit_are_told_first(case):
    brief = compose(replace(case, at_limit=("A", "B")), BriefSettings(), MADE_ON)
    assert any(
        "2 wear points are at the limit now, as last read or most likely" in text
        for text in brief.sections[0].bullets
    )


def test_the_pace_asked_for_is_the_money_to_come_in_over_the_months_that_are_left(brief):
    """Bills of 38,000 are paid from the fund; the last, of 110,212 in November 2027, needs 95,894 more."""
    assert brief.cards[3].figure == "$95,700"
    assert brief.cards[3].note == "about $6,800 a month for 14 months"


def test_what_waiting_is_good_for_is_told_with_its_range(case):
    text = compose(case, BriefSettings(), MADE_ON).sections[4].paragraphs[0]
    assert "One season of that is worth $700 to $1,200." in text
    little = case.delays.assign(worth_p90=40.0)
    without = compose(replace(case, delays=little), BriefSettings(), MADE_ON).sections[4].paragraphs[0]
    assert "Waiting has one good side" not in without


def in_all(opening, hidden):
    means = [2.304, opening, hidden, 2.304 + opening + hidden]
    what = ["parts that wear", "opening the engine", "hidden damage", "all"]
    return pd.DataFrame({"what": what, "mean": means}).assign(p10=0.9, p90=7.0)


def test_a_mile_in_all_is_told_as_parts_that_add_up_as_printed():
    words = in_all_words(in_all(1.104, 0.304), "${:.2f}".format, 0.01)
    assert words == (
        " Opening the engine to renew them adds $1.10, and damage that only then shows $0.30: "
        "$3.70 in all ($0.90 to $7.00)."
    )  # 2.304 + 1.104 + 0.304 is 3.712; the parts printed, 2.30 and 1.10 and 0.30, add up to 3.70


def test_hidden_damage_that_nobody_recorded_is_not_told_as_none():
    words = in_all_words(in_all(1.104, 0.0), "${:.2f}".format, 0.01)
    assert words == (
        " Opening the engine to renew them adds $1.10: $3.40 in all ($0.90 to $7.00). Damage that only then "
        "shows is not in it: no opening on record tells of any."
    )


def test_nothing_is_said_to_come_on_top_where_nothing_does():
    assert in_all_words(in_all(0.0, 0.0), "${:.2f}".format, 0.01) == ""
    assert in_all_words(in_all(1.0, 1.0).iloc[:0], "${:.2f}".format, 0.01) == ""
