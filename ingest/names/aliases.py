"""The railway's own words: what its sheets call a position, or a wear point, and what is meant.

The table ``position_aliases`` holds them. A word of one vehicle takes precedence over the same word
of all vehicles; case, spaces and punctuation do not matter.
"""

import re
from collections.abc import Mapping

import pandas as pd

from ingest.names.positions import Resolver, canonical, folded
from ingest.neutral import quoted
from ingest.problems import Problems

ALL = ""
"""Vehicle of a word that holds for every vehicle."""


class Aliases:
    """The words, prepared once for many rows.

    Parameters
    ----------
    rows : as_written, point, position, vehicle; one of point and position filled. None: there are none.
    """

    def __init__(self, rows: pd.DataFrame | None = None) -> None:
        self._points: dict[str, dict[str, str]] = {}
        self._positions: dict[str, dict[str, str]] = {}
        if rows is None:
            return
        for written, point, position, vehicle in rows[
            ["as_written", "point", "position", "vehicle"]
        ].itertuples(index=False, name=None):
            into, meant = (self._points, point) if point else (self._positions, position)
            into.setdefault(folded(vehicle), {})[folded(written)] = meant

    def __bool__(self) -> bool:
        return bool(self._points or self._positions)

    def point(self, written: str, vehicle: str) -> str:
        """Wear point that a word means on a vehicle; empty if it is no word for one.

        Where no vehicle is given, a word counts if it means the same on every vehicle that has it.
        """
        word = folded(written)
        if folded(vehicle) == ALL:
            meant = {words[word] for words in self._points.values() if word in words}
            return meant.pop() if len(meant) == 1 else ""
        own, general = (self._points.get(name, {}) for name in (folded(vehicle), ALL))
        return own.get(word) or general.get(word, "")

    def positions(self, vehicle: str) -> Mapping[str, str]:
        """Words for positions on a vehicle → position."""
        return {**self._positions.get(ALL, {}), **self._positions.get(folded(vehicle), {})}


def with_positions(findings: pd.DataFrame, words: pd.DataFrame, wear_points: pd.DataFrame) -> pd.DataFrame:
    """Findings whose note says in brackets which position the railway's own words in it mean.

    Parameters
    ----------
    findings : vehicle, component, note.
    words : rows of ``position_aliases``.
    wear_points : point, vehicle, position.

    Returns
    -------
    The findings; those that use none of the words as they are.
    """
    if words.empty or findings.empty:
        return findings
    places = wear_points.set_index("point")["position"]
    notes = []
    for vehicle, component, note in findings[["vehicle", "component", "note"]].itertuples(index=False):
        words_of_vehicle = words[words["vehicle"].isin([ALL, vehicle])]
        text = _spaced(f"{component} {note}")
        meant = [
            str(places.get(point, "")) if point else canonical(position)
            for written, point, position in words_of_vehicle[["as_written", "point", "position"]].itertuples(
                index=False
            )
            if f" {_spaced(written).strip()} " in text
        ]
        kept = [place for place in dict.fromkeys(meant) if place and place not in str(note)]
        notes.append(f"{note} [{', '.join(kept)}]" if kept else note)
    return findings.assign(note=pd.Series(notes, findings.index, dtype="str"))


def _spaced(text: str) -> str:
    """Words of a text in small letters with one space about each."""
    return " ".join(["", *re.findall(r"[^\W_]+", text.lower()), ""])


def check_aliases(
    rows: pd.DataFrame, known: pd.DataFrame, wear_points: pd.DataFrame, problems: Problems
) -> None:
    """Hold back words that mean no position on record, or in another spelling something else.

    Parameters
    ----------
    rows, known : words to judge, and those on record: as_written, point, position, vehicle.
    wear_points : point, vehicle, position: the positions that there are.
    """
    resolvers: dict[str, Resolver] = {}
    spelled = {(vehicle, folded(word)): (word, meant) for word, meant, vehicle in _meanings(known)}
    judged = zip(rows.index, rows["position"], _meanings(rows), strict=True)
    for label, place, (word, meant, vehicle) in judged:
        if place:
            if vehicle not in resolvers:
                on_vehicle = wear_points if vehicle == ALL else wear_points[wear_points["vehicle"] == vehicle]
                resolvers[vehicle] = Resolver(on_vehicle["position"].unique())
            problem = resolvers[vehicle].resolve(place)[1]
            if problem:
                problems.add(pd.Index([label]), "position", place, problem)
        before, other = spelled.setdefault((vehicle, folded(word)), (word, meant))
        if before != word and other != meant:
            words = (
                f"the same word written {quoted(before)} means {quoted(other)} already; case, spaces and "
                "punctuation make no difference"
            )
            problems.add(pd.Index([label]), "as_written", word, words)


def _meanings(rows: pd.DataFrame) -> list[tuple[str, str, str]]:
    """as_written, what is meant, vehicle."""
    meant = rows["point"].where(rows["point"] != "", rows["position"])
    return list(zip(rows["as_written"], meant, rows["vehicle"], strict=True))
