"""Number cells of a table to base units: measured values, distances, and numbers without a unit."""

import re

import numpy as np
import pandas as pd

from ingest import units
from ingest.notation.stated import DISTANCE, UNIT, has_decimal_comma
from ingest.notation.values import parse_values
from ingest.problems import NAMES, Problems
from ingest.schema import TABLES

_THOUSANDS = re.compile(r"(?<![0-9.,])([0-9]{1,3})[ \u00a0\u202f'’](?=[0-9]{3}(?![0-9]))")
_MONEY = r"[$£€]"
_CURRENCY = {"£": "GBP", "€": "EUR"}
"""Signs that name one currency; the dollar's is that of many countries, so it names none (ISO 4217)."""


def read_numbers(
    table: str,
    cells: pd.DataFrame,
    rows: pd.DataFrame,
    problems: Problems,
    *,
    points: pd.DataFrame | None,
    log: pd.DataFrame | None,
) -> None:
    """Fill the number columns of ``rows``, in base units; columns that begin with ``_`` are for the caller.

    Parameters
    ----------
    table : key of ``ingest.schema.TABLES``.
    cells : trimmed text of the table's columns, and what was stated about the sheet.
    rows : text, choice and date columns read already.
    problems : reasons are added here.
    points : wear points known: point, vehicle, unit, base_unit.
    log : rows of the mileage log: vehicle, date, unit.
    """
    if table == "wear_points":
        _own_units(cells, rows, problems)
    elif table in ("readings", "work"):
        _units_of_points(cells, rows, problems, points)
    elif table == "mileage":
        heading = _heading_unit(cells, "odometer", "distance")
        heading = heading.where(heading != "", _distance_stated(cells))
        rows["unit"] = rows["unit"].where((cells["unit"] != "") | (heading == ""), heading)
    elif any(column.unit == "base" for column in TABLES[table].columns):
        _units_of_rows(table, cells, rows, problems)
    for column in TABLES[table].columns:
        if column.kind not in ("number", "whole"):
            continue
        if not (cells[column.name] != "").any() and column.name not in ("value", "odometer"):
            rows[column.name] = np.nan
        elif column.unit == "base":
            rows[column.name] = _quantity(column.name, cells, rows, problems)
        elif column.unit == "mi":
            rows[column.name] = _distance(column.name, cells, rows, problems, log)
        else:
            rows[column.name] = _plain(column.name, cells, problems)
            if "currency" in rows:
                _currency_of_sign(column.name, cells, rows, problems)


def _own_units(cells: pd.DataFrame, rows: pd.DataFrame, problems: Problems) -> None:
    """Unit of each wear point: what it is kept in, and its base."""
    unit = _canonical(cells["unit"])
    wrong = (unit == "") & (cells["unit"] != "")
    words = "this is no unit; write in, mm, thou, 1/64 in, % or the like"
    problems.where(wrong, "unit", cells["unit"], words)
    rows["unit"] = unit.where(~wrong, cells["unit"])
    rows["base_unit"] = unit.map(units.base_unit).astype("str")
    rows["per_base"] = 1.0 / unit.map(units.per_unit).astype("float64")
    rows["_stated"] = rows["_default"] = unit


def _units_of_rows(table: str, cells: pd.DataFrame, rows: pd.DataFrame, problems: Problems) -> None:
    """Unit that each row states for its own figures, where they belong to no wear point."""
    names = [column.name for column in TABLES[table].columns if column.unit == "base"]
    unit = _canonical(cells["unit"].where(cells["unit"] != "", _heading_unit(cells, *names)))
    words = "this is no unit; write in, mm, thou or the like"
    problems.where((unit == "") & (cells["unit"] != ""), "unit", cells["unit"], words)
    rows["unit"] = unit.where((unit != "") | (cells["unit"] == ""), cells["unit"])
    rows["_stated"] = rows["_default"] = unit
    rows["base_unit"] = pd.Series("", cells.index, dtype="str")


