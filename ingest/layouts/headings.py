"""Which table a sheet is, by its headings in any order, case, spacing and by usual other names."""

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from importlib.resources import files

from ingest import units
from ingest.errors import UnknownTable
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.schema import TABLES

_NO_WORD = re.compile(r"[\W_]+")

_IN = re.compile(r" (?:in|en|w|v)$")
"""What may stand between a heading and its unit."""

_PARTS_OF_MM = re.compile(r"(?: (?:in|en|w|v))? ((?:1/100?|0?[.,]0?1) ?mm)$")

_UNIT_WORDS = {"mm", "cm", "thou", "mils", "inch", "inches"}
"""Units that may end a heading without brackets; ``in`` or ``m`` there may be a word or a letter."""

_RATHER = "rather"
"""Section of words that are rather one of the columns that they may be."""

_MOST_USED = ("vehicles", "wear_points", "mileage", "readings", "work", "costs", "usage", "funds")

NOTE = "please note"
"""Only heading of a sheet that holds words for people and no rows: it is passed over."""


@dataclass(frozen=True)
class Recognised:
    """A sheet's headings understood.

    ``table`` is the public table; ``renames`` heading as written → column of the table; ``unknown`` the
    headings that are no column of it; ``units`` column → canonical unit that its heading names
    (``Value (in)``).
    """

    table: str
    renames: dict[str, str]
    unknown: list[str]
    units: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class TableHeadings:
    """What the headings of one table may be: the columns needed, and column → its other names."""

    needs: tuple[str, ...]
    columns: dict[str, tuple[str, ...]]


@cache
def known_tables() -> dict[str, TableHeadings]:
    """The public tables: their columns by ``ingest.schema``, other names by ``headings.toml``."""
    written = tomllib.loads((files("ingest.layouts") / "headings.toml").read_text(encoding="utf-8"))
    everywhere, abroad = written.pop("everywhere"), _abroad()
    known = {}
    for table in dict.fromkeys((*written, *TABLES)):
        own = written.get(table, {})
        columns = dict.fromkeys((*TABLES[table].public[:1], *TABLES[table].parts, *TABLES[table].public))
        others = {
            column: (*own.get(column, everywhere.get(column, ())), *abroad.get(column, ()))
            for column in columns
        }
        known[table] = TableHeadings(tuple(own.get("needs", TABLES[table].needed)), others)
    return known


def _abroad() -> dict[str, tuple[str, ...]]:
    """Column -> what people call it in other languages."""
    names: dict[str, tuple[str, ...]] = {}
    for language, words in _written_abroad().items():
        for column, texts in words.items() if language != _RATHER else ():
            names[column] = (*names.get(column, ()), *texts)
    return names


