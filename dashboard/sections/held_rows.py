"""The work list of rows held back: see why, correct, accept as it is, or dismiss."""

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.screen.questions import ask
from dashboard.sections.odometer import instrument_of
from dashboard.words.add_words import also_words
from ingest.errors import UserError
from ingest.schema import TABLES
from ingest.verdicts.corrections import accept, dismiss, mend, retry
from ingest.verdicts.held_groups import grouped, groups_of, settle_many
from ingest.verdicts.read_again import let_go_by

COLUMNS = {"file": "File", "sheet": "Sheet", "row": "Row", "table": "Table", "why": "Why"}
GROUPS = {"rows": "Rows", "table": "Table", "why": "Why, of the first", "files": "Files"}
SAID = "held-said"


def waiting() -> pd.DataFrame:
    """Rows held back that nobody has settled yet."""
    return data.held_waiting() if data.exists() else pd.DataFrame(columns=["held_id", *COLUMNS])


def page(held: pd.DataFrame) -> None:
    """The list; the row picked in it can be settled."""
    if SAID in st.session_state:
        st.success(st.session_state.pop(SAID))
    if held.empty:
        st.success("Nothing waits here: every row handed in was accepted or settled.")
        return
    _answer()
    shown = _of_group(held)
    st.markdown("Pick a row to correct it, accept it as it is, or dismiss it.")
    picked = show.table(
        shown,
        "held-back",
        words=COLUMNS,
        alt_text="Rows held back and why",
        pick="held-table",
        height=320 if len(shown) > 8 else "auto",
    )
    if picked is not None:
        settle(shown.iloc[picked])
    elif st.button("Check all of them again", help="What was added since may have put rows right."):
        stored, left = retry(data.store(), who=person().name)
        done(f"{stored:,} rows are stored now; {left:,} still wait.")


def _answer() -> None:
    """What rows wait to be told: an answer settles all rows of its question at once."""
    questions = data.questions_of_waiting()
    if questions:
        st.markdown("**What the sheets did not decide.** An answer stores the rows that wait for it.")
    for question in questions:
        if said := ask(question):
            with show.problems():
                gone, left = retry(data.store(), who=person().name, answers={question.id: said})
                done(f"Answered. {gone:,} rows no longer wait; {left:,} still do.")


def _of_group(held: pd.DataFrame) -> pd.DataFrame:
    """Rows by the reason for which they wait; those of the one that is picked, settled together."""
    groups = groups_of(held)
    if len(groups) == len(held):
        return held
    st.markdown("Rows that wait for one and the same reason are settled together: pick a reason.")
    picked = show.table(
        groups, "held-groups", words=GROUPS, alt_text="Reasons for which rows wait", pick="held-group",
        height=250 if len(groups) > 6 else "auto",
    )  # fmt: skip
    if picked is None:
        return held
    alike = grouped(held)
    alike = alike[alike["like"] == int(groups["like"].iloc[picked])]
    settle_together(alike)
    return held.loc[alike.index]


def settle_together(rows: pd.DataFrame) -> None:
    """All rows of one reason: one text put in one column of all, accepted or dismissed, as one batch."""
    st.subheader(f"{len(rows):,} rows that wait alike")
    st.error(show.plain(rows["why"].iloc[0]))
    table = str(rows["table"].iloc[0])
    with st.form(f"group-{rows['like'].iloc[0]}"):
        left, middle, right = st.columns([1, 1, 2])
        column = left.selectbox("In the column", TABLES[table].public, key="group-column")
        text = middle.text_input("put, in all of them", key="group-text")
        reason = right.text_input("Why (kept with the correction)", key="group-why")
        with st.container(horizontal=True):
            mended = st.form_submit_button("Correct all", type="primary")
            accepted = st.form_submit_button("Accept all as they are", disabled=not rows["can_accept"].all())
            dismissed = st.form_submit_button("Dismiss all")
    outcome = "mended" if mended else "accepted" if accepted else "dismissed" if dismissed else ""
    if not outcome:
        return
    changes = {column: text} if mended else None
    with show.problems():
        said = settle_many(
            data.store(), rows["held_id"].tolist(), outcome, changes, reason=reason, who=person().name
        )
        st.session_state.pop("held-group", None)
        left_over = f" {len(said.left):,} still wait: {next(iter(said.left.values()))}." if said.left else ""
        batch = "" if said.batch is None else f", as batch {said.batch}"
        done(show.plain(f"{len(said.settled):,} rows settled{batch}.{left_over}{also_words(said.also)}"))


def settle(row: pd.Series) -> None:
    """One row: what it said, why it was held back, and what is to become of it."""
    st.subheader(show.plain(f"{' '.join(filter(None, (row['file'], row['sheet'])))}, row {row['row']}"))
    st.error(show.plain(row["why"]))
    cells = {name: str(row["cells"].get(name, "")) for name in TABLES[str(row["table"])].public}
    held_id = int(row["held_id"])
    with st.form(f"held-{held_id}"):
        columns = st.columns(3)
        typed = {
            name: columns[place % 3].text_input(
                name, text, key=f"held-{held_id}-{name}", help=_help(name, str(row["table"]), cells)
            )
            for place, (name, text) in enumerate(cells.items())
        }
        reason = st.text_input("Why (kept with the correction)", key=f"held-{held_id}-why")
        with st.container(horizontal=True):
            mended = st.form_submit_button("Correct", type="primary")
            accepted = st.form_submit_button("Accept as it is", disabled=not row["can_accept"])
            dismissed = st.form_submit_button("Dismiss")
    who, store = person().name, data.store()
    try:
        if mended:
            changes = {name: text for name, text in typed.items() if text != cells[name]}
            batch = mend(store, held_id, changes, reason=reason, who=who)
            also = also_words(let_go_by(store, batch))
            done(f"Corrected and stored as batch {batch}. Forecast again to see what it changes.{also}")
        elif accepted:
            batch = accept(store, held_id, reason=reason, who=who)
            done(f"Stored as it is, as batch {batch}.{also_words(let_go_by(store, batch))}")
        elif dismissed:
            dismiss(store, [held_id], reason=reason, who=who)
            done("Dismissed. The row stays on record with your reason.")
    except UserError as error:
        st.error(show.plain(error))


def _help(name: str, table: str, cells: dict[str, str]) -> str | None:
    """What is typed as an odometer, with the last entry of the instrument beside."""
    if name != "odometer":
        return None
    vehicle = cells.get("vehicle", "")
    if table == "readings":
        points = data.table("wear_points")
        found = points.loc[points["point"] == cells["point"], "vehicle"]
        vehicle = str(found.iloc[0]) if len(found) else ""
    day = pd.to_datetime(cells.get("date", ""), errors="coerce")
    if not vehicle or pd.isna(day):
        return "What the instrument shows, in its own unit."
    its = instrument_of(vehicle, day.date())
    return f"What the instrument shows, in {its.unit}. Its last entry: {its.last}."


def done(message: str) -> None:
    """Say it on the next run, when the list is fresh."""
    st.session_state[SAID] = message
    st.session_state.pop("held-table", None)
    st.rerun()
