"""A cell that holds both sides, ``L 0.12 / R 0.15``, or two values under *L/R*: a row for each side.

Only what is plainly two values is parted. A fraction such as ``7/8`` under *L/R* stays whole, and is held
back, unless another cell of the column shows that it holds pairs.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pandas as pd

from ingest.layouts.headings import split_unit
from ingest.layouts.plain import RawTable
from ingest.layouts.side_words import order_of_sides
from ingest.names.positions import read_position

SIDES = ":sides"
"""Column that says in which order the values of a cell stand: ``left right`` or ``right left``."""

# Each repeat is bounded, so that a long text takes no longer than its length, and keeps what it took (``+``
# behind it) where a shorter one could not be followed by what stands next: some fifth of the time.
_NUMBER = (
    r"(?:[0-9]{1,9}+ [0-9]{1,4}+/[0-9]{1,4}+|[0-9]{1,4}+/[0-9]{1,4}+"
    r"|[0-9]{0,9}+[.,][0-9]{1,9}+|[0-9]{1,18}+)"
)
_VALUE = rf"{_NUMBER} ?(?:\"|''|″|”|mm|in\b|inch\b|thou\b)?"
_MARK = r" ?[:=]? ?"
_PART = r" ?[/;,|&+]? ?"
_WORD = r"[^\W\d_]{1,24}+(?:\.[^\W\d_]{1,24}+){0,4}+\.?+"
_LABELLED = (
    re.compile(
        rf"(?P<one>{_WORD}){_MARK}(?P<first>{_VALUE}){_PART}(?P<other>{_WORD}){_MARK}(?P<second>{_VALUE})"
    ),
    re.compile(rf"(?P<first>{_NUMBER}) ?(?P<one>{_WORD}){_PART}(?P<second>{_NUMBER}) ?(?P<other>{_WORD})"),
)
_PERHAPS = r"^[^0-9 ]+[ :=]*[0-9].*[^0-9]|[0-9] ?[A-Za-z].*[0-9] ?[A-Za-z]"
"""What a cell looks like that may name both sides: few do, and a sheet may have a million."""
_PAIR = re.compile(rf"(?P<first>{_VALUE}|-) ?[/;|] ?(?P<second>{_VALUE}|-)")
_FRACTION = re.compile(r"([0-9]+) ?/ ?(2|4|8|16|32|64)")
_HEADING = re.compile(
    rf"(?P<what>.*?)\(?(?P<one>{_WORD}) ?[/|&+-] ?(?P<other>{_WORD})\)?(?P<unit> ?[^ ]{{0,24}})"
)


@lru_cache(maxsize=4096)
def pair_named(heading: str) -> tuple[str, str]:
    """What a heading says beside *L/R* (with its unit), and the order of the sides; two empty texts if none.

    ``Hollow L/R (mm)`` is ``("Hollow (mm)", "left right")``.
    """
    found = _HEADING.fullmatch(heading.strip())
    order = order_of_sides(found["one"], found["other"]) if found else ""
    if not found or not order:
        return "", ""
    what, unit = found["what"].strip(" ,:-"), found["unit"].strip()
    if unit and not split_unit(f"value {unit}")[1]:
        return "", ""
    return f"{what} {unit}".strip(), order


def split_heading(heading: str) -> tuple[str, str]:
    """As ``split_unit``, the sides that a heading names kept at its end: ``("Hollow left/right", "mm")``."""
    what, order = pair_named(heading)
    if not order:
        return split_unit(heading)
    base, unit = split_unit(f"value {what}")
    return f"{base.removeprefix('value').strip()} {order.replace(' ', '/')}".strip(), unit


def with_both_sides(rows: pd.DataFrame) -> pd.DataFrame:
    """The rows, those whose value is that of two sides as two.

    Parameters
    ----------
    rows : text under the columns of the readings, with ``SIDES`` where the heading of the value names both;
        a quantity may do so too.
    """
    if "value" not in rows or rows.empty:
        return rows.drop(columns=SIDES, errors="ignore")
    order = rows[SIDES] if SIDES in rows else pd.Series("", rows.index, dtype="str")
    rows = rows.drop(columns=SIDES, errors="ignore")
    if "quantity" in rows:
        named = {text: pair_named(text) for text in rows["quantity"].unique()}
        in_quantity = rows["quantity"].map({text: sides for text, (_, sides) in named.items()}).astype("str")
        bases = rows["quantity"].map({text: what or text for text, (what, _) in named.items()})
        rows = rows.assign(quantity=bases.astype("str"))
        order = order.mask(order == "", in_quantity)
    parted = _parted(rows, order)
    if not parted:
        return rows
    times = [len(parted.get(place, [""])) for place in range(len(rows))]
    out = rows.iloc[np.repeat(np.arange(len(rows)), times)]
    pairs = [pair for place in range(len(rows)) for pair in parted.get(place, [("", "")])]
    before = out["position"] if "position" in out else pd.Series("", out.index, dtype="str")
    where = [f"{text} {side}".strip() for text, (side, _) in zip(before, pairs, strict=True)]
    value = [said or text for text, (_, said) in zip(out["value"], pairs, strict=True)]
    return out.assign(position=pd.array(where, dtype="str"), value=pd.array(value, dtype="str"))


def with_value_of_both(table: RawTable) -> RawTable:
    """The table, its one heading that names both sides over cells of two values as that of the value."""
    named = {heading: pair_named(heading) for heading in table.columns}
    pairs = [
        heading for heading, (_, sides) in named.items() if sides and table.rows[heading].map(is_pair).any()
    ]
    if len(pairs) != 1 or SIDES in table.rows:
        return table
    what, sides = named[pairs[0]]
    renamed = {pairs[0]: what if what and not what.startswith(("(", "[")) else f"value {what}".strip()}
    marks = table.marks if table.marks is None else table.marks.rename(columns=renamed)
    rows = table.rows.rename(columns=renamed).assign(**{SIDES: sides})
    return replace(table, rows=rows, columns=[str(heading) for heading in rows.columns], marks=marks)


def is_pair(text: str) -> bool:
    """Whether a cell holds a value for each of two sides."""
    return bool(_labelled(text)) or _PAIR.fullmatch(text) is not None


def _parted(rows: pd.DataFrame, order: pd.Series) -> dict[int, list[tuple[str, str]]]:
    """Place of a row -> side and value of each of its two."""
    named = rows["point"] if "point" in rows else pd.Series("", rows.index, dtype="str")
    position = rows["position"] if "position" in rows else pd.Series("", rows.index, dtype="str")
    places = np.flatnonzero((order != "") | rows["value"].str.contains(_PERHAPS))
    cells = [
        tuple(column.iloc[place] for column in (rows["value"], position, named, order)) for place in places
    ]
    pairs_here = {
        sides for text, _, _, sides in cells if sides and _PAIR.fullmatch(text) and not _may_be_fraction(text)
    }
    parted = {}
    for place, (text, where, point, sides) in zip(map(int, places), cells, strict=True):
        found = _labelled(text) or list(_in_order(text, sides, proven=sides in pairs_here))
        if found and point == "" and not _has_side(where):
            parted[place] = found
    return parted


@lru_cache(maxsize=8192)
def _labelled(text: str) -> list[tuple[str, str]]:
    """Side and value of each of two, where the cell names the sides."""
    for pattern in _LABELLED:
        found = pattern.fullmatch(" ".join(text.split()))
        order = order_of_sides(found["one"], found["other"]) if found else ""
        if found and order:
            return list(zip(order.split(), (found["first"].strip(), found["second"].strip()), strict=True))
    return []


def _in_order(text: str, sides: str, *, proven: bool) -> Iterator[tuple[str, str]]:
    """Side and value of each of two, where the heading names them; a dash is a side not measured."""
    found = _PAIR.fullmatch(" ".join(text.split()))
    if not found or not sides or (_may_be_fraction(text) and not proven):
        return
    for side, said in zip(sides.split(), (found["first"].strip(), found["second"].strip()), strict=True):
        if said != "-":
            yield side, said


def _may_be_fraction(text: str) -> bool:
    """Whether two figures may be one: a fraction of an inch."""
    return _FRACTION.fullmatch(text.strip()) is not None


def _has_side(position: str) -> bool:
    understood = read_position(position) if position else None
    return understood is not None and understood.side != ""
