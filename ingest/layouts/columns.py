"""What the columns of a block are called by its layout, and which of them are spread out to rows."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ingest.errors import UnreadableFile
from ingest.layouts.layout import SheetLayout, Spread
from ingest.layouts.text import key
from ingest.neutral import quoted
from ingest.sheets.cells import RawCells
from ingest.sheets.sheetxml import column_number


@dataclass(frozen=True)
class Columns:
    """Columns of a block.

    ``names`` are what each is called, "" for one without a heading; ``spread`` the positions of those that
    are spread out to rows.
    """

    names: list[str]
    spread: list[int]


def name_columns(sheet: RawCells, headings: Sequence[str], units: Sequence[str], how: SheetLayout) -> Columns:
    """The columns under these headings; `units` are the units that the headings name.

    Raises
    ------
    UnreadableFile : a heading or column that the layout names is not there.
    """
    names = _names(sheet, headings, units, how)
    return Columns(names, _spread_positions(sheet, headings, names, how.spread))


def _names(sheet: RawCells, headings: Sequence[str], units: Sequence[str], how: SheetLayout) -> list[str]:
    """What each column is called: the table's column where the layout says so, its unit kept beside it."""
    given = {key(heading): column for heading, column in how.columns.items()}
    missing = [heading for heading in how.columns if key(heading) not in {key(h) for h in headings}]
    letters = {word: column_number(word) - 1 for word in missing if re.fullmatch("[A-Z]{1,2}", word)}
    lost = [heading for heading in missing if not 0 <= letters.get(heading, -1) < len(headings)]
    if lost:
        present = ", ".join(quoted(heading, 30) for heading in headings if heading)
        raise UnreadableFile(
            f"{sheet.place} has no column headed {quoted(lost[0])}, which the layout names; found: {present}."
        )
    names = []
    for p, (heading, unit) in enumerate(zip(headings, units, strict=True)):
        lettered = next((how.columns[word] for word, place in letters.items() if place == p), "")
        column = given.get(key(heading)) or lettered
        names.append((f"{column} [{unit}]" if unit and column != "unit" else column) if column else heading)
    return names


def _spread_positions(
    sheet: RawCells, headings: Sequence[str], names: Sequence[str], spread: Spread | None
) -> list[int]:
    """Columns that are spread out to rows."""
    if spread is None:
        return []
    if not spread.columns:
        return [p for p, name in enumerate(names) if name and name == headings[p]]
    positions: list[int] = []
    for word in spread.columns:
        area = re.fullmatch(r"([A-Za-z]{1,2})(?::([A-Za-z]{1,2}))?", word)
        named = [p for p, heading in enumerate(headings) if key(heading) == key(word)]
        if not named and area is not None:
            first, last = column_number(area[1]) - 1, column_number(area[2] or area[1]) - 1
            named = list(range(first, min(last + 1, len(headings))))
        if not named:
            raise UnreadableFile(f"{sheet.place} has no column {quoted(word)}, which the layout spreads out.")
        positions += named
    return list(dict.fromkeys(positions))
