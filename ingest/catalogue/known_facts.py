"""Facts of a vehicle as people state them, read into what limits, checks and inspections ask for.

Which facts there are is data: ``known_facts.csv``, and one for every inspection of ``clocks.csv`` (the day on
which it was last done).
"""

import difflib
from dataclasses import dataclass
from functools import lru_cache

import pandas as pd

from ingest.catalogue.conditions import Fact
from ingest.catalogue.governing import NONE
from ingest.catalogue.tables import limit_sets, records, table_of
from ingest.notation.dates import parse_dates
from ingest.notation.values import parse_values
from ingest.units import LENGTH_MM, from_base, to_base, unit_of

DONE = "done:"
"""What the key of a fact about an inspection begins with; the name of its clock follows."""
DAYS_COLUMNS = ["vehicle", "clock", "date"]


@dataclass(frozen=True)
class KnownFact:
    """One fact that may be stated.

    Attributes
    ----------
    fact, key : its name for people and for conditions.
    kind : load, length, count, word, text, day or catalogue.
    unit : unit of the number that conditions hold it against; empty where it is no quantity.
    choices : words that may be stated; empty where anything may.
    meaning, used_by : for people.
    """

    fact: str
    key: str
    kind: str
    unit: str
    choices: tuple[str, ...]
    meaning: str
    used_by: str

    @property
    def units(self) -> tuple[str, ...]:
        """Units in which it may be stated, its own first."""
        if self.kind == "load":
            return tuple(row["unit"] for row in records(table_of("loads")))
        return tuple(dict.fromkeys((self.unit, "in", "mm", "cm", "m", "ft"))) if self.kind == "length" else ()


@lru_cache(maxsize=1)
def known_facts() -> tuple[KnownFact, ...]:
    """All facts that may be stated, in the order in which a form asks for them."""
    stated = [
        KnownFact(**{**row, "choices": tuple(row["choices"].split("|")) if row["choices"] else ()})
        for row in records(table_of("known_facts"))
    ]
    sets = (*limit_sets()["limit_set"], NONE)
    stated = [
        KnownFact(**{**vars(one), "choices": sets}) if one.kind == "catalogue" else one for one in stated
    ]
    done = [
        KnownFact(
            fact=f"{row['title']} done",
            key=f"{DONE}{row['clock']}",
            kind="day",
            unit="",
            choices=(),
            meaning="day on which it was last done",
            used_by="inspections",
        )
        for row in records(table_of("clocks"))
    ]
    return (*stated, *done)


def known_fact(name: str) -> KnownFact | None:
    """The fact of that name: as people write it (*Axle load*), or as conditions do (``axle_load_lb``)."""
    return _by_name().get(_folded(name))


def fact_words(key: str) -> str:
    """A fact as people call it: *axle load* of ``axle_load_lb``; what cannot be stated stays as it is."""
    known = _by_name().get(_folded(key))
    return known.fact if known else key.replace("_", " ")


@lru_cache(maxsize=1)
def _by_name() -> dict[str, KnownFact]:
    return {_folded(name): one for one in known_facts() for name in (one.fact, one.key)}


def _folded(name: str) -> str:
    return " ".join(name.replace("_", " ").replace("-", " ").casefold().split())


@lru_cache(maxsize=1024)  # the same few cells are read for each day that a forecast is made of
def read_fact(name: str, value: str, unit: str = "") -> tuple[KnownFact | None, Fact | None, str]:
    """A row of the table of facts: which fact, what it states for conditions, and what is wrong with it.

    A name that says its unit (``axle_load_lb``) needs none beside it.
    """
    known = known_fact(name)
    if known is None:
        near = ", ".join(nearest_facts(name))
        return None, None, f"{name!r} is no fact that anything depends on; nearest: {near}"
    says_unit = bool(known.unit) and _folded(name) == _folded(known.key)
    stated, problem = fact_value(known, value, unit, known.unit if says_unit else "")
    return known, stated, problem


def nearest_facts(name: str) -> list[str]:
    """Names of known facts that look most like one that is not known."""
    names = {_folded(one.fact): one.fact for one in known_facts()}
    return [names[near] for near in difflib.get_close_matches(_folded(name), list(names), n=3, cutoff=0.0)]


