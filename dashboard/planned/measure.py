"""What to measure first, as a round in walking order."""

import pandas as pd
import streamlit as st

from dashboard.screen import address, data, show
from dashboard.screen.components import month
from dashboard.sections.window import of_vehicle
from dashboard.words.measure_words import carried_words, round_of, round_words
from models.case.money import only_currency

USUAL = "fifth"
MINUTES = {USUAL: "the first fifth of the list", "30": "30 minutes", "60": "an hour", "120": "two hours"}
"""How long a round may take, as it is offered."""


def measure_first(plan: str, vehicle: str) -> None:
    """Section: the readings that save most for the minutes that they take, as they are walked to."""
    table = data.frame_if_any(plan, "measure_first")
    own = table[table["vehicle"] == vehicle] if "vehicle" in table else table
    if own.empty:
        return
    st.subheader("What to measure first?")
    asked = address.pick(
        st.selectbox, "How long the round may take", list(MINUTES), "round", words=MINUTES.__getitem__
    )
    currency = only_currency(of_vehicle(plan, "scope", vehicle)["currency"])
    walk = round_of(own, None if asked == USUAL else float(asked))
    st.markdown(
        show.plain(
            f"A reading saves where it may change the plan: a part that need not be renewed yet, or must be"
            f" sooner. {round_words(own, walk, currency)}"
        )
    )
    for said in carried_words(walk, currency):
        st.markdown(f"- {show.plain(said)}")
    if walk.empty:
        return
    saves = f"May save, {currency}" if currency else "May save"
    head = ["In walking order", "Last read", "Minutes", saves]
    show.words_table(head, _rows(walk), alt_text="Readings to take first, in walking order", words=2)
    show.downloads(_file(walk), f"measure-first-{vehicle}".replace("/", "-"))


def _rows(walk: pd.DataFrame) -> list[list[str]]:
    return [
        [
            f"{place}. {row['component']} {row['position']}, {row['quantity']}",
            month(row["last_date"]) or "never",
            f"{row['minutes']:,.0f}",
            f"{row['saves']:,.0f}",
        ]
        for place, row in enumerate(walk.to_dict("records"), start=1)
    ]


def _file(walk: pd.DataFrame) -> pd.DataFrame:
    names = ["point", "component", "position", "quantity", "last_date", "minutes", "saves", "rank"]
    return walk[names].reset_index(drop=True)