def _units_of_points(
    cells: pd.DataFrame, rows: pd.DataFrame, problems: Problems, points: pd.DataFrame | None
) -> None:
    """Unit that each row states beside the value, that of its point otherwise, and the point's base."""
    names = ["point", "vehicle", "unit", "base_unit"]
    own = (pd.DataFrame(columns=names, dtype="str") if points is None else points[names]).set_index("point")
    heading = _heading_unit(cells, "value", "value_before", "value_after")
    stated = cells["unit"].where(cells["unit"] != "", heading)
    unit = _canonical(stated)
    if UNIT in cells:  # what somebody answered where nothing is said, or where a count may be a fineness
        unit = unit.mask((stated == "") | ((cells[UNIT] != "") & unit.isin(units.PARTS_OF_MM)), cells[UNIT])
    words = "this is no unit; write in, mm, thou or the like"
    problems.where((unit == "") & (cells["unit"] != ""), "unit", cells["unit"], words)
    rows["_stated"] = unit
    rows["_default"] = _of_point(own["unit"], cells["point"])
    rows["base_unit"] = _of_point(own["base_unit"], cells["point"])
    rows["_vehicle"] = _of_point(own["vehicle"], cells["point"])
    rows["unit"] = unit.where(unit != "", rows["_default"])


def _of_point(texts: pd.Series, point: pd.Series) -> pd.Series:
    """What is known of the point of each row, by point; empty where nothing is."""
    return point.map(texts).astype(object).fillna("").astype("str")


def _quantity(name: str, cells: pd.DataFrame, rows: pd.DataFrame, problems: Problems) -> pd.Series:
    """A measured value in base units; its unit is the cell's, else the stated one, else the point's."""
    text = cells[name]
    parsed = _parsed(name, text, rows["_stated"], cells)
    filled = text != ""
    problems.where(filled & (parsed["problem"] != ""), name, text, parsed["problem"])
    unit = parsed["unit"].where(parsed["unit"] != "", rows["_stated"])
    unit = unit.where(unit != "", rows["_default"])
    base = unit.map({u: units.base_unit(u) for u in unit.unique()}).astype("str")
    odd = filled & (parsed["problem"] == "") & (base != rows["base_unit"]) & (rows["base_unit"] != "")
    if odd.any():
        words = "this is in " + unit + ", but the wear point is measured in " + rows["_default"]
        with problems.waiting_for(NAMES):
            problems.where(odd, name, text, words + "; the one cannot be turned into the other")
    if name in ("value", "size"):
        rows["unit"] = unit.where(filled, rows["unit"])
    if name == "size":
        problems.where(filled & (unit == ""), name, text, "the size has no unit; write in or mm beside it")
    return units.to_base(parsed["value"], unit).where(filled & ~odd).astype("float64")


def _distance(
    name: str, cells: pd.DataFrame, rows: pd.DataFrame, problems: Problems, log: pd.DataFrame | None
) -> pd.Series:
    """Miles; the unit is the cell's, the heading's, the row's or that of the vehicle's log, else miles."""
    text = cells[name]
    parsed = _parsed(name, _thousands_joined(text), "", cells)
    filled = text != ""
    problems.where(filled & (parsed["problem"] != ""), name, text, parsed["problem"])
    unit = parsed["unit"].where(parsed["unit"] != "", _heading_unit(cells, name))
    unit = unit.where(unit != "", _distance_stated(cells))
    if "unit" in rows and "vehicle" in rows:
        unit = unit.where(unit != "", rows["unit"])
    elif name == "odometer" and log is not None:
        unit = unit.where(unit != "", _log_unit(rows, log))
    unit = unit.where(unit != "", "mi")
    odd = filled & ~unit.isin(units.DISTANCE_MI)
    words = "this is no distance; miles or km were expected"
    problems.where(odd & (parsed["problem"] == ""), name, text, words)
    if name == "odometer":
        rows["_odometer_unit"] = unit
        if "vehicle" in rows:
            rows["unit"] = unit.where(parsed["unit"] != "", rows["unit"])
    return units.to_base(parsed["value"], unit).where(filled & ~odd).astype("float64")


