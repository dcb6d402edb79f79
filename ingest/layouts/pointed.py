"""A layout made by pointing: rows of headings, columns, cells and blocks of one sheet, and its text.

A proposal is the beginning; each thing that a person points at changes one part of it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import pandas as pd

from ingest.errors import UnknownTable, UnreadableFile
from ingest.layouts.apply import apply_layout
from ingest.layouts.blocks import unmerged
from ingest.layouts.clues import (
    dates_of,
    has_decimal_comma,
    look_at,
    no_measurement,
    order_of_dates,
    summary_rows,
    values_of,
)
from ingest.layouts.find import are_dates
from ingest.layouts.headings import lacking, recognise
from ingest.layouts.layout import parse_layout
from ingest.layouts.plain import RawTable
from ingest.layouts.propose import toml_text
from ingest.schema import PARTS
from ingest.sheets.cells import RawCells
from ingest.sheets.contents import column_letter

TELLS = ("quantity", "position", "date", "component", "vehicle", "point", "unit", "stage", "")
"""What a row of headings over measurements may say."""


@dataclass(frozen=True)
class Pointed:
    """What was pointed at in one sheet.

    Attributes
    ----------
    table : the table whose rows it gives.
    sheet : name of the sheet; empty for all sheets of the file.
    header : rows of headings, counted from 1; within a block from its first row.
    columns : place of a column (0, 1, ...) -> column of the table.
    spread : places of the columns that hold measurements, each of something else.
    tells : what each row of headings says of these.
    fixed : column of the table -> text for all rows.
    cells : column of the table -> cell that holds it for all rows (``B2``).
    starts : how the first cell of each block begins; empty for a sheet of one block.
    engines : the first cells of the blocks, where each is a line that names its engine in its own words.
    """

    table: str = "readings"
    sheet: str = ""
    header: tuple[int, ...] = (1,)
    columns: Mapping[int, str] = field(default_factory=dict)
    spread: tuple[int, ...] = ()
    tells: tuple[str, ...] = ()
    fixed: Mapping[str, str] = field(default_factory=dict)
    cells: Mapping[str, str] = field(default_factory=dict)
    starts: str = ""
    engines: tuple[str, ...] = ()
    skip: tuple[str, ...] = ()
    nothing: tuple[str, ...] = ()
    dates: str = ""
    decimal: str = ""
    encoding: str = ""
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Result:
    """What a layout by pointing gives by now.

    ``text`` the layout; ``table`` its rows, None with ``problem`` why there are none; ``lacking`` what is
    still to be said.
    """

    text: str
    table: RawTable | None
    lacking: tuple[str, ...]
    problem: str = ""


def proposed(sheet: RawCells, *, several: bool, encoding: str = "") -> Pointed | None:
    """What the sheet shows by itself; None for an empty one.

    Parameters
    ----------
    several : the file has other sheets too.
    encoding : of a text file that is not UTF-8.
    """
    clue = look_at(sheet)
    if clue is None:
        return None
    places = {p: clue.columns[h] for p, h in enumerate(clue.headings) if h in clue.columns}
    orders = order_of_dates(dates_of(clue))
    cells, words = dict(clue.labelled), dict[str, dict[str, str]]()
    if clue.blocks:
        cells |= {clue.block_of: "A1"}
        named = clue.block_of != "date" and not clue.blocks.endswith(":")
        words = {clue.block_of: {clue.blocks: ""}} if named else {}
    return Pointed(
        table=clue.recognised.table,
        sheet=sheet.sheet or "" if several else "",
        header=tuple(row + 1 for row in clue.header),
        columns={p: column for p, column in places.items() if p not in clue.spread},
        spread=clue.spread,
        tells=clue.tells,
        cells=cells,
        starts=f"{clue.blocks}*" if clue.blocks else "",
        skip=tuple(summary_rows(clue)),
        nothing=tuple(no_measurement(clue)),
        dates=orders[0] if orders is not None and len(orders) == 1 else "",
        decimal="," if has_decimal_comma(values_of(clue)) else "",
        words=words,
        encoding=encoding,
    )


def with_header(sheet: RawCells, pointed: Pointed, rows: Sequence[int]) -> Pointed:
    """These rows hold the headings: columns are understood anew from them, what was said before stays."""
    header = tuple(sorted(rows))
    cells = unmerged(sheet)
    headings = _headings(cells, header)
    try:
        renames = recognise([h for h in headings if h], pointed.table).renames
    except UnknownTable:
        renames = {}
    places = {p: renames[h] for p, h in enumerate(headings) if h in renames and p not in pointed.spread}
    tells = (pointed.tells + ("",) * len(header))[: len(header)]
    return replace(pointed, header=header, columns={**places, **pointed.columns}, tells=tells)


def with_columns(pointed: Pointed, places: Sequence[int], column: str) -> Pointed:
    """These columns are `column` of the table; of none where it is empty."""
    columns = {p: name for p, name in pointed.columns.items() if p not in places}
    columns |= dict.fromkeys(places, column) if column else {}
    return replace(pointed, columns=columns, spread=tuple(p for p in pointed.spread if p not in places))


def with_measurements(sheet: RawCells, pointed: Pointed, places: Sequence[int]) -> Pointed:
    """These columns hold measurements, each of what its headings say."""
    columns = {p: name for p, name in pointed.columns.items() if p not in places and name != "value"}
    spread = tuple(sorted({*pointed.spread, *places}))
    tells = pointed.tells
    if len(tells) != len(pointed.header) or not any(tells):
        cells = unmerged(sheet)
        lines = [[str(cells.iloc[row - 1, p]) for p in spread] for row in pointed.header if row <= len(cells)]
        tells = tuple("date" if line and are_dates(line).all() else "quantity" for line in lines)
    return replace(pointed, columns=columns, spread=spread, tells=tells)


def with_cell(pointed: Pointed, cell: str, column: str) -> Pointed:
    """This one cell holds `column` for all rows."""
    return replace(pointed, cells={**pointed.cells, column: cell})


def with_blocks(sheet: RawCells, pointed: Pointed, row: int, column: str) -> Pointed:
    """A block begins in this row of the sheet, and in every one alike; its first cell tells `column`.

    The headings stand as far below its first row as they do below this one.
    """
    text = str(unmerged(sheet).iloc[row - 1, 0])
    label = f"{text.partition(':')[0]}:" if ":" in text else text.partition(" ")[0]
    header = tuple(h - row + 1 if h > row else h for h in pointed.header)
    words = {} if ":" in text or column == "date" else {**pointed.words, column: {label: ""}}
    return replace(
        pointed, starts=f"{label}*", header=header, words=words, cells={**pointed.cells, column: "A1"}
    )


def result_of(sheet: RawCells, pointed: Pointed) -> Result:
    """Text of the layout and what it makes of the sheet."""
    text = text_of(sheet, pointed)
    try:
        tables = apply_layout([sheet], parse_layout(text))
    except UnreadableFile as error:
        return Result(text, None, (), str(error))
    if not tables:
        return Result(text, None, (), "no row is read so")
    table = tables[0]
    found = recognise(table.columns, pointed.table)
    needs, have = lacking(found), set(found.renames.values())
    if pointed.table in ("readings", "work"):
        needs = [need for need in needs if not need.startswith("point or ")]
        needs += [name for name in PARTS if name != "position" and not {name, "point"} & have]
    return Result(text, table, tuple(needs))


def text_of(sheet: RawCells, pointed: Pointed) -> str:
    """The layout as TOML."""
    lines = [f"encoding = {toml_text(pointed.encoding)}"] if pointed.encoding else []
    lines += [f"dates = {toml_text(pointed.dates)}"] if pointed.dates else []
    lines += [f"decimal = {toml_text(pointed.decimal)}"] if pointed.decimal else []
    for column, words in pointed.words.items():
        lines += ["", f"[words.{column}]", *(f"{toml_text(k)} = {toml_text(v)}" for k, v in words.items())]
    lines += ["", "[[table]]", f"table = {toml_text(pointed.table)}"]
    lines += [f"sheet = {toml_text(pointed.sheet)}"] if pointed.sheet else []
    lines.append(f"header = [{', '.join(map(str, pointed.header))}]")
    lines += [f"blocks = {{ starts = {toml_text(pointed.starts)} }}"] if pointed.starts else []
    begins = ", ".join(map(toml_text, pointed.engines))
    lines += [f"blocks = {{ starts = [{begins}] }}"] if pointed.engines else []
    for name, texts in (("skip", pointed.skip), ("nothing", pointed.nothing)):
        lines += [f"{name} = [{', '.join(map(toml_text, texts))}]"] if texts else []
    columns = _column_lines(sheet, pointed)
    lines += ["", "[table.columns]", *columns] if columns else []
    if pointed.spread:
        # As areas: a letter alone may be a heading too.
        areas = (f"{column_letter(p)}:{column_letter(p)}" for p in pointed.spread)
        letters = ", ".join(map(toml_text, areas))
        tells = ", ".join(map(toml_text, pointed.tells or ("quantity",)))
        lines += ["", "[table.spread]", f"columns = [{letters}]", f"headings = [{tells}]"]
    for name, section in (("cells", pointed.cells), ("fixed", pointed.fixed)):
        said = {column: text for column, text in section.items() if text}
        lines += ["", f"[table.{name}]", *(f"{k} = {toml_text(v)}" for k, v in said.items())] if said else []
    return "\n".join(lines).lstrip() + "\n"


def headings_of(sheet: RawCells, pointed: Pointed) -> list[str]:
    """What stands over each column by the rows of headings; of blocks, those of the first."""
    cells = unmerged(sheet)
    if pointed.engines:
        cells = cells.iloc[int((cells[0] == pointed.engines[0]).to_numpy(dtype=bool).argmax()) :]
    if pointed.starts:
        begins = cells[0].str.lower().str.startswith(pointed.starts.rstrip("*").lower()).to_numpy(dtype=bool)
        cells = cells.iloc[int(begins.argmax()) :]
    return _headings(cells, pointed.header)


def _headings(cells: pd.DataFrame, header: Sequence[int]) -> list[str]:
    rows = cells.iloc[[row - 1 for row in header if row <= len(cells)]]
    return [
        " ".join(filter(None, dict.fromkeys(map(str, column)))) for column in rows.T.to_numpy(dtype=object)
    ]


def _column_lines(sheet: RawCells, pointed: Pointed) -> list[str]:
    """``heading = column``; by its letter where the heading is empty or stands twice."""
    headings = headings_of(sheet, pointed)
    lines = []
    for p, column in sorted(pointed.columns.items()):
        heading = headings[p] if p < len(headings) else ""
        name = heading if heading and headings.count(heading) == 1 else column_letter(p)
        lines.append(f"{toml_text(name)} = {toml_text(column)}")
    return lines
