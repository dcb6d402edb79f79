"""The parts of one wear point's page."""

import re

import numpy as np
import pandas as pd
import streamlit as st

from dashboard.pictures import charts
from dashboard.pictures.drawing import LOOKS
from dashboard.screen import data, show
from dashboard.screen.components import month
from dashboard.screen.in_view import InView
from dashboard.services.states import LIKELY
from ingest.units import from_base
from models.distribution import PROBABILITIES
from models.frequency import times_in

PAST = "past its limit now"
ALARMS = {
    "likely": "It has more likely than not passed its limit already. Measure again before the vehicle runs.",
    "past": "Its last reading is at its limit or past it. Measure again before the vehicle runs.",
    "implausible": "Its last reading cannot be right: far outside what this point can be. Read it again.",
}
SHOWN_TO = 0.99
"""The curve of remaining miles ends here: the last hundredth of parts would squeeze the rest. [1]"""
NINE_IN_TEN = 1.2815515655446004
"""Normal quantile of 0.9: 8 in 10 lie so many standard deviations about the middle at most. [1]"""
MOST_OFFERED = 2_000
"""Wear points offered in one list; a browser takes seconds over a longer one."""


def at_a_glance(view: InView, row: pd.Series) -> None:
    """State, miles and dates."""
    if pd.isna(row["miles_p50"]):
        st.warning(f"How far it will run cannot be told: {show.plain(row['flags'])}.", icon=":material/help:")
        return
    if row["state"] in ALARMS:
        st.error(_alarm(row), icon=":material/block:")
    low, middle = (view.units.within_text(row[name]) for name in ("miles_p05", "miles_p50"))
    last = row["last_date"]
    for cell, (word, figure, beside) in zip(
        st.columns(4),
        [
            (
                "Last reading",
                view.units.text(row["last_value"], row["unit"]),
                f"{last:%-d %b %Y}" if pd.notna(last) else "",
            ),
            ("1 in 20 at the limit by", low, month(row["date_p05"])),
            ("Half at the limit by", middle, month(row["date_p50"])),
            ("How soon", LOOKS[row["state"]].word, ""),
        ],
        strict=True,
    ):
        cell.metric(word, figure, beside or None, delta_color="off", delta_arrow="off")
    remarks = flag_words(str(row["flags"]))
    if remarks:
        st.info(show.plain(remarks), icon=":material/info:")


def _alarm(row: pd.Series) -> str:
    """Why it may not run as it is, by the forecast or by the last reading alone."""
    by_forecast = row["state"] == "past" and row["p_beyond_now"] >= LIKELY
    return ALARMS["likely" if by_forecast else row["state"]]


def flag_words(flags: str) -> str:
    """The flags as a sentence, days as people write them; that it is past its limit is said already."""
    phrases = [phrase for phrase in flags.split("; ") if phrase and not phrase.startswith(PAST)]
    words = "; ".join(phrases)
    words = re.sub(r"\d{4}-\d\d-\d\d", lambda day: f"{pd.Timestamp(day.group()):%-d %b %Y}", words)
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def miles_left(view: InView, row: pd.Series) -> None:
    """The distribution of the remaining miles, as parts out of a hundred."""
    stored = data.frame_of_point(view.run_id, "distribution", str(row["point"]))
    if stored.empty:
        st.markdown("Nothing can be told yet.")
        return
    if row["miles_p50"] <= 0:
        st.markdown(f"The limit is passed already {times_in(row['p_beyond_now'])}.")
        return
    names = {
        f"{cases:.0f} times in 100": (cases, row[name])
        for cases, name in ((5.0, "miles_p05"), (50.0, "miles_p50"))
    }
    marks = pd.DataFrame(
        [
            (view.units.miles(miles), cases, f"{word}: {view.units.distance_text(miles)}")
            for word, (cases, miles) in names.items()
        ],
        columns=["distance", "cases", "name"],
    )
    shown = PROBABILITIES <= SHOWN_TO
    quantiles = view.units.miles(np.asarray(stored["remaining"].iloc[0], float))[shown]
    title = f"{view.units.distance} from {view.units.odometer_text(row['as_of_odometer'])} in all"
    said = "; ".join(marks["name"])
    picture = show.drawn(charts.remaining, quantiles, PROBABILITIES[shown], title, marks)
    show.chart(picture, f"miles-left-{row['point']}", alt_text=f"At the limit: {said}.")


def limits(view: InView, point: pd.Series) -> None:
    """The limit, where it comes from, and what a new part measures."""
    own, per = str(point["unit"]), float(point["per_base"])
    when = "may not run at this value" if point["condemned_when"] == "at" else "may not run beyond this value"
    names = {
        "condemning_limit": ("Condemning limit", f" ({when})"),
        "shop_limit": ("Shop limit", " (what leaves the shop is within it)"),
        "new_value": ("New part", ""),
    }
    parts = [
        f"**{word}** {show.plain(view.units.text(float(point[name]) * per, own))}{beside}"
        for name, (word, beside) in names.items()
        if pd.notna(point[name])
    ]
    source = show.plain(point["limit_source"] or "not stated: ask whoever set it")
    st.markdown(f"{' · '.join(parts)}. Source of the limit: {source}.")


def family(view: InView, row: pd.Series) -> None:
    """What the wear points that wear alike have taught, and whether that beats ruler and pencil."""
    its_family = data.frame_of_point(view.run_id, "state", str(row["point"]))
    if its_family.empty:
        return
    name = str(its_family["family"].iloc[0])
    taught = data.frame(view.run_id, "family")
    taught = taught[taught["family"] == name]
    if len(taught):
        learned = taught.iloc[0]
        st.markdown(
            f"Its family, *{show.plain(name)}*: {learned['lives']:.0f} lives, "
            f"{learned['readings']:.0f} readings. "
            f"The rate differs by about {100 * learned['spread']:.0f} % from life to life."
        )
    verdict = record_verdict(name)
    if verdict == "no better than the straight line":
        st.warning(
            "In this family the forecast has been no better than a straight line drawn with ruler and "
            "pencil. Trust it no more than that."
        )


def read_with(view: InView, name: str, row: pd.Series, version: int) -> None:
    """How far its readings are trusted, and what is on record of the gauges that they were taken with."""
    its_state = data.frame_of_point(view.run_id, "state", name)
    if its_state.empty:
        return
    unit = str(row["unit"])
    within = view.units.text(from_base(float(NINE_IN_TEN * its_state["sigma"].iloc[0]), unit), unit)
    said = f"Of 10 of its readings the forecast takes 8 to lie within {within} of what is there"
    used = set(data.readings_of_point(name)["gauge"].dropna())
    known = [f"{each['gauge']}: {each['says']}" for each in data.gauges(version) if each["gauge"] in used]
    st.markdown(show.plain("; ".join([said, *known])) + ".")


def record_verdict(name: str) -> str:
    """The track record's verdict on a family in the newest score; empty where nothing was scored."""
    runs = data.runs("score")
    if runs.empty:
        return ""
    rows = data.frame(str(runs["run_id"].iloc[0]), "by_family")
    rows = rows[(rows["family"] == name) & (rows["kind"] == "readings") & (rows["verdict"] != "")]
    return str(rows["verdict"].iloc[0]) if len(rows) else ""


def in_words(view: InView, row: pd.Series) -> str:
    """The picture in one sentence, for those who do not see it."""
    last, limit = (view.units.text(row[name], row["unit"]) for name in ("last_value", "condemning_limit"))
    count = f"{row['readings_used']} readings of {row['quantity']}"
    return f"{count}, the last {last}; the condemning limit is {limit}."
