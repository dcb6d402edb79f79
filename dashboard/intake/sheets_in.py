"""Files handed in: first the look at how they are read, with what is asked about them; then the store."""

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import streamlit as st

from dashboard.intake import pointing
from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.screen.questions import ask
from dashboard.sections import taking_in
from dashboard.sections.odometer import last_entries
from dashboard.words.looked import asked_words, look_table
from ingest.errors import UserError, WrongUsage
from ingest.layouts.kept import kept_for, sheet_kind
from ingest.layouts.layout import parse_layout
from ingest.layouts.pointed import proposed, result_of
from ingest.layouts.propose import encoding_of, preview_text, propose_layout
from ingest.layouts.titles import names_on_record, with_title
from ingest.sheets.cells import RawCells
from ingest.sheets.readers import read_cells
from ingest.verdicts.add import add_rows, look_at_rows
from ingest.verdicts.handed_in import HandedIn, read_files
from ingest.verdicts.layout_advice import keep_layout
from ingest.verdicts.look_report import LookReport

ANSWERS, DONE, KEPT = "look-answers", "look-stored", "look-kept"
_KEPT_ROWS = 5_000
"""Rows up to which a look is kept until the next press of a button: some MB of a session."""
_SHOWN = 500
"""Rows of the look that are shown; the worst stand first."""
COLUMNS = {
    "state": "Verdict",
    "row": "Row",
    "point": "Wear point",
    "written_value": "Written",
    "value": "Value read",
    "unit": "Unit",
    "written_date": "Date written",
    "date": "Date read",
    "written_odometer": "Mileage written",
    "odometer": "Mileage read",
    "rest": "Other cells",
    "why": "Why",
    "place": "File",
}


@dataclass(frozen=True)
class InHand:
    """Files in hand: where they lie for now, and the layout of those that have one of their own.

    ``layouts`` is their text by file name, ``by`` what each is called, empty for one that is new;
    ``pointed_at``: whether a sheet is shown to be pointed at.
    """

    paths: Sequence[Path]
    layouts: Mapping[str, str] = field(default_factory=dict)
    by: Mapping[str, str] = field(default_factory=dict)
    pointed_at: bool = False


def page() -> None:
    """Choose files, see how they are read, answer what is asked, store them."""
    st.markdown(
        "CSV, XLSX or ODS: readings, mileage, work and the other tables, in any order, several at once. "
        "First you see how each row is read. Then every row ends **accepted**, **held back** with all "
        "reasons, or **already known**. Nothing is lost, and a batch can be undone."
    )
    if entries := last_entries(datetime.now(UTC).date()):
        st.caption(
            "An odometer in a sheet is what the instrument shows, in its own unit; over a replaced one the "
            f"count goes on by itself. Last entries: {show.plain(entries)}."
        )
    uploads = st.file_uploader("Files", type=taking_in.KINDS, accept_multiple_files=True, key="batch-files")
    if not uploads:
        st.session_state.pop(KEPT, None)
    else:
        with tempfile.TemporaryDirectory(prefix="milesleft-") as folder:
            paths = taking_in.keep_all(uploads, Path(folder))
            with show.problems():
                _looked_at(paths, [upload.file_id for upload in uploads])
    if taking_in.LAST in st.session_state:
        taking_in.report(st.session_state[taking_in.LAST])


def _looked_at(paths: Sequence[Path], uploaded: list[str]) -> None:
    """The look at files in hand, unless these very uploads were stored already."""
    if st.session_state.get(DONE) == uploaded:
        return
    in_hand = _with_layouts(paths)
    handed_in, problems = _read(in_hand)
    if handed_in is None:
        for words in problems if not in_hand.pointed_at else ():
            st.error(show.plain(words))
        return
    for item in handed_in.not_read:
        st.warning(show.plain(f"{item.file}{', ' + item.sheet if item.sheet else ''}: {item.reason}"))
    answers: dict[str, str] = st.session_state.setdefault(ANSWERS, {})
    look = _look(in_hand, handed_in, uploaded, answers)
    counts = look.rows["verdict"].value_counts()
    said = ", ".join(f"**{count:,}** {word}" for word, count in counts.items())
    st.subheader("How these files are read")
    rows = "1 row" if len(look.rows) == 1 else f"{len(look.rows):,} rows"
    st.markdown(f"{rows}: {said}. Nothing is stored yet.")
    _ask(look, answers)
    if _store(in_hand, handed_in, look, answers):
        st.session_state[DONE] = uploaded
        st.session_state.pop(KEPT, None)
        st.rerun()  # so that what stands above the button knows of the batch too
    _rows(look)


