"""Readings far from what the forecast before them expected, as pages show them."""

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.services.after_add import MOST_POINTS, Noticed
from dashboard.words.noticed import expected_range, finding_lines, left_out_words, settled
from dashboard.words.units_shown import RailwayUnits, Units
from ingest.verdicts.remeasure import AGAIN

WORDS = {
    "point": "Wear point",
    "date": "Read on",
    "read": "Read",
    "expected": "Expected (8 times in 10)",
    "settled": "What to do",
}


def listed(found: pd.DataFrame, units: Units) -> pd.DataFrame:
    """Marked readings as people read them.

    Parameters
    ----------
    found : ``ingest.verdicts.remeasure.COLUMNS``, values in the wear points' own units.
    """
    rows = found.to_dict("records")
    return found.assign(
        read=[units.text(row["value"], row["unit"]) for row in rows],
        expected=[
            " to ".join(
                units.text(end, row["unit"]) for end in expected_range(row["expected"], row["expected_sd"])
            )
            for row in rows
        ],
        settled=[settled(row["state"]) for row in rows],
    )


def after_batch(noticed: Noticed | None, units: Units) -> None:
    """What the readings of a batch just stored say, beneath its verdicts."""
    if noticed is None:
        return
    found = noticed.unexpected
    if len(found):
        waiting = int((found["state"] == AGAIN).sum())
        if waiting:
            st.warning(
                f"**Measure again: {waiting:,}.** Stored as read, but far from what the last forecast "
                "expected.",
                icon=":material/straighten:",
            )
        else:
            st.info("Readings far from what was expected are settled by others that came in.")
        show.table(
            listed(found, units), "measure-again", words=WORDS, alt_text="Readings far from what was expected"
        )
    lines = finding_lines(noticed.findings, RailwayUnits(units) if units.length != "sheet" else noticed.units)
    if lines:
        st.warning("**Found wrong by checks across wear points since this batch:**")
        st.markdown("\n".join(f"- {show.plain(line)}" for line in lines))
        st.page_link("views/fit.py", label="All of what must agree", icon=":material/rule:")
    if noticed.left_out:
        st.info(show.plain(left_out_words(noticed.left_out, MOST_POINTS)))


def page(units: Units) -> str | None:
    """All readings that wait to be measured again; the wear point picked in the list."""
    found = data.unexpected()
    waiting = found[found["state"] == AGAIN].reset_index(drop=True)
    st.markdown(
        "A reading far from what the forecast before it expected is stored like any other. A second one "
        "settles it: if both agree they stand, if the second is as expected the first was wrong and can be "
        "withdrawn on the page of its wear point."
    )
    if waiting.empty:
        st.success("No reading waits to be measured again.")
    picked = None
    if len(waiting):
        picked = show.table(
            listed(waiting, units),
            "measure-again",
            words=WORDS,
            alt_text="Readings to be measured again",
            pick="again-table",
        )
    done = found[found["state"] != AGAIN]
    if len(done):
        with st.expander(f"Settled: {len(done):,}"):
            show.table(listed(done, units), "settled", words=WORDS, alt_text="Readings that others settled")
    return None if picked is None else str(waiting["point"].iloc[picked])


def of_point(found: pd.DataFrame, units: Units) -> None:
    """The warning on the page of a wear point whose reading waits to be measured again."""
    for row in listed(found[found["state"] == AGAIN], units).to_dict("records"):
        words = f"{row['date']:%-d %B %Y}, {row['read']}; expected were {row['expected']} 8 times in 10"
        st.warning(
            f"**Measure again.** {show.plain(words)}. A second reading settles it.",
            icon=":material/straighten:",
        )


def remarks(story: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    """The events of a wear point, with what became of marked readings in the column ``verdict``."""
    said = dict(zip(found["row_id"], found["state"], strict=True))
    words = [said.get(row, verdict) for row, verdict in zip(story["row_id"], story["verdict"], strict=True)]
    return story.assign(verdict=pd.Series(words, story.index, dtype="str"))
