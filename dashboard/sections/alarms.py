"""Alarms of a forecast, as pages list them."""

from typing import Any

import pandas as pd
import streamlit as st

from dashboard.screen import show
from dashboard.words.alarm_words import alarm_list, points_in_words
from dashboard.words.units_shown import Units

WORDS = {"words": "What", "points": "Wear points", "read": "Readings", "vehicle": "Vehicle", "since": "Since"}
"""What happened stands first: on a telephone the other columns are beyond the edge."""

_SHOWN = 3
"""Readings of an alarm that are listed; the others are counted."""


def alarm_table(alarms: pd.DataFrame, units: Units, key: str) -> str | None:
    """A table of alarms, the readings that raised each beside it; the first wear point of the one picked.

    Parameters
    ----------
    alarms : the frame ``alarms`` of a forecast run; nothing is shown where it is empty.
    """
    if alarms.empty:
        return None
    listed = alarm_list(alarms)
    waiting = [item for item in listed if not item["settled"]]
    settled = [item for item in listed if item["settled"]]
    picked = None
    if waiting:
        count = "1 alarm" if len(waiting) == 1 else f"{len(waiting):,} alarms"
        st.warning(
            f"**{count} of this forecast.** Each is taken into account as far as it can be. Look at what is "
            "named, and measure again where you can.",
            icon=":material/notification_important:",
        )
        picked = _table(waiting, units, key)
    if settled:
        with st.expander(f"Odd readings that later ones settled: {len(settled):,}"):
            row = _table(settled, units, f"{key}-settled")
            picked = picked or row
    return picked


def _table(listed: list[dict[str, Any]], units: Units, key: str) -> str | None:
    """The alarms; the first wear point of the one picked."""
    shown = pd.DataFrame(
        {
            "words": [item["words"] for item in listed],
            "points": [points_in_words(item["points"]) for item in listed],
            "read": [_readings(item["readings"], units) for item in listed],
            "vehicle": [item["vehicle"] for item in listed],
            "since": [pd.Timestamp(item["since"]) for item in listed],
        }
    )
    picked = show.table(shown, key, words=WORDS, alt_text="Alarms of this forecast", pick=f"{key}-picked")
    return None if picked is None else str(listed[picked]["points"][0])


def _readings(read: list[dict[str, Any]], units: Units) -> str:
    """``2024-05-01: 0.31 in, ...``, the first of them."""
    texts = [f"{item['date']}: {units.text(item['value'], item['unit'])}" for item in read[:_SHOWN]]
    more = len(read) - _SHOWN
    return ", ".join(texts) + (f" and {more:,} more" if more > 0 else "")