def _look(
    in_hand: InHand, handed_in: HandedIn, uploaded: Sequence[str], answers: dict[str, str]
) -> LookReport:
    """The look at these uploads, as it was a moment ago where nothing that it rests on has changed since."""
    asked = _rests_on(in_hand, uploaded, answers)
    kept = st.session_state.get(KEPT)
    if kept is not None and kept[0] == asked:
        look: LookReport = kept[1]
        return look
    try:
        look = look_at_rows(data.store(), handed_in, answers=answers)
    except WrongUsage:  # an answer to what another sheet asked
        answers.clear()
        look = look_at_rows(data.store(), handed_in)
        asked = _rests_on(in_hand, uploaded, answers)
    st.session_state[KEPT] = (asked, look) if len(look.rows) <= _KEPT_ROWS else None
    return look


def _rests_on(in_hand: InHand, uploaded: Sequence[str], answers: Mapping[str, str]) -> tuple[object, ...]:
    """All that a look depends on: the uploads, their layouts, the answers, the store, the day."""
    stored = data.stamp_of_store() if data.exists() else ()
    told = tuple(sorted(in_hand.layouts.items())), tuple(sorted(answers.items()))
    return (*uploaded, *told, stored, datetime.now(UTC).date())


def _read(in_hand: InHand) -> tuple[HandedIn | None, list[str]]:
    """The rows of all files; or why there are none."""
    of_file = {
        path: parse_layout(in_hand.layouts[path.name], path.name)
        for path in in_hand.paths
        if path.name in in_hand.layouts
    }
    try:
        return read_files(in_hand.paths, of_file=of_file), []
    except UserError as error:
        return None, str(error).splitlines()


def _with_layouts(paths: Sequence[Path]) -> InHand:
    """The files with the layouts that were kept for their make, or that are pointed out here."""
    layouts, by, pointed_at = {}, {}, False
    kept = data.table("layouts") if data.exists() else pd.DataFrame()
    for path in paths:
        sheets, unread = _sheets(path), _unread(path)
        names = kept_for(sheets, kept) if sheets and len(kept) else []
        texts = dict(zip(kept["layout"], kept["content"], strict=True)) if len(kept) else {}
        if not unread and not names:
            if sheets and not st.toggle(
                f"Point out how {show.plain(path.name)} is arranged", key=f"own-{path.name}"
            ):
                continue
        elif names:
            other = "read it otherwise"
            said = st.selectbox(
                f"{show.plain(path.name)} has a layout that is known: it is read by",
                [*names, other],
                key=f"kept-{path.name}",
            )
            if said != other:
                layouts[path.name], by[path.name] = texts[said], said
                continue
        text = _pointed(path, sheets)
        pointed_at |= text is not None
        if text:
            layouts[path.name], by[path.name] = text, ""
    return InHand(paths, layouts, by, pointed_at)


def _sheets(path: Path) -> list[RawCells]:
    """Cells of a file, as Windows writes it where it is not UTF-8; none of one that is no sheet."""
    try:
        cells = read_cells(path, encoding=encoding_of(path))
        return [sheet for sheet in cells if len(sheet.cells) and sheet.cells.shape[1]]
    except UserError:
        return []


def _unread(path: Path) -> bool:
    """Whether a sheet of a file is none of the tables as it stands."""
    try:
        return bool(read_files([path]).not_read)
    except UserError:
        return True


def _pointed(path: Path, sheets: Sequence[RawCells]) -> str | None:
    """Text of the layout that is pointed out for a file; empty while it gives nothing; None: no sheet."""
    encoding = encoding_of(path) or ""
    begun = [(sheet, proposed(sheet, several=len(sheets) > 1, encoding=encoding)) for sheet in sheets]
    names = names_on_record(data.table("wear_points") if data.exists() else pd.DataFrame())
    begun = [(sheet, first and with_title(sheet, first, names)) for sheet, first in begun]
    offered = {sheet.sheet or path.name: (sheet, first) for sheet, first in begun if first is not None}
    if not any(len(sheet.cells) > 1 for sheet, _ in offered.values()):
        return None
    st.subheader(f"How {show.plain(path.name)} is arranged")
    if st.toggle("Write the layout as text instead (TOML)", key=f"as-text-{path.name}"):
        return _typed(path)
    name = next(iter(offered))
    if len(offered) > 1:
        name = st.segmented_control(
            "Sheet", list(offered), default=name, key=f"sheet-{path.name}", required=True
        )
    texts = []
    for other, (sheet, first) in offered.items():
        key = f"pointed-{path.name}-{other}"
        if other == name:
            result = pointing.pointing(sheet, first, key)
            pointing.preview(result)
            _as_text(result.text, path)
        else:
            result = result_of(sheet, st.session_state.get(key, first))
        if result.table is not None and not result.lacking:
            texts.append(result.text)
    return _one_text(texts)


