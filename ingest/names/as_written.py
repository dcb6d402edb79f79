"""Stored rows as text again: what ``add`` reads as the very same rows."""

import numpy as np
import pandas as pd

from ingest import units
from ingest.notation.values import parse_values
from ingest.schema import TABLES, Column


def as_written(table: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Public columns of stored rows as text.

    Parameters
    ----------
    table : key of ``ingest.schema.TABLES``.
    rows : rows as the store keeps them (``Store.stored``); wear points with per_base. A column that they do
        not have is empty.

    Returns
    -------
    Frame of text, missing = empty, index of ``rows``. A value keeps the text that it came with where that
    still reads as the same number; otherwise the shortest figure that does is written, in the row's unit or,
    where no figure in that unit gives it exactly, in the base unit.
    """
    out = pd.DataFrame(index=rows.index)
    for column in TABLES[table].columns:
        missing = column.stored not in rows
        out[column.name] = pd.Series("", rows.index, dtype="str") if missing else _text(table, column, rows)
    return out


def _text(table: str, column: Column, rows: pd.DataFrame) -> pd.Series:
    if column.kind in ("text", "choice"):
        return rows[column.name].astype("str")
    if column.kind in ("date", "month"):
        form = "%Y-%m" if column.kind == "month" else "%Y-%m-%d"
        days: pd.Series = rows[column.name].dt.strftime(form)
        return days.fillna("").astype("str")
    if column.text:
        return _as_it_came(column, rows)
    has_unit = column.unit == "base" or (table == "mileage" and column.unit == "mi")
    return _exact(rows[column.stored], rows["unit"] if has_unit else None)


def _as_it_came(column: Column, rows: pd.DataFrame) -> pd.Series:
    """The text that a number came with, where it reads as the same number still; otherwise a figure.

    The unit beside a measured value is the row's; a distance has its unit in its own text.
    """
    number, text = rows[column.stored], rows[column.text]
    own_unit = column.unit != "base"
    beside = pd.Series("", rows.index, dtype="str") if own_unit else rows["unit"]
    read = parse_values(text, beside)
    unit = read["unit"].where(read["unit"] != "", beside)
    same = (units.to_base(read["value"], unit) == number) | number.isna()
    figure = _exact(number.mask(same), beside)
    return text.where(same, figure + f" {column.unit}" if own_unit else figure)


def _exact(values: pd.Series, unit: pd.Series | None) -> pd.Series:
    """Figures that read back as the same base values; each different value and unit is worked once."""
    frame = pd.DataFrame({"value": values, "unit": "" if unit is None else unit})
    code, seen = pd.factorize(pd.MultiIndex.from_frame(frame))
    texts = np.array([_figure(value, word) for value, word in seen], dtype=object)
    return pd.Series(texts[code] if len(texts) else [], index=values.index, dtype="str")


def _figure(value: float, unit: str) -> str:
    if value != value:
        return ""
    per = units.per_unit(unit)
    near = value / per
    for digits in range(17):
        short = round(near, digits)
        if short * per == value:
            return _digits(short)
    for close in (near, np.nextafter(near, -np.inf), np.nextafter(near, np.inf)):
        if float(close) * per == value:
            return _digits(float(close))
    return f"{_digits(value)} {units.base_unit(unit)}"


def _digits(number: float) -> str:
    text = np.format_float_positional(number, trim="-")
    return "0" if text == "-0" else text
