"""Typed rows against what is known: new, already known, or held back because they contradict it."""

from dataclasses import dataclass

import pandas as pd

from ingest.catalogue.known_facts import read_fact
from ingest.look.plausible import plausible_range
from ingest.names.aliases import check_aliases
from ingest.names.nearest import nearest
from ingest.names.points import by_point
from ingest.problems import CELLS, NAMES, POINT, Problems
from ingest.schema import TABLES
from ingest.value_state import is_negative
from ingest.verdicts.again import hold_contradictions, known_again
from ingest.verdicts.log_check import check_log
from ingest.verdicts.normalise import Normalised
from ingest.verdicts.odometers import check_odometers

_LISTED = 3  # nearest names that a message lists
NAMED_IN = {"vehicle": "vehicles", "part_no": "parts", "opening": "openings"}
"""Column -> table in which its names must be on record, where that table has any rows."""


@dataclass(frozen=True)
class Judged:
    """Verdicts on the rows of one table.

    Attributes
    ----------
    accepted : rows to store.
    known : labels of rows that say what is stored (or stands earlier in the same call) already.
    replaced : row_id of stored rows that accepted ones replace.
    problems : reasons for all other rows.
    """

    accepted: pd.DataFrame
    known: pd.Index
    replaced: pd.Series
    problems: Problems


def judge(
    given: Normalised,
    known: dict[str, pd.DataFrame],
    *,
    accept: bool = False,
    stand: pd.Index | None = None,
) -> Judged:
    """Decide about every row of one table.

    Parameters
    ----------
    given : rows of a table, read.
    known : the tables as stored and as accepted earlier in this call (row_id -1 for the latter).
    accept : take rows about which there are only doubts: somebody has looked at them.
    stand : labels of rows of which somebody has said that they are right as they stand.

    Returns
    -------
    Judged : accepted, known and held-back rows are disjoint and together all rows.
    """
    table, rows, problems = given.table, given.rows, given.problems
    _check_names(table, rows, known, problems)
    again = known_again(table, rows[~rows.index.isin(problems.rows())], known[table])
    fresh = rows[~rows.index.isin(again)]
    _check_cells(given, fresh, known)
    _let_stand(stand, problems)
    sound = fresh[~fresh.index.isin(problems.rows(firm=accept))]
    replaced = hold_contradictions(table, sound, known, problems, repeated=rows.loc[again])
    _let_stand(stand, problems)
    bad = problems.rows(firm=accept)
    return Judged(rows[~rows.index.isin(bad.union(again))], again.difference(bad), replaced, problems)


def _let_stand(stand: pd.Index | None, problems: Problems) -> None:
    if stand is not None and len(stand):
        problems.drop(stand, doubts=True)


def _check_names(table: str, rows: pd.DataFrame, known: dict[str, pd.DataFrame], problems: Problems) -> None:
    with problems.waiting_for(NAMES):
        if "point" in rows and table != "wear_points":
            _known_names(rows, "point", known["wear_points"]["point"], problems)
        for column, named_in in NAMED_IN.items():
            if column in rows and table != named_in:
                _known_names(rows, column, known[named_in][column], problems)


def _check_cells(given: Normalised, rows: pd.DataFrame, known: dict[str, pd.DataFrame]) -> None:
    """Rows that are not known yet, against wear points and log."""
    table, problems = given.table, given.problems
    names = TABLES[table].public
    cells = {name: given.raw.get(name, pd.Series("", given.rows.index, dtype="str")) for name in names}
    if table == "readings":
        with problems.doubts():
            _check_values(rows, "value", cells["value"], known, problems)
        with problems.waiting_for(POINT):
            check_odometers(rows, cells["odometer"], known, problems)
    elif table == "work":
        with problems.doubts():
            for name in ("value_before", "value_after"):
                _check_values(rows, name, cells[name], known, problems)
    elif table == "mileage":
        with problems.waiting_for(POINT):
            check_log(rows, known["mileage"], cells["odometer"], problems)
    elif table == "position_aliases":
        check_aliases(rows, known[table], known["wear_points"], problems)
    elif table == "facts":
        with problems.waiting_for(CELLS):
            _check_facts(rows, problems)
    elif table == "wear_points":
        _check_base_units(rows, cells["unit"], known, problems)