def _as_text(text: str, path: Path) -> None:
    """The layout as a file has it, to be read and saved."""
    with st.expander("The layout as text"):
        st.code(text, language="toml")
        st.download_button("Save it", text, f"{path.stem}.toml", on_click="ignore")


def _typed(path: Path) -> str:
    """Text of the layout that somebody writes, begun with what the file shows; empty while it is none."""
    key = f"layout-text-{path.name}"
    st.session_state.setdefault(key, propose_layout(path))
    text = st.text_area("Layout", key=key, height=320)
    try:
        previews = preview_text(path, text)
    except UserError as error:
        st.error(show.plain(error))
        return ""
    for preview in previews:
        st.caption(
            show.plain(f"{preview.place} → {preview.table}: {preview.n_rows:,} rows, the first of them:")
        )
        if preview.lacking:
            st.warning(show.plain(f"Still to be said: {', '.join(preview.lacking)}."))
        if preview.unused:
            st.markdown(show.plain(f"Not used: {', '.join(preview.unused)}"))
        st.dataframe(preview.rows, hide_index=True, alt=f"First rows as {preview.table}")
    return text


def _one_text(texts: Sequence[str]) -> str:
    """Layouts of several sheets as one: what holds for the file is said once, at its head."""
    heads, tables = [], []
    for text in texts:
        head, mark, rest = text.partition("[[table]]")
        heads += [line for line in head.splitlines() if line and line not in heads]
        tables.append(mark + rest)
    return "\n".join([*heads, "", *tables]) if tables else ""


def _ask(look: LookReport, answers: dict[str, str]) -> None:
    """One question after the other, with its readings; an answer is taken at once."""
    if look.questions:
        st.markdown(
            "**What the sheets do not decide.** Without an answer the rows wait, and nothing is guessed."
        )
    for question in look.questions:
        if said := ask(question):
            answers[question.id] = said
            st.rerun()
    for question, word in look.answered:
        if question.id in answers:
            cells = st.columns([4, 1], vertical_alignment="center")
            means = question.answers[word].means
            cells[0].markdown(show.plain(f"{question.text} {means}"))
            if cells[1].button("Ask again", key=f"again-{question.id}", type="tertiary"):
                del answers[question.id]
                st.rerun()


def _store(in_hand: InHand, handed_in: HandedIn, look: LookReport, answers: dict[str, str]) -> bool:
    """Store what was looked at, if it is asked for; keep the layouts that are new, under their names."""
    names = {}
    for path in in_hand.paths:
        if path.name in in_hand.layouts and not in_hand.by[path.name]:
            names[path] = st.text_input(
                f"Keep the layout of {show.plain(path.name)} under the name",
                path.stem,
                key=f"name-{path.name}",
                help="The next sheet like it is then read alike. Empty: it is not kept.",
            )
    label = "; ".join(filter(None, ["Add these files", asked_words(look)]))
    if not st.button(label, type="primary"):
        return False
    who = person().name
    asked = {question.id for question, _ in look.answered}
    given = {name: word for name, word in answers.items() if name in asked}
    st.session_state[taking_in.LAST] = add_rows(data.store(), handed_in, who=who, answers=given)
    for path, name in names.items():
        if name.strip():
            text = in_hand.layouts[path.name]
            keep_layout(data.store(), name, sheet_kind(_sheets(path), parse_layout(text)), text, who=who)
    answers.clear()
    return True


def _rows(look: LookReport) -> None:
    """Each row as it was written and as it is read, worst first."""
    shown = look_table(look, _SHOWN)
    if len(look.rows) > len(shown):
        st.caption(f"The first {len(shown):,} of {len(look.rows):,} rows; the others are no worse.")
    show.table(
        shown,
        "look",
        words={name: word for name, word in COLUMNS.items() if name in shown},
        alt_text="Each row as it was written and as it is read, worst first",
        height=420 if len(shown) > 10 else "auto",
    )