def _thousands_joined(text: pd.Series) -> pd.Series:
    """Distances whose thousands are parted by a space or an apostrophe: no distance is written in feet."""
    parted = text[text.str.contains(r"[0-9][ \u00a0\u202f'’][0-9]")]
    if parted.empty:
        return text
    joined = {words: _THOUSANDS.sub(r"\1", words) for words in parted.unique()}
    return text.mask(text.isin(joined), parted.map(joined).reindex(text.index))


def _distance_stated(cells: pd.DataFrame) -> pd.Series:
    """Unit of distances as a judge or an answer stated it."""
    return cells[DISTANCE] if DISTANCE in cells else pd.Series("", cells.index, dtype="str")


def _plain(name: str, cells: pd.DataFrame, problems: Problems) -> pd.Series:
    """A number that has no unit of length: money, hours, days, counts."""
    text = cells[name]
    parsed = _parsed(name, text.str.replace(_MONEY, "", regex=True).str.strip(), "", cells)
    filled = text != ""
    problems.where(filled & (parsed["problem"] != ""), name, text, parsed["problem"])
    return parsed["value"].where(filled)


def _currency_of_sign(name: str, cells: pd.DataFrame, rows: pd.DataFrame, problems: Problems) -> None:
    """A currency written as a sign in the cell, where the row names none; the two may not contradict."""
    signed = cells[name].str.extract(_MONEY.replace("[", "([").replace("]", "])"), expand=False)
    code = signed.map(_CURRENCY).fillna("").astype("str")
    stated = rows["currency"].fillna("").str.upper()
    words = "its sign says " + code + ", the column currency " + stated + "; correct one of the two"
    problems.where((code != "") & (stated != "") & (code != stated), name, cells[name], words)
    rows["currency"] = rows["currency"].where((code == "") | (stated != ""), code)


def _parsed(name: str, text: pd.Series, unit: pd.Series | str, cells: pd.DataFrame) -> pd.DataFrame:
    """Parsed cells of a column; where a decimal comma was stated, texts by that."""
    if not (text != "").any():
        nothing = pd.DataFrame({"value": np.nan, "unit": "", "problem": ""}, index=text.index)
        return nothing.astype({"value": "float64", "unit": "str", "problem": "str"})
    comma = has_decimal_comma(cells, name)
    if not comma.any():
        return parse_values(text, unit)
    parts = [
        parse_values(text[mask], unit if isinstance(unit, str) else unit[mask], decimal=mark)
        for mask, mark in ((comma, ","), (~comma, "."))
        if mask.any()
    ]
    return pd.concat(parts).reindex(text.index)


def _canonical(text: pd.Series) -> pd.Series:
    return text.map({word: units.unit_of(word) or "" for word in text.unique()}).astype("str")


def _heading_unit(cells: pd.DataFrame, *names: str) -> pd.Series:
    unit = pd.Series("", cells.index, dtype="str")
    for name in names:
        if f"unit:{name}" in cells:
            unit = unit.where(unit != "", cells[f"unit:{name}"])
    return unit


def _log_unit(rows: pd.DataFrame, log: pd.DataFrame) -> pd.Series:
    """Unit of the vehicle's log: of the entry at or before each date where the log has both units."""
    units_of_log = log.groupby("vehicle")["unit"].agg(["first", "nunique"])
    unit = rows["_vehicle"].map(units_of_log["first"])
    mixed = rows["_vehicle"].isin(units_of_log.index[units_of_log["nunique"] > 1]) & rows["date"].notna()
    if mixed.any():
        left = rows.loc[mixed, ["_vehicle", "date"]].sort_values("date")
        entries = log[["vehicle", "date", "unit"]].sort_values("date")
        near = pd.merge_asof(left, entries, on="date", left_by="_vehicle", right_by="vehicle")["unit"]
        unit = unit.mask(mixed, near.set_axis(left.index).reindex(rows.index))
    return unit.astype(object).fillna("").astype("str")
