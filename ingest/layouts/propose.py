"""A layout proposed from a file, for the person who knows the sheet to confirm, and what it would give."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from ingest.errors import UnreadableFile
from ingest.layouts.apply import apply_layout
from ingest.layouts.clues import (
    Clues,
    dates_of,
    has_decimal_comma,
    look_at,
    no_measurement,
    order_of_dates,
    summary_rows,
    values_of,
)
from ingest.layouts.headings import Recognised, known_tables, lacking, recognise
from ingest.layouts.layout import Layout, parse_layout
from ingest.layouts.plain import RawTable
from ingest.neutral import HOSTILE, neutral, quoted
from ingest.notation.dates import ORDERS, parse_dates
from ingest.notation.stated import STAGE
from ingest.sheets.cells import RawCells
from ingest.sheets.contents import column_letter
from ingest.sheets.readers import TEXT_ENDINGS, read_cells

_HEAD = """\
# How {file} is read. Confirm each line, above all the order of dates and the units; a line that begins
# with # says nothing. Then: milesleft add FILE --layout THIS.toml"""


@dataclass(frozen=True)
class Preview:
    """What a layout makes of one sheet: its table, first rows under the table's columns, and what is missing.

    ``lacking`` are columns that the table needs and that the layout does not give; ``unused`` headings that
    are no column of the table; ``n_rows`` how many rows there are in all.
    """

    place: str
    table: str
    rows: pd.DataFrame
    n_rows: int
    units: Mapping[str, str]
    lacking: Sequence[str]
    unused: Sequence[str]


def propose_layout(path: Path) -> str:
    """Text of a layout that reads a file, as far as the file itself shows how.

    Parameters
    ----------
    path : a CSV file or workbook of any make.

    Returns
    -------
    str : TOML with comments; what the file does not show (an order of day and month, the vehicle) is left
        as a comment, never guessed.

    Raises
    ------
    UnreadableFile : the file cannot be read, or no sheet of it holds a table.
    """
    encoding = encoding_of(path)
    sheets = [(sheet, look_at(sheet)) for sheet in read_cells(path, encoding=encoding)]
    clues = [clue for _, clue in sheets if clue is not None]
    if not clues:
        raise UnreadableFile(f"{quoted(path.name)} holds no table to describe; it is empty.")
    lines = [_HEAD.format(file=neutral(path.name))]
    if encoding:
        lines.append(
            f"encoding = {toml_text(encoding)}  # the file is not UTF-8; this is what Windows writes in the "
            "West"
        )
    lines += _dates(pd.concat([dates_of(clue) for clue in clues], ignore_index=True))
    if has_decimal_comma(pd.concat([values_of(clue) for clue in clues], ignore_index=True)):
        lines.append('decimal = ","  # 1,5 is one and a half')
    lines += ["", "[words.position]  # your own words for positions, such as", '# "L2" = "driver 2 left"']
    several = len(clues) > 1
    named = {
        clue.blocks for clue in clues if clue.block_of == "vehicle" and clue.blocks[-1:] not in ("", ":")
    }
    if named:
        lines += [
            "",
            "[words.vehicle]  # what stands before the name of the vehicle",
            *(f'{toml_text(w)} = ""' for w in named),
        ]
    for clue in clues:
        lines += ["", *_sheet(clue, several=several)]
    return "\n".join(lines) + "\n"


def preview_layout(sheets: Sequence[RawCells], layout: Layout, n_rows: int = 10) -> list[Preview]:
    """What a layout gives, for a person to look at before anything is stored.

    Parameters
    ----------
    sheets : cells of one file (`ingest.sheets.readers.read_cells`).
    layout : see `ingest.layouts.layout.parse_layout`.
    n_rows : rows shown of each sheet.

    Raises
    ------
    UnreadableFile : the layout does not fit the file.
    UnknownTable : a sheet that the layout leaves as it is has headings of no table.
    """
    return [_preview(table, n_rows) for table in apply_layout(sheets, layout)]


def preview_text(path: Path, text: str, n_rows: int = 10) -> list[Preview]:
    """`preview_layout` of a file and the text of a layout."""
    layout = parse_layout(text)
    sheets = read_cells(path, encoding=layout.encoding, delimiter=layout.delimiter)
    return preview_layout(sheets, layout, n_rows)