@cache
def _written_abroad() -> dict[str, dict[str, list[str]]]:
    text = (files("ingest.layouts") / "headings_abroad.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _rather() -> frozenset[tuple[str, str]]:
    """Column, and word that is rather that one where it may be two."""
    return frozenset((c, _plain(text)) for c, texts in _written_abroad()[_RATHER].items() for text in texts)


def recognise(columns: Sequence[str], stated: str | None = None) -> Recognised:
    """The table whose headings these are.

    Parameters
    ----------
    columns : headings as written, in any order.
    stated : the table that a layout says they are; it need not be complete.

    Returns
    -------
    Recognised : the table with every needed column among them; of several, the one that knows most of the
        headings.

    Raises
    ------
    UnknownTable : none or more than one fits; the message names the nearest table and what it lacks.
    """
    if stated is not None:
        return match(columns, stated)
    tried = [match(columns, table) for table in known_tables()]
    fitting = [candidate for candidate in tried if not lacking(candidate)]
    most = max((len(candidate.renames) for candidate in fitting), default=0)
    # A table that lacks a column and yet has a name for more of the headings is what the sheet means: read as
    # the smaller table, what it is about would be passed over.
    if not fitting or max(len(candidate.renames) for candidate in tried) > most:
        raise UnknownTable(_nearest(columns))
    best = [candidate for candidate in fitting if len(candidate.renames) == most]
    if len(best) > 1:
        # A heading that is the column's own name says more than one of its other names.
        exact = [
            sum(_plain(c) == _plain(name) for c, name in candidate.renames.items()) for candidate in best
        ]
        best = [candidate for candidate, count in zip(best, exact, strict=True) if count == max(exact)]
    if len(best) > 1:
        names = " and ".join(candidate.table for candidate in best)
        raise UnknownTable(
            f"The headings {_listed(columns)} fit the tables {names} alike. "
            "Use the column names of the README, or say in a layout which table it is."
        )
    return best[0]


def match(columns: Sequence[str], table: str) -> Recognised:
    """The headings as columns of one table, whether or not it is complete.

    The column's own name takes precedence over its other names, and of two headings for one column the first
    is taken.
    """
    names = _names(table)
    renames: dict[str, str] = {}
    unit_of_column: dict[str, str] = {}
    # In rounds: "reading" cannot take the place of "value" when both are there, nor a word that may be either
    # of two columns that of one that is plainly one of them, or rather that one.
    for taken in (_is_own, _is_one, _is_rather, _is_any):
        for heading in columns:
            if len(heading) > bound("cell", "longest_heading"):
                continue  # no name of a column is that long
            base, unit = split_unit(heading)
            may_be = names.get(_plain(heading)) or names.get(_plain(base), ())
            column = next((name for name in may_be if name not in renames.values()), None)
            if column is None or heading in renames:
                continue
            if taken(may_be, (_plain(heading), _plain(base))):
                renames[heading] = column
                # "service_days" is a name of its own; its last word is no unit of it.
                if unit and (_plain(heading) not in names or unit in units.DISTANCE_MI):
                    unit_of_column[column] = unit
    ordered = {heading: renames[heading] for heading in columns if heading in renames}
    return Recognised(table, ordered, [h for h in columns if h not in renames], unit_of_column)


def lacking(recognised: Recognised) -> list[str]:
    """The needed columns of the table that no heading names, as ``a or b`` where one of several would do."""
    present = set(recognised.renames.values())
    return [
        need.replace("|", " or ").replace("+", " with ")
        for need in known_tables()[recognised.table].needs
        if not any(set(choice.split("+")) <= present for choice in need.split("|"))
    ]


@lru_cache(maxsize=4096)
def split_unit(heading: str) -> tuple[str, str]:
    """Heading without its unit, and the canonical unit: ``Value [in]`` → ``Value``, ``in``; "" if none.

    A unit stands in brackets, after a comma or a slash, after the last underscore, or as the last word where
    it can be no other word (``Clearance thou``); a heading that speaks of miles or kilometres names its unit
    by that. A text longer than any heading names none.
    """
    if len(heading) > bound("cell", "longest_heading"):
        return heading, ""
    for base, written in _parted(heading.rstrip()):
        unit = units.unit_of(written) or ""
        return (base, unit) if units.is_known(unit) else _by_distance(heading)
    return _by_distance(heading)


def _by_distance(heading: str) -> tuple[str, str]:
    distances = {units.unit_of(word) for word in _NO_WORD.split(heading)} & set(units.DISTANCE_MI)
    return heading, distances.pop() or "" if len(distances) == 1 else ""


def _parted(heading: str) -> Iterator[tuple[str, str]]:
    """What stands before each place where a unit may begin, and the unit; the first place first."""
    places = []
    if parts := _PARTS_OF_MM.search(heading):  # Spiel in 1/10 mm
        places.append((parts.start(), parts[1]))
    if heading.endswith((")", "]", "}")):
        inside = heading[:-1]
        opens = max(inside.rfind(mark) for mark in "()[]{}")
        if opens >= 0 and inside[opens] in "([{":
            places.append((opens, inside[opens + 1 :]))
    comma = max(heading.rfind(","), heading.rfind("/"))
    places.append((comma, heading[comma + 1 :]))
    line = heading.rfind("_")
    if heading[line + 1 :].isalnum():
        places.append((line, heading[line + 1 :]))
    space = heading.rfind(" ")
    if heading[space + 1 :].lower() in _UNIT_WORDS:
        before = _IN.search(heading[:space])  # Value in mm, Maß in mm, cote en mm
        places.append((before.start() if before else space, heading[space + 1 :]))
    for place, written in sorted(places):
        base = heading[:place].rstrip() if place > 0 else ""
        if written and any(mark.isalnum() or mark == "_" for mark in base):
            yield base, written


def _is_own(may_be: tuple[str, ...], said: tuple[str, str]) -> bool:
    """Whether a heading is the column's own name."""
    return _plain(may_be[0]) in said


def _is_one(may_be: tuple[str, ...], said: tuple[str, str]) -> bool:
    """Whether a heading is a name of one column, and not its own."""
    return len(may_be) == 1 and not _is_own(may_be, said)


def _is_rather(may_be: tuple[str, ...], said: tuple[str, str]) -> bool:
    """Whether a heading is a name of several columns, and of one of them rather than of the others."""
    return any((column, text) in _rather() for column in may_be for text in said) and len(may_be) > 1


def _is_any(may_be: tuple[str, ...], said: tuple[str, str]) -> bool:
    """Whether a heading is a name of several columns, of which others may be taken."""
    return len(may_be) > 1 and not _is_own(may_be, said)


@cache
def _names(table: str) -> dict[str, tuple[str, ...]]:
    """Every plain spelling → the columns that it may be, needed ones first; a column's own name is nothing
    else."""
    names: dict[str, tuple[str, ...]] = {}
    about = known_tables()[table]
    for column, others in sorted(about.columns.items(), key=lambda item: item[0] not in about.needs):
        for other in others:
            names[_plain(other)] = tuple(dict.fromkeys((*names.get(_plain(other), ()), column)))
    return names | {_plain(column): (column,) for column in about.columns}


@lru_cache(maxsize=4096)
def _plain(heading: str) -> str:
    """Letters and figures only, without case and marks: two headings that differ in this are different."""
    return _NO_WORD.sub("", unicodedata.normalize("NFKD", heading.casefold()))


def _listed(columns: Sequence[str]) -> str:
    shown = ", ".join(quoted(column, 30) for column in columns[:12])
    return shown + (f" and {len(columns) - 12} more" if len(columns) > 12 else "")


def _nearest(columns: Sequence[str]) -> str:
    """What was found, the table that comes nearest, and what it lacks."""
    tried = [match(columns, table) for table in known_tables()]
    nearest = max(
        tried,
        key=lambda candidate: (
            len(candidate.renames) > 0,
            bool(lacking(candidate)),
            -len(lacking(candidate)),
            len(candidate.renames),
        ),
    )
    if not nearest.renames:
        tables = f"{', '.join(_MOST_USED)} and {len(known_tables()) - len(_MOST_USED)} others"
        return (
            f"The headings {_listed(columns)} are none of a known table ({tables}). "
            "Headings belong in the first row; for a sheet with a layout of its own, write that layout "
            "(milesleft layout FILE)."
        )
    return (
        f"The headings {_listed(columns)} fit no table. The nearest is {nearest.table}, which also needs "
        f"{', '.join(lacking(nearest))}. Add the column, or write a layout (milesleft layout FILE)."
    )
