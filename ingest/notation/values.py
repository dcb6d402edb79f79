"""Readings as the shop wrote them, to numbers: decimals, fractions, feet and inches, thousandths.

A number that was guessed would wear a wheel out on paper: what is not plainly one number is refused, and so
is a unit that nobody knows or that contradicts the unit column.
"""

from collections.abc import Iterator

import numpy as np
import pandas as pd

from ingest import units
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.notation.grammar import PLAIN, read_notation
from ingest.notation.once import read_once

BEYOND = "is beyond anything measured"
"""Part of the reason of a figure that is larger than anything is, in its unit."""


WORDS = {
    "unknown unit": "{} ends in '{unit}', which is no unit; remarks belong in the note column",
    "feet and another": "{} gives feet and another unit; one unit was expected",
    "fraction of parts": "{} is a fraction, but the unit {beside} counts parts of an inch; write the count, "
    "or the unit in",
    "contradicts": "{} contradicts the unit column, which says '{beside}'",
    "beyond": f"{{}}{{effective}} {BEYOND} on a vehicle; is the decimal mark right?",
}
"""Reasons to refuse a text for its unit, looked for in this order."""


def parse_values(text: pd.Series, unit: pd.Series | str = "", *, decimal: str = ".") -> pd.DataFrame:
    """Numbers and units of cells as people write them.

    Parameters
    ----------
    text : cells, shape (n,): ``1.375``, ``1 3/8``, ``1-3/8"``, ``1⅜``, ``88/64``, ``12 thou``,
        ``34.9 mm``, ``2' 3 1/2"``, ``-0.003``, ``12,345.5``.
    unit : what the unit column says beside them, in any spelling, "" where it says nothing. A cell's own
        unit takes precedence over it, and contradicts it when one is a length and the other is not.
    decimal : the decimal mark, "." or ","; the other one marks thousands. Only a layout may state ",".

    Returns
    -------
    DataFrame : index of `text`; ``value`` float in the unit named, NaN where there is a problem; ``unit``
        canonical unit written in the cell, "" if none; ``problem`` why it was refused, "" if it was not.

    Notes
    -----
    Each different pair of cell and unit is read once. Feet with inches come back in inches. A fraction is
    its numerator over its denominator in double precision, added to the whole number.
    """
    beside = pd.Series(unit, index=text.index, dtype="str") if isinstance(unit, str) else unit
    cell_code, cells = pd.factorize(text.fillna("").astype("str"))
    unit_code, written = pd.factorize(beside.fillna("").astype("str"))
    pair_code, pairs = pd.factorize(cell_code * np.int64(len(written) + 1) + unit_code)
    at_cell, at_unit = np.divmod(pairs, len(written) + 1)
    read = read_once(_read, cells, decimal).take(at_cell).reset_index(drop=True)
    read["beside"] = (
        pd.Series([units.unit_of(word) or "" for word in written], dtype="str").take(at_unit).array
    )
    judged = _judge(read)
    return judged.take(pair_code).set_axis(text.index, axis=0)


def _read(cells: pd.Series, decimal: str) -> pd.DataFrame:
    """Cell, value, written unit and problem of each text, whatever stands beside it."""
    short = cells.str.len() <= bound("cell", "longest_measurement")
    plain = (cells.str.fullmatch(PLAIN) & short & (decimal == ".")).to_numpy(dtype=bool)
    out = pd.DataFrame({"cell": cells, "value": np.nan, "written": "", "problem": ""})
    out = out.astype({"written": "str", "problem": "str"}).assign(feet=False, fraction=False)
    out.loc[plain, "value"] = cells[plain].astype("float64")
    if not plain.all():
        notation = read_notation(cells[~plain], decimal)
        for column in notation.columns:
            out.loc[~plain, column] = notation[column]
    return out


def _judge(read: pd.DataFrame) -> pd.DataFrame:
    """Unit of each cell, and the reasons to refuse it that need the unit."""
    name_of = {word: units.unit_of(word) or "" for word in read["written"].unique()}
    read["unit"] = read["written"].map(name_of).astype("str")
    for where, words in _reasons(read):
        fresh = where & (read["problem"] == "")
        if fresh.any():
            read.loc[fresh, "problem"] = _worded(words, read[fresh])
    refused = read["problem"] != ""
    read["value"] = read["value"].mask(refused)
    read["unit"] = read["unit"].mask(refused, "")
    return read[["value", "unit", "problem"]]


def _reasons(read: pd.DataFrame) -> Iterator[tuple[pd.Series, str]]:
    """Where each reason to refuse a cell holds, and its words."""
    is_known = {unit: units.is_known(unit) for unit in read["unit"].unique()}
    unknown = ~read["unit"].map(is_known).astype(bool) & (read["unit"] != read["beside"])
    yield (read["written"] != "") & unknown, WORDS["unknown unit"]
    yield read["feet"] & ~read["unit"].isin(["in", "ft"]), WORDS["feet and another"]
    of_parts = read["beside"].str.startswith("1/")
    yield read["fraction"] & (read["unit"] == "") & of_parts, WORDS["fraction of parts"]
    yield _contradicts(read), WORDS["contradicts"]
    yield _absurd(read), WORDS["beyond"]


def _worded(words: str, read: pd.DataFrame) -> list[str]:
    """The reason for each cell, with what it says."""
    columns = (read[name] for name in ("cell", "written", "beside", "unit"))
    return [
        words.format(
            quoted(cell), unit=written, beside=beside, effective=f" {beside}" if beside and not unit else ""
        )
        for cell, written, beside, unit in zip(*columns, strict=True)
    ]


def _contradicts(read: pd.DataFrame) -> pd.Series:
    """Whether cell and unit column name units of which neither can be turned into the other."""
    base = {unit: units.base_unit(unit) for unit in {*read["unit"].unique(), *read["beside"].unique()}}
    unlike = read["unit"].map(base) != read["beside"].map(base)
    return (read["unit"] != "") & (read["beside"] != "") & unlike


def _absurd(read: pd.DataFrame) -> pd.Series:
    """Whether the figure is larger than anything that is measured."""
    effective = read["unit"].where(read["unit"] != "", read["beside"])
    base = units.to_base(read["value"], effective).abs()
    too_long = effective.isin(units.LENGTH_MM) & (base > bound("cell", "largest_length"))
    return too_long | (read["value"].abs() > bound("cell", "largest_number"))