def _preview(table: RawTable, n_rows: int) -> Preview:
    recognised = recognise(table.columns, table.table)
    columns = [
        name for name in known_tables()[recognised.table].columns if name in recognised.renames.values()
    ]
    rows = table.rows.rename(columns=recognised.renames)[columns].head(n_rows)
    return Preview(
        table.place,
        recognised.table,
        rows,
        len(table.rows),
        recognised.units,
        lacking(recognised),
        tuple(name for name in recognised.unknown if name != STAGE),
    )


def encoding_of(path: Path) -> str | None:
    """cp1252 for a text file that is not UTF-8, so that it can be looked at; the proposal says so."""
    if path.suffix.lower() not in TEXT_ENDINGS or not path.is_file():
        return None
    try:
        read_cells(path)
    except UnreadableFile as error:
        return "cp1252" if "is no utf-8" in str(error) else None
    return None


def _dates(texts: pd.Series) -> list[str]:
    """The line that states the order of dates; a comment where the file does not show it."""
    orders = order_of_dates(texts)
    if orders is None:
        return []
    if len(orders) == 1:
        return [f"dates = {toml_text(orders[0])}  # the only order in which all {len(texts)} dates exist"]
    example = neutral(texts[parse_dates(texts)["problem"] != ""].iloc[0], 20)
    choice = " or ".join(map(toml_text, orders or ORDERS))
    return [f"# dates = {choice}: {example} can be read in more than one order; state yours"]


def _sheet(clue: Clues, *, several: bool) -> list[str]:
    """The section of one sheet."""
    lines = ["[[table]]", f"table = {toml_text(clue.recognised.table)}"]
    if several and clue.sheet.sheet is not None:
        lines.append(f"sheet = {toml_text(clue.sheet.sheet)}")
    rows = [place + 1 for place in clue.header]
    lines.append(f"header = {rows[0] if len(rows) == 1 else rows}  # row of headings")
    if clue.blocks:
        lines.append(
            f"blocks = {{ starts = {toml_text(clue.blocks + '*')} }}  # where each begins; rows count from it"
        )
    if skip := summary_rows(clue):
        lines.append(f"skip = [{', '.join(map(toml_text, skip))}]  # rows that sum up others")
    if nothing := no_measurement(clue):
        lines.append(f"nothing = [{', '.join(map(toml_text, nothing))}]  # cells that say: not measured")
    lines += _columns(clue)
    if clue.spread:
        # As areas: a letter alone may be a heading too.
        areas = (f"{column_letter(p)}:{column_letter(p)}" for p in clue.spread)
        letters = ", ".join(map(toml_text, areas))
        tells = ", ".join(map(toml_text, clue.tells))
        lines += [
            "",
            "[table.spread]  # a column for each",
            f"columns = [{letters}]",
            f"headings = [{tells}]",
        ]
    cells = dict(clue.labelled) | ({clue.block_of: "A1"} if clue.blocks else {})
    if cells:
        lines += ["", "[table.cells]  # one cell that holds for all rows"]
        lines += [f"{column} = {toml_text(cell)}" for column, cell in cells.items()]
    return lines + _fixed(clue, set(cells))


def _columns(clue: Clues) -> list[str]:
    """Heading → column, and the headings that nobody understood."""
    spread = {clue.headings[p] for p in clue.spread}
    unknown = [h for h in clue.headings if h and h not in clue.columns and h not in spread]
    lines = ["", "[table.columns]  # heading = column"]
    for heading, column in clue.columns.items():
        why = "  # by what the column holds" if heading in clue.guessed else ""
        lines.append(f"{toml_text(heading)} = {toml_text(column)}{why}")
    return lines + [f"# {toml_text(heading)} = ?  (not understood; it is left out)" for heading in unknown]


def _fixed(clue: Clues, given: set[str]) -> list[str]:
    """What the table needs and the sheet does not say."""
    given_columns = {*clue.columns.values(), *given, *clue.tells} | ({"value"} if clue.spread else set())
    have = Recognised(clue.recognised.table, {name: name for name in given_columns}, [], {})
    missing = lacking(have)
    names_points = "point" not in given_columns and clue.recognised.table in ("readings", "work")
    wanted = [
        name for name in ("vehicle", "component", "quantity") if names_points and name not in given_columns
    ]
    if not (missing or wanted):
        return []
    lines = ["", "[table.fixed]  # the same for all rows; take away the # and write what it is"]
    lines += [f'# {name} = ""' for name in wanted]
    return lines + [f"# still needed: {need}" for need in missing]


def toml_text(text: str) -> str:
    """A TOML text: quoted, with what is not to be seen made visible."""
    plain = HOSTILE.sub("", text).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + plain.replace("\n", "\\n").replace("\r", "\\r").replace("\t", "\\t") + '"'
