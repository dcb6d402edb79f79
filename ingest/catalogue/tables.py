"""The catalogue's tables, read once from the files beside this module."""

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files
from typing import Any

import pandas as pd

from ingest.errors import WrongUsage

MEMORY_MARK = "FROM MEMORY, not read in the text: check before use"
"""Stands wherever a figure is shown that was recalled and not read in its text."""


@lru_cache(maxsize=16)
def table_of(name: str) -> pd.DataFrame:
    with (files("ingest.catalogue") / f"{name}.csv").open(encoding="utf-8") as file:
        return pd.read_csv(file, dtype=str, keep_default_na=False)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of a frame as dictionaries by column name."""
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]


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
    table = table_of("limits").copy()
    table["number"] = table["value"].map(figure)
    return table[table["limit_set"] == known_set(limit_set)] if limit_set else table


def sources() -> pd.DataFrame:
    """source, title, edition, date, kind (law / handbook / trade journal / none)."""
    return table_of("sources").copy()


def limit_sets() -> pd.DataFrame:
    """limit_set, family, title, unit, recognised_by. Families are never mixed on one vehicle."""
    return table_of("sets").copy()


def known_set(limit_set: str) -> str:
    """The name itself.

    Raises
    ------
    WrongUsage : there is no limit set of that name.
    """
    names = table_of("sets")["limit_set"].tolist()
    if limit_set not in names:
        raise WrongUsage(f"limit set {limit_set!r} is not known. Known are {', '.join(names)}.")
    return limit_set


def set_of_source(limit_source: str) -> str:
    """Limit set that a text in ``limit_source`` cites, empty if none."""
    for row in table_of("sets").itertuples():
        if str(row.recognised_by) in limit_source:
            return str(row.limit_set)
    return ""


def cited(row: Mapping[str, Any]) -> str:
    """Source and paragraph of a row, with the mark of what was not read in the text."""
    source = table_of("sources").set_index("source").loc[str(row["source"])]
    named = f"{source['short']} {row['paragraph']}".strip() or str(source["title"])
    return f"{named} [{MEMORY_MARK}]" if row["status"] == "memory" else named


def fits() -> pd.DataFrame:
    """Fits and dimensions of new work: id, what, value, unit, source, status, grade, note, number."""
    table = table_of("fits").copy()
    table["number"] = table["value"].map(figure)
    return table


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


def defects() -> pd.DataFrame:
    """Findings that are no dimensions: kind, components, words (parted by |), condemns (yes / no), ..."""
    return table_of("defects").copy()


def assumptions(topic: str, vehicle_class: str = "", own: pd.DataFrame | None = None) -> pd.DataFrame:
    """Assumptions of one computation, with what a railway puts in their place for a class.

    Parameters
    ----------
    topic : ``turning`` or ``crown``.
    vehicle_class : class whose own values hold.
    own : assumption, value and optionally topic, class, source; a row without a class holds for all classes.

    Returns
    -------
    topic, assumption, value (number), unit, meaning, source, one row an assumption.

    Raises
    ------
    WrongUsage : ``own`` names an assumption that there is not.
    """
    table = table_of("assumptions")
    table = table[table["topic"] == topic].copy()
    table["value"] = table["value"].map(figure)
    if own is None or own.empty:
        return table.reset_index(drop=True)
    for column in ("topic", "class", "source"):
        if column not in own:
            own = own.assign(**{column: ""})
    own = own[own["topic"].isin([topic, ""]) & own["class"].isin([vehicle_class, ""])]
    unknown = sorted(set(own["assumption"]) - set(table["assumption"]))
    if unknown:
        known = ", ".join(table["assumption"])
        raise WrongUsage(f"assumption {unknown[0]!r} is not known. Known are {known}.")
    # The row of the class comes last and so stands over the row for all classes.
    for row in own.sort_values("class", kind="stable").itertuples():
        at = table["assumption"] == row.assumption
        table.loc[at, "value"] = figure(str(row.value))
        table.loc[at, "source"] = str(row.source) or "the railway's own"
    return table.reset_index(drop=True)
