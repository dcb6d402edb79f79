"""The part of the case's page where an excursion is typed, and what it uses up is read."""

import math

import pandas as pd
import streamlit as st

from dashboard.papers.excursion_words import part_words, rounded_parts, sentence
from dashboard.screen import address, show
from dashboard.screen.in_view import InView
from dashboard.sections.case_lines import points_below
from dashboard.services.excursion_plan import MOST_DAYS, MOST_MILES, MOST_SEATS
from dashboard.words.numbers import numbers, round_miles
from dashboard.words.records import rows_of
from dashboard.words.units_shown import DISTANCES
from ingest.units import DISTANCE_MI
from models.case.case import Case
from models.case.excursion import SUMS, Excursion, cost_of_excursions

USUAL_MILES = 60.0
"""Miles of a running day where the log tells none, to begin with. [mi]"""
RANGE = {"p10": "From", "p90": "To"}


def excursion(case: Case, view: InView) -> None:
    """An excursion typed, its cost in words, and by component down to the wear points."""
    st.subheader("What an excursion uses up")
    typed = _typed(case, view)
    cost = cost_of_excursions(case.mile, [typed], case.mile_whole)
    shown = numbers("en", case.currency)
    unit = DISTANCES[view.units.distance]
    words = sentence(cost, case, shown, lambda miles: f"{shown.whole(view.units.miles(miles))} {unit}")
    st.markdown(show.plain(words))
    parts = rounded_parts(cost)
    parts = pd.concat([parts.tail(1), parts.iloc[:-1]], ignore_index=True)
    parts = parts.assign(part=[part_words(row) for row in rows_of(parts)])
    heads = {"part": "Parts that wear", "mean": f"Uses up about [{case.currency}]"} | RANGE
    money = st.column_config.NumberColumn(format="localized")
    picked = show.table(
        parts,
        "excursion",
        words=heads,
        alt_text="What the excursion uses up, by component",
        pick="excursion-part",
        formats={heads[name]: money for name in SUMS},
        height=320,
    )
    st.caption(
        "Pick a line to see its wear points. From, to: 8 times in 10. The ranges of the parts do not add "
        "up to that of the whole, as seldom do all parts wear fast together."
    )
    if picked is not None:
        points_below(list(parts["points"].iloc[picked]), view, "excursion-points")


def _typed(case: Case, view: InView) -> Excursion:
    usual = case.miles_per_day
    usual = float(round_miles(usual)) if math.isfinite(usual) and usual >= 1 else USUAL_MILES
    cells = st.columns(3)
    unit = view.units.distance
    with cells[0]:
        miles = address.number(
            f"Distance of a running day [{unit}]",
            "trip",
            default=usual,
            least=1.0,
            most=MOST_MILES,
            per=DISTANCE_MI[unit],
            whole=False,
        )
    with cells[1]:
        days = address.number("Running days", "trip-days", default=1, least=1, most=MOST_DAYS)
    with cells[2]:
        seats = address.number(
            "Seats sold each day",
            "trip-seats",
            default=0,
            least=0,
            most=MOST_SEATS,
            help="Leave it at 0 where it is not known: then nothing is said of a seat.",
        )
    return Excursion("excursion", miles, int(days), int(seats))