def _check_facts(rows: pd.DataFrame, problems: Problems) -> None:
    """A fact must be one that something depends on, and its value one that can be read."""
    known = [
        read_fact(fact, value, unit)
        for fact, value, unit in zip(rows["fact"], rows["value"], rows["unit"].fillna(""), strict=True)
    ]
    for column, unknown in (("fact", True), ("value", False)):
        words = [problem if (fact is None) == unknown else "" for fact, _, problem in known]
        wrong = pd.Series([bool(word) for word in words], rows.index, dtype=bool)
        problems.where(wrong, column, rows[column], pd.Series(words, rows.index, dtype="str"))


def _known_names(rows: pd.DataFrame, column: str, names: pd.Series, problems: Problems) -> None:
    """Names must be on record, unless nothing of the kind is on record at all: points may not be left out."""
    if column in NAMED_IN and names.empty:
        return
    known = pd.Index(names.unique())
    unknown = ~rows[column].isin(known) & (rows[column] != "")
    if not unknown.any():
        return
    listed = known.astype("str").tolist()
    what = {"point": "wear point", "part_no": "part"}.get(column, column)
    words = {}
    for name in rows.loc[unknown, column].unique():
        near = nearest(name, listed, _LISTED, at_least=0.6)
        hint = (
            "nearest: " + ", ".join(near)
            if near
            else f"add it to the table {NAMED_IN.get(column, 'wear_points')}"
        )
        words[name] = f"no {what} of that name is on record; {hint}"
    problems.where(unknown, column, rows[column], rows[column].map(words).fillna("").astype("str"))


def _check_values(
    rows: pd.DataFrame, name: str, found: pd.Series, known: dict[str, pd.DataFrame], problems: Problems
) -> None:
    """A value must be possible: not below zero by more than a gauge scatters, not far beyond new or limit."""
    about = by_point(known["wear_points"])
    new = rows["point"].map(about["new_value"]).astype("float64")
    condemning = rows["point"].map(about["condemning_limit"]).astype("float64")
    negative = is_negative(rows[name], new, condemning)
    with problems.waiting_for(POINT):
        problems.where(negative, name, found, "the value is negative")
    reach = plausible_range(rows["point"], known)
    absurd = ((rows[name] < reach["low"]) | (rows[name] > reach["high"])) & ~negative
    if absurd.any():
        told = reach[absurd].join(pd.DataFrame({"new": new, "condemning": condemning}))
        told["unit"] = rows["point"].map(about["unit"]).astype(object).fillna("")
        told["per"] = rows["point"].map(about["per_base"]).astype("float64")
        words = told.apply(_outside_words, axis=1).astype("str")
        with problems.waiting_for(POINT):  # by new value and limit; what was read of its kind is any reading
            problems.where(absurd & ~reach["seen"], name, found, words)
        problems.where(absurd & reach["seen"], name, found, words)


def _outside_words(row: pd.Series) -> str:
    per, unit = row["per"], row["unit"]
    low, high = f"{max(row['low'] * per, 0.0):.4g}", f"{row['high'] * per:.4g} {unit}"
    why = (
        "by what was read of its kind"
        if row["seen"]
        else f"new {row['new'] * per:.6g} {unit}, limit {row['condemning'] * per:.6g} {unit}"
    )
    return (
        f"the value is far outside what this point can be, from {low} to {high} ({why}); "
        "is the decimal point or the unit right?"
    )


def _check_base_units(
    rows: pd.DataFrame, found: pd.Series, known: dict[str, pd.DataFrame], problems: Problems
) -> None:
    """A point that has readings keeps its kind of unit."""
    stored = by_point(known["wear_points"])["base_unit"]
    read = rows["point"].isin(pd.Index(known["readings"]["point"].unique())) & rows["point"].isin(
        stored.index
    )
    before = rows["point"].map(stored).where(read, rows["base_unit"]).astype("str")
    words = "this point has readings in " + before + "; the new unit cannot be turned into that"
    problems.where(read & (before != rows["base_unit"]), "unit", found, words)
