"""Layouts: what a railway says once about a sheet of its own make, so that it can be read like the tables.

A layout is a TOML file. It states what the sheet itself does not show (the order of day and month, a decimal
comma, the encoding) and where things stand: headings in any row, a row for each position and a column for
each quantity, a block for each date. It is data: nothing in it is evaluated.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.layouts.headings import known_tables
from ingest.neutral import quoted, quoted_path, toml_of
from ingest.notation.dates import ORDERS
from ingest.sheets.sheetxml import column_number


@dataclass(frozen=True)
class Spread:
    """Columns that each hold the same thing of something else: a column for each quantity, position or date.

    ``columns`` are their letters (``D:K``), their headings, or () for all that no other column claims;
    ``into`` is the column that their cells are; ``headings`` what each row of headings holds, top to bottom
    ("" for nothing). What row and heading both say is joined: ``driver 1`` and ``left``.
    """

    columns: tuple[str, ...] = ()
    into: str = "value"
    headings: tuple[str, ...] = ("quantity",)


@dataclass(frozen=True)
class Blocks:
    """A sheet that is several, one below the other: each begins where a cell of ``column`` is like one of
    ``starts``."""

    starts: tuple[str, ...]
    column: str = "A"

    @property
    def position(self) -> int:
        """Place of the column, counted from 0."""
        return column_number(self.column) - 1


@dataclass(frozen=True)
class SheetLayout:
    """How one kind of sheet maps to one table; rows count from 1, within a block from its first row.

    ``sheet`` is the name of the sheets it is for (``*`` for any text); ``header`` the rows of headings (()
    for the first filled row); ``first`` the first row of data (0: below the headings); ``until`` and
    ``skip`` are texts of a row's first filled cell that end the data and that are left out; ``columns``
    heading → column; ``cells`` column → one cell that holds it for all rows (``B2``); ``fixed`` column →
    text for all rows; ``fill`` columns whose empty cells and ditto marks repeat the cell above; ``nothing``
    texts that mean that nothing was measured.
    """

    table: str
    sheet: str = "*"
    header: tuple[int, ...] = ()
    first: int = 0
    until: tuple[str, ...] = ()
    skip: tuple[str, ...] = ()
    columns: Mapping[str, str] = field(default_factory=dict)
    cells: Mapping[str, str] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)
    fill: tuple[str, ...] = ()
    nothing: tuple[str, ...] = ()
    spread: Spread | None = None
    blocks: Blocks | None = None


@dataclass(frozen=True)
class Layout:
    """A whole layout: what holds for the file, its sheets, and the railway's own words for what cells say.

    ``words`` is column → word as written → what it means: the alias table of positions is
    ``words["position"]``.
    """

    name: str
    tables: tuple[SheetLayout, ...]
    dates: str | None = None
    decimal: str = "."
    encoding: str | None = None
    delimiter: str | None = None
    ignore: tuple[str, ...] = ()
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


_TOP = {
    "dates": str,
    "decimal": str,
    "encoding": str,
    "delimiter": str,
    "ignore": tuple,
    "words": dict,
    "table": list,
}
_TABLE = {
    "table": str,
    "sheet": str,
    "header": tuple,
    "first": int,
    "until": tuple,
    "skip": tuple,
    "columns": dict,
    "cells": dict,
    "fixed": dict,
    "fill": tuple,
    "nothing": tuple,
    "spread": dict,
    "blocks": dict,
}
_SPREAD = {"columns": tuple, "into": str, "headings": tuple}
_BLOCKS = {"starts": tuple, "column": str}
_KIND = {
    str: "a text",
    int: "a whole number",
    tuple: "a text or a list",
    dict: "a section",
    list: "[[table]]",
}


def load_layout(path: Path) -> Layout:
    """Read a layout file.

    Raises
    ------
    UnreadableFile : the file cannot be read or is no layout; the message names the entry.
    """
    try:
        with path.open(encoding="utf-8") as file:
            text = file.read(bound("toml", "longest_text") + 1)
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8"
        raise UnreadableFile(f"The layout {quoted_path(path)} cannot be read: {reason}.") from None
    return parse_layout(text, path.name)


def parse_layout(text: str, name: str = "layout") -> Layout:
    """Understand the text of a layout.

    Parameters
    ----------
    text : TOML, see the README for its entries.
    name : of the file, for messages.

    Raises
    ------
    UnreadableFile : no TOML, or an entry that is unknown, of the wrong kind, or contradicts another.
    """
    try:
        raw = toml_of(text)
    except ValueError as error:
        raise UnreadableFile(f"The layout {quoted(name)} is not TOML: {quoted(str(error), 120)}.") from None
    top = _checked(raw, _TOP, name)
    tables = tuple(
        _sheet_layout(entry, f"{name}, [[table]] {number}")
        for number, entry in enumerate(top.pop("table", []), 1)
    )
    if not tables:
        raise UnreadableFile(f"The layout {quoted(name)} describes no [[table]]; one at least was expected.")
    top["words"] = {
        column: _texts(words, f"{name}, words.{column}") for column, words in top.get("words", {}).items()
    }
    layout = Layout(name, tables, **top)
    _one_of(layout.dates, (None, *ORDERS), f"{name}: dates")
    _one_of(layout.decimal, (".", ","), f"{name}: decimal")
    if layout.delimiter is not None and len(layout.delimiter) != 1:
        raise UnreadableFile(
            f"{quoted(name)}: delimiter is {quoted(layout.delimiter)}; one character was expected."
        )
    return layout


def _sheet_layout(entry: object, where: str) -> SheetLayout:
    if not isinstance(entry, dict):
        raise UnreadableFile(f"{quoted(where)}: a section [[table]] was expected.")
    given = _checked(entry, _TABLE, where)
    if "table" not in given:
        raise UnreadableFile(
            f'{quoted(where)}: table = ... is missing; say which table it is, such as "readings".'
        )
    _one_of(given["table"], tuple(known_tables()), f"{where}: table")
    for name in ("columns", "cells", "fixed"):
        given[name] = _texts(given.get(name, {}), f"{where}, {name}")
    for column, cell in given["cells"].items():
        if not re.fullmatch(r"[A-Za-z]{1,3}[1-9][0-9]{0,6}", cell):
            raise UnreadableFile(
                f"{quoted(where)}: cells.{column} is {quoted(cell)}; a cell like B2 was expected."
            )
    if not all(type(row) is int and row > 0 for row in given.get("header", ())):
        raise UnreadableFile(f"{quoted(where)}: header is a row number or a list of them, such as [3, 4].")
    if "spread" in given:
        given["spread"] = Spread(**_checked(given["spread"], _SPREAD, f"{where}, spread"))
    if "blocks" in given:
        blocks = _checked(given["blocks"], _BLOCKS, f"{where}, blocks")
        if "starts" not in blocks:
            raise UnreadableFile(
                f"{quoted(where)}: blocks.starts is missing; say how a block's first cell begins."
            )
        given["blocks"] = Blocks(**blocks)
    return SheetLayout(**given)


def _checked(entry: Mapping[str, Any], allowed: Mapping[str, type], where: str) -> dict[str, Any]:
    """The entries of a section, each known and of its kind; a single value where a list is meant becomes
    one."""
    out: dict[str, Any] = {}
    for key, value in entry.items():
        if key not in allowed:
            near = get_close_matches(key, allowed, n=1)
            advice = f"did you mean {near[0]}?" if near else f"known are {', '.join(allowed)}."
            raise UnreadableFile(f"{quoted(where)}: the entry {quoted(key)} is unknown; {advice}")
        kind = allowed[key]
        if kind is tuple:
            out[key] = tuple(value) if isinstance(value, list) else (value,)
        elif isinstance(value, kind) and not isinstance(value, bool):
            out[key] = value
        else:
            raise UnreadableFile(
                f"{quoted(where)}: {key} is {quoted(str(value))}; {_KIND[kind]} was expected."
            )
        if kind is tuple and key != "header" and not all(isinstance(item, str) for item in out[key]):
            raise UnreadableFile(f"{quoted(where)}: {key} is a text or a list of texts.")
    return out


def _texts(section: object, where: str) -> dict[str, str]:
    """A section whose values are all texts; numbers and dates become what they look like."""
    if not isinstance(section, dict):
        raise UnreadableFile(f"{quoted(where)}: a section of texts was expected.")
    wrong = [key for key, value in section.items() if isinstance(value, dict | list | bool)]
    if wrong:
        raise UnreadableFile(f"{quoted(where)}: {quoted(wrong[0])} must be a text.")
    return {key: str(value) for key, value in section.items()}


def _one_of(value: object, allowed: tuple[object, ...], where: str) -> None:
    if value not in allowed:
        names = ", ".join(str(name) for name in allowed if name is not None)
        raise UnreadableFile(f"{quoted(where)} is {quoted(str(value))}; one of {names} was expected.")
