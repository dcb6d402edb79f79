"""What may be stated about a row beside its cells, by its file, a layout, a judge or an answer.

The columns begin with a colon, which no heading of a table does. They travel with a row that is held back, so
that it is read alike when it is judged again, and make no other row of it.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

ORDER = ":order"
"""Order of day and month of its dates: ``dmy``, ``mdy``, ``ymd``; ``ydm``: a spreadsheet turned them."""

TURNED = "ydm"

DAY_ABOVE = ":day_above"
"""``1`` where its date is the one that stands above it, in the first row of its group."""

VEHICLE = ":vehicle"
"""The vehicle that its sheet is called after, where neither cell nor layout names one."""

TITLE, WORDS = ":title", ":words"
"""What stands above the headings of its table; that, and other lines of its sheet that are no rows."""

COMPONENT, QUANTITY = ":component", ":quantity"
"""What its part and quantity are, where the row says only half of it."""

POSITION = ":position"
"""The position that its own word for it means, by the other words of its column or an answer."""

UNIT = ":unit"
"""Unit of its values, where neither cell nor sheet names one."""

DISTANCE = ":distance"
"""Unit of its odometer and distance, where neither cell nor sheet names one."""

DECIMAL = ":decimal"
"""``,`` where its texts have a decimal comma; names of columns, where those have; ``.`` where none has."""

TYPED = ":typed"
"""``1`` where the file tells numbers from texts, as a workbook does."""

AS_TEXT = ":as_text"
"""Names of columns whose cell is a text though it looks like a number; only where the file tells which."""

MARKED = ":marked"
"""How its cells are marked in the workbook: ``hidden row``, ``struck out: value``; parted by ``; ``."""

WITHOUT = ":without"
"""Names of columns whose cells do not count."""

GAUGE = ":gauge"
"""Gauge of a reading whose sheet names none."""

EVENT = ":event"
"""What befell the odometer by this entry of the log: ``replaced`` or ``rolled_over``."""

ALSO_READ = ":also_read"
"""What else was read at the place of a reading and does not count; it is told in its note."""

STAGE = ":stage"
"""``before`` or ``after``, and the heading of its value, where two columns hold one place twice on a day."""

FOUND_OR_LEFT = ":found_or_left"
"""``found`` or ``left``, by an answer, where the sheet does not say it."""

REMARK = ":remark"
"""What comments on its cells say; it is read as its note, behind what stands there."""

PROBLEM = ":problem"
"""What reading the file found wrong with the row."""


def without_cells(cells: pd.DataFrame) -> pd.DataFrame:
    """The cells, those left out that do not count."""
    if WITHOUT not in cells:
        return cells
    names = {name for texts in cells[WITHOUT].unique() for name in str(texts).split()}
    out = {name: cells[name].mask(_names(cells[WITHOUT], name), "") for name in names if name in cells}
    return cells.assign(**out)


def with_answers(cells: pd.DataFrame) -> pd.DataFrame:
    """The cells, with a gauge, an event or a stage that was answered where the sheet names none, and what was
    told."""
    if REMARK in cells or (ALSO_READ in cells and "note" in cells):
        cells = cells.assign(note=note_with(cells, REMARK, ALSO_READ))
    told = (("gauge", GAUGE), ("event", EVENT), ("found_or_left", FOUND_OR_LEFT))
    given = {name: stated for name, stated in told if stated in cells}
    filled = {
        name: cells[name].where(cells[name] != "", cells[stated])
        for name, stated in given.items()
        if name in cells
    }
    return cells.assign(**filled) if filled else cells


def note_with(cells: pd.DataFrame, *stated: str) -> pd.Series:
    """The note of each row, what is stated behind it; the columns need not be there."""
    note = cells["note"].fillna("") if "note" in cells else pd.Series("", cells.index, dtype="str")
    for name in stated:
        if name in cells:
            more = cells[name].fillna("")
            note = (note + "; " + more).where(more != "", note).str.removeprefix("; ")
    return note


def with_stated_parts(cells: pd.DataFrame) -> pd.DataFrame:
    """The cells, what is stated of the part in place of what stands there; the vehicle where none does."""
    if VEHICLE in cells:
        before = cells["vehicle"] if "vehicle" in cells else pd.Series("", cells.index, dtype="str")
        cells = cells.assign(vehicle=before.mask(before == "", cells[VEHICLE]))
    for name, stated in (("component", COMPONENT), ("position", POSITION), ("quantity", QUANTITY)):
        if stated in cells:
            before = cells[name] if name in cells else pd.Series("", cells.index, dtype="str")
            cells = cells.assign(**{name: before.mask(cells[stated] != "", cells[stated])})
    return cells


def is_text_cell(raw: pd.DataFrame, name: str) -> pd.Series:
    """Whether the cell of a column is a text for each row; a file of text has nothing else."""
    if TYPED not in raw:
        return pd.Series(True, raw.index)
    texts = raw[AS_TEXT] if AS_TEXT in raw else pd.Series("", raw.index, dtype="str")
    return (raw[TYPED] == "") | pd.Series(_names(texts, name), raw.index)


def has_decimal_comma(raw: pd.DataFrame, name: str) -> pd.Series:
    """Whether the cell of a column has a decimal comma, for each row."""
    if DECIMAL not in raw:
        return pd.Series(False, raw.index)
    stated = (raw[DECIMAL] == ",") | pd.Series(_names(raw[DECIMAL], name), raw.index)
    return stated & is_text_cell(raw, name)


def _names(lists: pd.Series, name: str) -> NDArray[np.bool_]:
    """Which lists of names hold a name."""
    code, texts = pd.factorize(lists)
    holds = np.array([name in str(text).split() for text in texts], dtype=bool)
    return holds[code] if len(texts) else np.zeros(len(lists), dtype=bool)