def fact_value(known: KnownFact, value: str, unit: str = "", otherwise: str = "") -> tuple[Fact | None, str]:
    """What a cell states, for conditions, and why it cannot be read.

    Parameters
    ----------
    known : the fact.
    value, unit : as written: ``60,500`` and ``lb``; ``1 1/8`` and ``in``; ``2025-04-01``.
    otherwise : unit of a figure beside which none is written; empty where that is not known.

    Returns
    -------
    Number in ``known.unit``, word, or ISO date, and an empty text; else None and the reason. A length or load
    without a unit is not guessed.
    """
    text = value.strip()
    if known.kind == "day":
        date = parse_dates(pd.Series([text])).iloc[0]
        return (None, str(date["problem"])) if date["problem"] else (f"{date['date']:%Y-%m-%d}", "")
    if known.choices:
        fitting = [word for word in known.choices if _folded(word) == _folded(text)]
        return (fitting[0], "") if fitting else (None, f"{text!r} is none of {', '.join(known.choices)}")
    if known.kind == "text":
        return (text, "") if text else (None, "nothing is stated")
    return _number(known, text, unit.strip() or otherwise)


def _number(known: KnownFact, text: str, unit: str) -> tuple[Fact | None, str]:
    own_unit, figure = _load_unit(text) if known.kind == "load" else ("", text)
    read = parse_values(pd.Series([figure]), "" if known.kind == "load" else unit).iloc[0]
    if read["problem"]:
        return None, str(read["problem"])
    number, written = float(read["value"]), own_unit or str(read["unit"]) or unit
    if number <= 0 or (known.kind == "count" and number != round(number)):
        return None, f"{text!r}: expected a {'whole ' if known.kind == 'count' else ''}number above 0"
    if known.kind == "count":
        return number, ""
    if not written:
        return None, f"{text!r} has no unit: state one of {', '.join(known.units)}"
    if known.kind == "load":
        pounds = _pounds().get(written.casefold())
        units = ", ".join(known.units)
        return (
            (number * pounds, "")
            if pounds
            else (None, f"{written!r} is no unit of load: state one of {units}")
        )
    length = unit_of(written)
    if length not in LENGTH_MM:
        return None, f"{written!r} is no unit of length: state one of {', '.join(known.units)}"
    return round(from_base(to_base(number, length), known.unit), 9), ""


@lru_cache(maxsize=1)
def _pounds() -> dict[str, float]:
    """Pounds in one of each unit of load, by every way of writing it."""
    return {word: float(row["lb"]) for row in records(table_of("loads")) for word in row["words"].split("|")}


def _load_unit(text: str) -> tuple[str, str]:
    """The unit of load that a text ends in, and the rest."""
    figure, _, word = text.rpartition(" ")
    for unit in (word, " ".join(text.split()[-2:])):
        if unit.casefold() in _pounds():
            return unit, text[: len(text) - len(unit)].strip()
    return "", text if figure or not word else word


def recorded_facts(facts: pd.DataFrame) -> tuple[dict[str, dict[str, Fact]], pd.DataFrame]:
    """What the table of facts states, for conditions, and the inspections done.

    Parameters
    ----------
    facts : vehicle, fact, value, unit (text). What is not known or cannot be read counts as not stated.

    Returns
    -------
    Facts by vehicle and key; vehicle, clock, date (datetime64[us]) of the inspections.
    """
    by_vehicle: dict[str, dict[str, Fact]] = {}
    done: list[tuple[str, str, pd.Timestamp]] = []
    for row in records(facts):
        known, value, problem = read_fact(str(row["fact"]), str(row["value"]), str(row["unit"] or ""))
        if known is None or problem or value is None:
            continue
        if known.key.startswith(DONE):
            done.append((str(row["vehicle"]), known.key.removeprefix(DONE), pd.Timestamp(str(value))))
        else:
            by_vehicle.setdefault(str(row["vehicle"]), {})[known.key] = value
    return by_vehicle, pd.DataFrame(done, columns=DAYS_COLUMNS).astype({"date": "datetime64[us]"})
