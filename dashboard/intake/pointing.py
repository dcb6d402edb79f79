"""A layout made by pointing at a sheet: each click shows at once what the sheet then gives."""

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from ingest.layouts import pointed as points
from ingest.layouts.pointed import Pointed, Result
from ingest.neutral import neutral
from ingest.notation.stated import STAGE
from ingest.schema import TABLES
from ingest.sheets.cells import RawCells
from ingest.sheets.contents import column_letter

_ROWS = 40
"""Rows of the sheet that can be pointed at; what is below is alike."""
_WIDEST = 24
_MEANS = {
    "position": "position (which wheel, which side)",
    "date": "date",
    "value": "measured value",
    "odometer": "odometer",
    "unit": "unit",
    "point": "wear point",
    "vehicle": "vehicle",
    "component": "part",
    "quantity": "what is measured",
    "observer": "who measured",
    "gauge": "gauge",
    "note": "note",
}
"""Columns of the readings in words, in the order in which they are offered."""
_STAGE = "before or after"
_MEASURED, _NOTHING = "measurements, a column for each", "nothing: leave it out"
_TELLS = {
    "quantity": "what is measured",
    "position": "the position",
    "date": "the date",
    "component": "the part",
    "vehicle": "the vehicle",
    "point": "the wear point",
    "unit": "the unit",
    "stage": "before and after work",
    "": "nothing",
}


def pointing(sheet: RawCells, begun: Pointed, key: str) -> Result:
    """The sheet, what was pointed at, and what it gives; what the person points at is kept under `key`.

    Parameters
    ----------
    begun : where a person begins: the proposal.
    """
    now: Pointed = st.session_state.setdefault(key, begun)
    st.markdown(
        "Click a **row number box**, a **column heading** or a **cell** of the sheet, then say what it is. "
        "What was understood so far is marked."
    )
    picked = _grid(sheet, now, key)
    changed = _said(sheet, now, picked, key)
    changed = _headings_say(changed, key)
    changed = _for_all(changed, points.result_of(sheet, changed), key)
    if changed != now:
        st.session_state[key] = changed
        st.rerun()
    return points.result_of(sheet, changed)


def _grid(sheet: RawCells, now: Pointed, key: str) -> tuple[list[int], list[int], list[tuple[int, int]]]:
    """The sheet as it is; rows, columns and cells that are selected, counted from 0."""
    cells = sheet.cells.head(_ROWS).map(lambda text: neutral(str(text), _WIDEST))
    marks = {p: _MEANS.get(column, column) for p, column in now.columns.items()}
    marks |= dict.fromkeys(now.spread, "measured")
    names = [f"{column_letter(p)}{': ' + marks[p] if p in marks else ''}" for p in range(cells.shape[1])]
    shown = cells.set_axis(names, axis=1)
    shown.insert(
        0, "row", [f"{row}{' ▸ headings' * _is_heading(now, place)}" for place, row in enumerate(cells.index)]
    )
    grid = f"{key}-grid-{len(st.session_state.get(f'{key}-clicks', []))}"
    st.dataframe(
        shown,
        hide_index=True,
        height=min(35 * (len(shown) + 1) + 3, 420),
        key=grid,
        on_select="rerun",
        selection_mode=["multi-row", "multi-column", "single-cell"],
        alt="The sheet as it is; point at rows, columns and cells",
    )
    said = st.session_state.get(grid, {}).get("selection", {})
    place = {name: p for p, name in enumerate(names)}
    columns = [place[name] for name in said.get("columns", []) if name in place]
    there = range(len(shown))  # what a browser says is selected may be anything
    spots = [(row, place[name]) for row, name in said.get("cells", []) if name in place and row in there]
    return [row for row in said.get("rows", []) if row in there], columns, spots


def _is_heading(now: Pointed, place: int) -> bool:
    return not now.starts and place + 1 in now.header


def _said(
    sheet: RawCells, now: Pointed, picked: tuple[list[int], list[int], list[tuple[int, int]]], key: str
) -> Pointed:
    """What the selected rows, columns or cell are said to be."""
    rows, columns, cells = picked
    if columns:
        return _of_columns(sheet, now, sorted(columns), key)
    if rows:
        return _of_rows(sheet, now, sorted(rows), key)
    if cells:
        return _of_cell(sheet, now, cells[0], key)
    return now


def _of_columns(sheet: RawCells, now: Pointed, places: Sequence[int], key: str) -> Pointed:
    letters = ", ".join(map(column_letter, places))
    word = "Column" if len(places) == 1 else "Columns"
    choices = [*_MEANS.values(), _MEASURED, _NOTHING]
    said = st.pills(f"{word} {letters}:", choices, key=_fresh(key, f"columns-{letters}"))
    if not said:
        return now
    _clicked(key, f"{letters}: {said}")
    if said == _MEASURED:
        return points.with_measurements(sheet, now, places)
    column = next((name for name, words in _MEANS.items() if words == said), "")
    return points.with_columns(now, places, column)


