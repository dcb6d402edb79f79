"""The catalogue's tables, read once from the files beside this module."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import pandas as pd

from ingest.errors import WrongUsage
from ingest.units import from_base, is_length, to_base

MEMORY_MARK = "not read in the text itself: check it there before use"
"""Stands wherever a figure is shown that was recalled and not read in its text."""
NO_SOURCE = "common practice, no source"


@lru_cache(maxsize=16)
def table_of(name: str) -> pd.DataFrame:
    with (files("ingest.catalogue") / f"{name}.csv").open(encoding="utf-8") as file:
        return pd.read_csv(file, dtype=str, keep_default_na=False)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of a frame as dictionaries by column name."""
    names = [str(name) for name in frame.columns]
    columns = (frame[name].tolist() for name in frame.columns)
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def figure(text: str) -> float:
    """A figure as printed: ``1 5/16``, ``53 3/8``, ``0.021``; NaN for an empty text."""
    parts = re.sub(r"(?<=\d)-(?=\d+/)", " ", text.replace(",", "")).split()
    return float(sum(Fraction(part) for part in parts)) if parts else float("nan")


def limits(limit_set: str = "") -> pd.DataFrame:
    """Rows of the catalogue of limits.

    Parameters
    ----------
    limit_set : a name of :func:`limit_sets`; empty for all sets.

    Returns
    -------
    id, limit_set, component (several parted by |), quantity, group (axle groups, parted by |; empty = any),
    bound (min / max), basis (value / loss / gain / gage less / sum / axle spread / set spread / ...), value
    (as printed), number, unit, condemned_when (at / beyond), tier (law / practice / shop / none), conditions,
    paragraph, source, status (found / memory), grade (A text of the law, B handbook), read_in, note, quote.
    ``tier`` none: the text has no figure and the railway must set its own.
    """
    table = _numbered("limits").copy()
    return table[table["limit_set"] == known_set(limit_set)] if limit_set else table


@lru_cache(maxsize=1)
def limit_rows() -> tuple[Mapping[str, Any], ...]:
    """Rows of :func:`limits` of all sets by column name, made once: nobody may change them."""
    return tuple(MappingProxyType(row) for row in records(_numbered("limits")))


@lru_cache(maxsize=2)
def _numbered(name: str) -> pd.DataFrame:
    table = table_of(name)
    return table.assign(number=[figure(text) for text in table["value"]])


def sources() -> pd.DataFrame:
    """source, title, edition, date, kind (law / handbook / trade journal / none)."""
    return table_of("sources").copy()


def limit_sets() -> pd.DataFrame:
    """limit_set, family, title, unit, recognised_by, country, vehicles, original_stands.

    Families are never mixed on one vehicle.
    """
    return table_of("sets").copy()


def known_set(limit_set: str) -> str:
    """The name itself.

    Raises
    ------
    WrongUsage : there is no limit set of that name.
    """
    names = [name for name, _ in _sets()]
    if limit_set not in names:
        raise WrongUsage(f"limit set {limit_set!r} is not known. Known are {', '.join(names)}.")
    return limit_set


