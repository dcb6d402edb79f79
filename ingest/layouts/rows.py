"""Rows of a block under the names of their columns: joined, filled, and what one cell holds for all."""

import re
import tomllib
from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd

from ingest.errors import UnreadableFile
from ingest.layouts.blocks import Block
from ingest.layouts.columns import Columns
from ingest.layouts.headings import Recognised, lacking, split_unit
from ingest.layouts.layout import SheetLayout
from ingest.layouts.plain import RawTable
from ingest.neutral import quoted
from ingest.notation.stated import DAY_ABOVE, MARKED
from ingest.notation.values import parse_values
from ingest.sheets.cells import RawCells
from ingest.sheets.contents import column_letter
from ingest.sheets.sheetxml import column_number

_MEASURED = ("value", "odometer", "distance")
_UNIT = "unit"


def rows_of(block: Block, columns: Columns, fill: Sequence[str]) -> pd.DataFrame:
    """The block's rows under the names of its columns, those that are spread out left out.

    Columns of one name are joined; in the columns `fill`, empty cells and ditto marks repeat the cell above.
    Labels hold for all rows over which their cell is merged, measurements for the first of them.
    """
    names, body = columns.names, block.body
    kept = [p for p in range(len(names)) if p not in columns.spread and (names[p] or (body[p] != "").any())]
    labels = [p for p in kept if not names[p].startswith(_MEASURED)]
    rows = body[kept].copy()
    rows[labels] = block.whole.loc[body.index, labels]
    rows = rows.set_axis([names[p] or f"column {column_letter(p)}" for p in kept], axis=1)
    return _filled(_joined(rows), fill)


def for_all_rows(sheet: RawCells, block: Block, how: SheetLayout) -> dict[str, str]:
    """Column → text that one cell of the block, or the layout itself, states for all rows.

    Raises
    ------
    UnreadableFile : the block has no such cell.
    """
    return {**{column: _cell(sheet, block.whole, ref) for column, ref in how.cells.items()}, **how.fixed}


def cell_text(cells: pd.DataFrame, reference: str) -> str:
    """Text of one cell (``B2``, counted from the first row of `cells`), without the label before its
    colon."""
    letters = reference.rstrip("0123456789")
    text = str(cells.iloc[int(reference[len(letters) :]) - 1, column_number(letters) - 1])
    return without_label(text)


def without_label(text: str) -> str:
    """What stands behind a label and its colon; the whole text where none stands there."""
    return re.sub(r"^[^\W\d][^\d:]*:\s*", "", text)


def _cell(sheet: RawCells, cells: pd.DataFrame, reference: str) -> str:
    """Text of one cell of the block, if there is such a cell."""
    letters = reference.rstrip("0123456789")
    if column_number(letters) > cells.shape[1] or int(reference[len(letters) :]) > len(cells):
        raise UnreadableFile(f"{sheet.place} has no cell {quoted(reference)}, which the layout names.")
    return cell_text(cells, reference)


def _joined(rows: pd.DataFrame) -> pd.DataFrame:
    """Columns of one name as one column, their texts side by side: ``driver 2`` and ``L``."""
    if rows.columns.is_unique:
        return rows
    texts: dict[str, pd.Series] = {}
    for place, name in enumerate(rows.columns):
        part = rows.iloc[:, place]
        texts[name] = (texts[name] + " " + part).str.strip() if name in texts else part
    return pd.DataFrame(texts)


def with_repeats(rows: pd.DataFrame, columns: Collection[str]) -> pd.DataFrame:
    """Rows with what ditto marks repeat: the cell above. In a column of units a mark means inches."""
    for column in [name for name in rows.columns if name in columns]:
        again = rows[column].str.lower().isin(_ditto(marks=column != _UNIT))
        again &= again.cummin().ne(True)  # with nothing above it repeats nothing
        if again.any():
            rows = rows.assign(**{column: rows[column].mask(again).ffill().astype("str")})
    return rows