def _of_rows(sheet: RawCells, now: Pointed, rows: Sequence[int], key: str) -> Pointed:
    numbers = ", ".join(str(sheet.cells.index[row]) for row in rows)
    one = len(rows) == 1
    heads, leave = (
        "hold the headings" if not one else "holds the headings",
        "leave out, and all that begin so",
    )
    block_engine, block_date = "begins a block: one vehicle", "begins a block: one date"
    choices = [heads, leave, *([block_engine, block_date] if one else [])]
    said = st.pills(f"{'Row' if one else 'Rows'} {numbers}:", choices, key=_fresh(key, f"rows-{numbers}"))
    if not said:
        return now
    _clicked(key, f"{numbers}: {said}")
    if said == heads:
        return points.with_header(sheet, now, [row + 1 for row in rows])
    if said == leave:
        first = [next((str(t) for t in sheet.cells.iloc[row] if t), "") for row in rows]
        return replace(now, skip=tuple(dict.fromkeys([*now.skip, *(f"{text}*" for text in first if text)])))
    return points.with_blocks(sheet, now, rows[0] + 1, "vehicle" if said == block_engine else "date")


def _of_cell(sheet: RawCells, now: Pointed, cell: tuple[int, int], key: str) -> Pointed:
    name = f"{column_letter(cell[1])}{cell[0] + 1}"
    text = show.plain(neutral(str(sheet.cells.iloc[cell]), 40))
    choices = [words for column, words in _MEANS.items() if column not in ("position", "value", "point")]
    said = st.pills(f"Cell {name} ({text}) says for all rows the:", choices, key=_fresh(key, f"cell-{name}"))
    if not said:
        return now
    _clicked(key, f"{name}: {said}")
    return points.with_cell(now, name, next(column for column, words in _MEANS.items() if words == said))


def _headings_say(now: Pointed, key: str) -> Pointed:
    """What each row of headings over the measurements tells."""
    if not now.spread:
        return now
    tells = list((now.tells + ("",) * len(now.header))[: len(now.header)])
    cells = st.columns(max(len(tells), 2))
    for place, (row, before) in enumerate(zip(now.header, tells, strict=True)):
        tells[place] = cells[place].selectbox(
            f"Headings in row {row} over the measurements say",
            list(_TELLS),
            list(_TELLS).index(before) if before in _TELLS else len(_TELLS) - 1,
            format_func=_TELLS.__getitem__,
            key=_fresh(key, f"tells-{row}"),
        )
    return replace(now, tells=tuple(tells))


def _for_all(now: Pointed, result: Result, key: str) -> Pointed:
    """What the sheet does not say and holds for all its rows; the order of day and month."""
    wanted = [name for name in result.lacking if name in TABLES[now.table].public + TABLES[now.table].parts]
    names = list(dict.fromkeys([*wanted, *now.fixed]))
    if now.table == "readings" and "unit" not in names and "unit" not in now.columns.values():
        names.append("unit")
    fixed = dict(now.fixed)
    cells = st.columns(max(len(names), 1))
    for cell, name in zip(cells, names, strict=False):
        known = _known(name)
        asked = f"{_MEANS.get(name, name).capitalize()}, for all rows"
        if known:
            said = cell.selectbox(
                asked, known, known.index(fixed[name]) if fixed.get(name) in known else None,
                key=_fresh(key, f"fixed-{name}"), placeholder="choose", accept_new_options=True,
            )  # fmt: skip
        else:
            said = cell.text_input(asked, fixed.get(name, ""), key=_fresh(key, f"fixed-{name}"))
        fixed[name] = (said or "").strip()
    return replace(now, fixed={name: text for name, text in fixed.items() if text})


def _known(name: str) -> list[str]:
    """What the store knows of a column, to be chosen from."""
    if name == "unit":
        return ["in", "mm", "1/64 in", "thou"]
    if name not in ("vehicle", "component", "quantity") or not data.exists():
        return []
    return sorted(data.table("wear_points")[name].unique())


def _fresh(key: str, name: str) -> str:
    """Key of a widget that begins anew after each click that was understood."""
    return f"{key}-{name}-{len(st.session_state.get(f'{key}-clicks', []))}"


def _clicked(key: str, what: str) -> None:
    st.session_state[f"{key}-clicks"] = [*st.session_state.get(f"{key}-clicks", []), what]


def preview(result: Result) -> None:
    """The first rows that the layout gives by now, or why there are none."""
    if result.problem:
        st.warning(show.plain(result.problem))
    if result.lacking:
        st.warning(show.plain(f"Still to be said: {', '.join(_MEANS.get(n, n) for n in result.lacking)}."))
    if result.table is None:
        return
    rows = result.table.rows
    if STAGE in rows:
        rows = rows.assign(**{STAGE: rows[STAGE].str.partition(" ")[0]}).rename(columns={STAGE: _STAGE})
    st.caption(f"So the sheet gives {len(rows):,} rows. The first of them:")
    shown = pd.DataFrame(rows.head(8).to_numpy(dtype=object), columns=[str(name) for name in rows.columns])
    shown.insert(0, "row", rows.index[:8])
    st.dataframe(shown, hide_index=True, alt="First rows that the sheet gives")