@lru_cache(maxsize=1)
def _sets() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Name of each set and the words by which a source cites it."""
    table = table_of("sets")
    return tuple(
        (name, _whole_words(words))
        for name, words in zip(table["limit_set"], table["recognised_by"], strict=True)
    )


def _whole_words(words: str) -> re.Pattern[str]:
    """Any of the words parted by |, not within a longer word: *EBO* is not in *EBONITE*."""
    any_word = "|".join(re.escape(word) for word in words.split("|"))
    return re.compile(rf"(?<![A-Za-z])(?:{any_word})(?![A-Za-z])")


@lru_cache(maxsize=4096)
def set_of_source(limit_source: str) -> str:
    """Limit set that a text in ``limit_source`` cites first, empty if none."""
    places = ((words.search(limit_source), name) for name, words in _sets())
    return min(((place.start(), name) for place, name in places if place), default=(0, ""))[1]


@dataclass(frozen=True)
class Family:
    """Limit sets whose ranges do not overlap with those of another family: never mixed on one vehicle.

    Attributes
    ----------
    name : for people. shows : figures that part it from the others, with their source.
    sets : its limit sets. cited : finds a text that cites one of them.
    """

    name: str
    shows: str
    sets: tuple[str, ...]
    cited: re.Pattern[str]


@lru_cache(maxsize=1)
def families() -> Mapping[str, Family]:
    """Families of limit sets by their key in ``limit_sets``."""
    sets = table_of("sets")
    found = {}
    for row in records(table_of("families")):
        own = sets[sets["family"] == row["family"]]
        cited = _whole_words("|".join(own["recognised_by"]))
        found[row["family"]] = Family(row["name"], row["inside_flanges"], tuple(own["limit_set"]), cited)
    return MappingProxyType(found)


def family_of(limit_set: str) -> str:
    """Family of a limit set; empty for none."""
    return next((key for key, family in families().items() if limit_set in family.sets), "")


def cited(row: Mapping[str, Any]) -> str:
    """Source and paragraph of a row, with the mark of what was not read in the text."""
    short, title = _sources()[str(row["source"])]
    named = f"{short} {row['paragraph']}".strip() or title
    return f"{named} [{MEMORY_MARK}]" if row["status"] == "memory" else named


@lru_cache(maxsize=1)
def _sources() -> dict[str, tuple[str, str]]:
    """Short name and title of each source."""
    table = table_of("sources")
    return {row[0]: row[1:] for row in zip(table["source"], table["short"], table["title"], strict=True)}


def fits() -> pd.DataFrame:
    """Fits and dimensions of new work: id, what, value, unit, source, status, grade, note, number."""
    return _numbered("fits").copy()


def reassembly_fits(stated: pd.DataFrame) -> pd.DataFrame:
    """Fits at reassembly as limits of checks, those left out for which a figure is stated.

    Parameters
    ----------
    stated : check, bound: figures of the governing rules and the railway's own
        (``ingest.catalogue.difference_limits``), which come before practice.

    Returns
    -------
    check, part (several parted by |), measure, beside (alone / less bore / less pin / over inches / left
    against right), with_part, with_measure, bound, limit [base unit], base_unit, units (base units of the
    wear points that it speaks of, parted by |), condemned_when, tier (shop), source, remedy.
    """
    table = _numbered("reassembly_fits")
    known = set(zip(stated["check"], stated["bound"], strict=True))
    open_ = [pair not in known for pair in zip(table["check"], table["bound"], strict=True)]
    rows = table[open_]
    length = rows["unit"].isin(["in", "mm"])
    base = [to_base(value, unit) for value, unit in zip(rows["number"], rows["unit"], strict=True)]
    return rows.assign(
        limit=base,
        base_unit=rows["unit"].mask(length, "mm"),
        condemned_when="beyond",
        tier="shop",
        source=[cited(row) if row["source"] else NO_SOURCE for row in records(rows)],
    ).reset_index(drop=True)


def lives() -> pd.DataFrame:
    """Published lives: component, quantity, miles [mi], service, source, status, grade, note, quote."""
    table = table_of("lives").copy()
    table["miles"] = table["miles"].astype(float)
    return table


def clocks() -> pd.DataFrame:
    """Intervals: clock, title, limit_set, service_days [d], days [d], months, status, citation, note, ..."""
    table = table_of("clocks").copy()
    for column in ("service_days", "days", "months"):
        table[column] = pd.to_numeric(table[column])
    table["citation"] = [cited(row) for row in records(table)]
    return table


def opening_practice() -> pd.DataFrame:
    """What opening an engine weighs where it has no price: depth, share_of_part (its cost as a multiple of
    the middle price of renewing a part), labor_hours [h], days_out [d], source."""
    table = table_of("opening_practice").copy()
    for column in ("share_of_part", "labor_hours", "days_out"):
        table[column] = pd.to_numeric(table[column])
    return table


def measuring_practice() -> pd.DataFrame:
    """What taking one reading takes: access, minutes [min], source."""
    table = table_of("measuring_practice").copy()
    table["minutes"] = pd.to_numeric(table["minutes"])
    return table


def defects(limit_set: str | None = None) -> pd.DataFrame:
    """Findings that are no dimensions: kind, components, words (parted by |), condemns (yes / no), ...

    Parameters
    ----------
    limit_set : set that governs, empty for none: what only the text of another set condemns is out by common
        practice, and ``paragraph`` says so. None: every row as it stands.
    """
    table = table_of("defects").copy()
    if limit_set is None:
        return table
    short = table_of("sources").set_index("source")["short"].to_dict()
    foreign = (table["limit_set"] != "") & (table["limit_set"] != limit_set)
    table.loc[foreign, "paragraph"] = [
        f"common practice, no source of its own; the same as {short[row['source']]} {row['paragraph']}"
        for row in records(table[foreign])
    ]
    return table


def nothing_found() -> frozenset[str]:
    """Words in place of a defect that say that the part was examined and found sound."""
    return frozenset(table_of("nothing_found")["words"])


def puts_out() -> dict[str, tuple[str, ...]]:
    """Parts that a finding puts out together with the one that it names, by that one."""
    return {row["part"]: tuple(row["puts_out"].split("|")) for row in records(table_of("puts_out"))}


def assumptions(
    topic: str,
    vehicle_class: str = "",
    own: pd.DataFrame | None = None,
    ruled: Mapping[str, tuple[float, str]] | None = None,
) -> pd.DataFrame:
    """Assumptions of one computation, with what a railway puts in their place for a class.

    Parameters
    ----------
    topic : ``turning``, ``crown`` or ``lifetimes``.
    vehicle_class : class whose own values hold.
    own : assumption, value and optionally unit (without one it is that of the assumption), topic, class,
        source; a row without a class holds for all classes.
    ruled : by assumption the value, in base unit, and source that the rules of a vehicle state
        (:func:`ingest.catalogue.differences.ruled_assumptions`); ``own`` goes before them.

    Returns
    -------
    topic, assumption, value (number), unit, meaning, source, one row an assumption.

    Raises
    ------
    WrongUsage : ``own`` names an assumption that there is not, or a unit of another kind.
    """
    table = table_of("assumptions")
    table = table[table["topic"] == topic].copy()
    table["value"] = table["value"].map(figure)
    for name, (value, source) in (ruled or {}).items():
        same = table["assumption"] == name
        table.loc[same, "value"] = from_base(value, str(table.loc[same, "unit"].iloc[0]))
        table.loc[same, "source"] = source
    if own is None or own.empty:
        return table.reset_index(drop=True)
    for column in ("unit", "topic", "class", "source"):
        if column not in own:
            own = own.assign(**{column: ""})
    own = own[own["topic"].isin([topic, ""]) & own["class"].isin([vehicle_class, ""])]
    unknown = sorted(set(own["assumption"]) - set(table["assumption"]))
    if unknown:
        known = ", ".join(table["assumption"])
        raise WrongUsage(f"assumption {unknown[0]!r} is not known. Known are {known}.")
    # The row of the class comes last and so replaces the row for all classes.
    for row in own.sort_values("class", kind="stable").itertuples():
        same = table["assumption"] == row.assumption
        table.loc[same, "value"] = _in_unit(
            str(row.assumption), str(row.value), str(row.unit), str(table.loc[same, "unit"].iloc[0])
        )
        table.loc[same, "source"] = str(row.source) or "the railway's own"
    return table.reset_index(drop=True)


def _in_unit(name: str, value: str, given: str, unit: str) -> float:
    """A figure of one's own in the unit of the assumption, in which it is given if no unit is."""
    if given in ("", unit):
        return figure(value)
    if not (is_length(given) and is_length(unit)):
        raise WrongUsage(f"'{given}' is no unit for {name}, which is in '{unit}'.")
    return from_base(to_base(figure(value), given), unit)
