"""Columns spread out to rows: a column for each quantity, position or date becomes a long table."""

from itertools import permutations

import pandas as pd

from ingest.layouts.both_sides import split_heading
from ingest.layouts.layout import SheetLayout, Spread
from ingest.layouts.side_words import order_of_sides
from ingest.layouts.stage_words import AFTER, BEFORE, stages_alone, stages_of_quantities
from ingest.layouts.text import like
from ingest.notation.stated import STAGE
from ingest.sheets.cells import unmarked


def spread_out(
    rows: pd.DataFrame, values: pd.DataFrame, header: pd.DataFrame, how: SheetLayout
) -> pd.DataFrame:
    """A row for each filled cell of the spread columns, with what its headings say."""
    spread = how.spread
    assert spread is not None
    texts_of = _texts_of_headings(header, spread)
    parts = []
    for place, position in enumerate(values.columns):
        column = values[position]
        filled = (column != "") & ~unmarked(column).map(lambda text: like(text, how.nothing))
        part = rows[filled.to_numpy(dtype=bool)].copy()
        part[spread.into] = column[filled]
        for name, texts in texts_of.items():
            if name not in part:
                part[name] = texts[place]
            elif name != "unit":  # a wheel's number in the row and its side in the heading are one position
                part[name] = (part[name] + " " + texts[place]).str.strip()
        parts.append(part)
    return pd.concat(parts).sort_index(kind="stable") if parts else rows.iloc[:0]


def _texts_of_headings(header: pd.DataFrame, spread: Spread) -> dict[str, list[str]]:
    """Column → what the headings of each spread column say about it; their units as a column."""
    texts_of: dict[str, list[str]] = {}
    units, stages = [""] * header.shape[1], list[str]()
    lines, beside = list[list[str]](), list[list[str]]()
    for place, (name, (_, texts)) in enumerate(zip(spread.headings, header.iterrows(), strict=False)):
        line = list(texts)
        if place < len(header) - 1:  # a heading over several columns stands over the first of them
            line = list(pd.Series(line, dtype="str").replace("", None).ffill().fillna(""))
        lines.append(line)
        split = [split_heading(text) for text in line]
        units = [unit or own for unit, (_, own) in zip(units, split, strict=True)]
        parts = line if name == "date" else [base for base, _ in split]
        if name == "stage":
            stages = stages_alone(parts)
            continue
        beside.append(line)
        if name == "quantity":
            parts, sides = _without_sides(parts)
            _join(texts_of, "position", sides)
        if name:
            _join(texts_of, name, parts)
    headings = [" ".join(filter(None, dict.fromkeys(texts))) for texts in zip(*lines, strict=True)]
    if stages:
        stages = _of_both(stages, [tuple(texts) for texts in zip(*beside, strict=True)] or [()] * len(stages))
    elif of_place := stages_of_quantities(texts_of.get("quantity", [])):
        stages = [of_place[p][1] if p in of_place else "" for p in range(len(headings))]
        bare = enumerate(texts_of["quantity"])
        texts_of["quantity"] = [of_place[p][0] if p in of_place else text for p, text in bare]
    if any(stages):
        told = zip(stages, headings, strict=True)
        texts_of[STAGE] = [f"{stage} {heading}" if stage else "" for stage, heading in told]
    return texts_of | ({"unit": units} if any(units) else {})


def _join(texts_of: dict[str, list[str]], name: str, parts: list[str]) -> None:
    """Put what a row of headings says behind what one above it said."""
    if any(parts):
        before = texts_of.get(name, [""] * len(parts))
        texts_of[name] = [f"{first} {then}".strip() for first, then in zip(before, parts, strict=True)]


def _of_both(stages: list[str], beside: list[tuple[str, ...]]) -> list[str]:
    """Before and after where both stand over or under the same words: a heading may not reach so far."""
    said: dict[tuple[str, ...], set[str]] = {}
    for stage, words in zip(stages, beside, strict=True):
        said.setdefault(words, set()).add(stage)
    both = [{BEFORE, AFTER} <= said[words] for words in beside]
    return [stage if here else "" for stage, here in zip(stages, both, strict=True)]


def _without_sides(quantities: list[str]) -> tuple[list[str], list[str]]:
    """Headings without the side at their end, and the side; only where one of the same words has the other.

    ``Flange left`` beside ``Flange right`` are one quantity on two sides; ``Play left`` alone may be what is
    left of it.
    """
    ends: dict[str, set[str]] = {}
    for text in quantities:
        what, _, last = text.rpartition(" ")
        if what:
            ends.setdefault(what, set()).add(last)
    side_of = {
        (what, word): side
        for what, words in ends.items()
        for one, other in permutations(sorted(words), 2)
        if (order := order_of_sides(one, other))
        for word, side in zip((one, other), order.split(), strict=True)
    }
    parted = [text.rpartition(" ") for text in quantities]
    sides = [side_of.get((what, last), "") for what, _, last in parted]
    whole = zip(quantities, parted, sides, strict=True)
    return [what if side else text for text, (what, _, _), side in whole], sides