def with_days_above(rows: pd.DataFrame) -> pd.DataFrame:
    """Readings with the day that stands in the first row of a group alone in all rows of it, marked as such.

    A row without a date, with a value, takes the one above where no empty line parts them. Where a day is
    written in two rows running each row bears its own, and one that bears none stays without; so does a
    group whose day is struck out or hidden. Labels are numbers of the sheet's rows.
    """
    if not {"date", "value"} <= {*rows.columns}:
        return rows
    days = rows["date"].str.strip()
    own = days[~rows.index.duplicated()]
    own = own[own != ""]
    empty = (days == "").to_numpy()
    if not empty.any() or own.empty or (own == own.shift()).any():
        return rows
    part = np.cumsum(np.diff(rows.index.to_numpy(), prepend=rows.index[0]) > 1)
    at = empty & (rows["value"].str.strip() != "").to_numpy()
    above = days.mask(empty).groupby(part).ffill().fillna("").to_numpy(dtype=object)
    if MARKED in rows:
        at &= rows[MARKED].mask(empty).groupby(part).ffill().fillna("").to_numpy(dtype=object) == ""
    at &= above != ""
    marked = pd.Series(np.where(at, "1", ""), rows.index, dtype="str")
    return rows.assign(date=rows["date"].mask(at, above), **{DAY_ABOVE: marked}) if at.any() else rows


def _filled(rows: pd.DataFrame, fill: Sequence[str]) -> pd.DataFrame:
    """Columns whose empty cells and ditto marks repeat the cell above."""
    out = rows.copy()
    for column in [name for name in rows.columns if name in fill]:
        again = out[column].str.lower().isin(_ditto(marks=True)) | (out[column] == "")
        out[column] = out[column].mask(again).ffill().fillna("")
    return out


@cache
def _ditto(*, marks: bool) -> frozenset[str]:
    """What repeats the cell above, in lower case; with `marks` the signs too."""
    written = tomllib.loads((files("ingest.layouts") / "ditto_words.toml").read_text(encoding="utf-8"))
    return frozenset([*written["words"], *(written["marks"] if marks else [])])


def without_quantity_of_numbers(table: RawTable, found: Recognised) -> tuple[RawTable, Recognised]:
    """The table, its headings without one that may be the quantity where its cells are figures.

    Beside *Reading*, *Measurement* may say what was measured, or be another figure: as the quantity it would
    hold every row back.
    """
    heading = next((name for name, column in found.renames.items() if column == "quantity"), None)
    if found.table != "readings" or heading is None or heading.strip().lower() == "quantity":
        return table, found
    cells = pd.Series([text for text in table.rows[heading].unique() if text], dtype="str")
    lettered = cells[[any(map(str.isalpha, text)) for text in cells]]
    if not len(cells) or (parse_values(lettered)["problem"] != "").any():
        return table, found
    renames = {name: column for name, column in found.renames.items() if name != heading}
    units = {column: unit for column, unit in found.units.items() if column != "quantity"}
    without = replace(found, renames=renames, units=units, unknown=[*found.unknown, heading])
    return table, found if lacking(without) else without


def with_units_of_quantities(rows: pd.DataFrame) -> pd.DataFrame:
    """The rows, a unit that stands in brackets behind a quantity as their unit: ``hollow (mm)``.

    Where the row names a unit too, the quantity stays as it is written, and is held back by it.
    """
    if "quantity" not in rows:
        return rows
    named = {text: split_unit(text) for text in rows["quantity"].unique() if text.endswith((")", "]"))}
    told = rows["quantity"].map(lambda text: named.get(text, ("", ""))[1]).astype("str")
    before = rows["unit"] if "unit" in rows else pd.Series("", rows.index, dtype="str")
    at = (told != "") & (before == "")
    if not at.any():
        return rows
    bases = rows["quantity"].map(lambda text: named.get(text, (text, ""))[0]).astype("str")
    return rows.assign(quantity=rows["quantity"].mask(at, bases), unit=before.mask(at, told).astype("str"))
