"""What is known of each vehicle: stated on its page or on the command line, and which catalogue follows."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import pandas as pd

from ingest import catalogue
from ingest.catalogue.conditions import Fact
from ingest.catalogue.governing import KIND, Governing, governing, with_kind
from ingest.catalogue.known_facts import known_facts, read_fact, recorded_facts

Tables = Mapping[str, pd.DataFrame]
TAKEN: dict[str, Fact] = {"gauge": "standard"}
"""Facts that hold where nothing else is stated; they are shown."""


@dataclass(frozen=True)
class Stated:
    """What people state of the vehicles: facts that limits depend on, and the railway's own figures.

    ``recorded`` is what the table of facts says; ``facts`` (for all vehicles) and ``by_vehicle`` are said
    beside it and come before it.
    """

    facts: Mapping[str, Fact] = field(default_factory=dict)
    by_vehicle: Mapping[str, Mapping[str, Fact]] = field(default_factory=dict)
    own: pd.DataFrame | None = None
    recorded: Mapping[str, Mapping[str, Fact]] = field(default_factory=dict)

    def of(self, vehicle: object) -> dict[str, Fact]:
        """Facts of one vehicle, with what is taken where nothing is stated."""
        name = str(vehicle)
        said = {**self.recorded.get(name, {}), **self.facts, **self.by_vehicle.get(name, {})}
        return with_kind({**TAKEN, **said})


def stated_in(tables: Tables, stated: Stated | None = None) -> Stated:
    """What is stated beside the tables, over what their table of facts says."""
    stated = stated or Stated()
    return replace(stated, recorded=recorded_facts(tables["facts"])[0]) if "facts" in tables else stated


def inspections_stated(tables: Tables) -> pd.DataFrame:
    """Inspections done, from the table of facts: vehicle, clock, date."""
    nothing = pd.DataFrame(columns=["vehicle", "fact", "value", "unit"])
    return recorded_facts(tables.get("facts", nothing))[1]


def catalogues(tables: Tables, stated: Stated | None = None) -> dict[str, Governing]:
    """The catalogue that governs each vehicle that has wear points, a mileage log, or is named."""
    known = stated_in(tables, stated)
    sources = {str(name): rows for name, rows in tables["wear_points"].groupby("vehicle")["limit_source"]}
    names = dict.fromkeys(sources)
    for table in ("vehicles", "mileage"):
        names.update(dict.fromkeys(str(name) for name in tables[table]["vehicle"]) if table in tables else {})
    return {name: governing(known.of(name), sources.get(name, ())) for name in names}


def under_one_law(tables: Tables, stated: Stated) -> Iterator[tuple[str, dict[str, Fact], list[str]]]:
    """Vehicles that share a catalogue and the facts on which limits depend: they are checked in one go."""
    groups: dict[tuple[str, tuple[tuple[str, Fact], ...]], list[str]] = {}
    chosen = catalogues({"wear_points": tables["wear_points"]}, stated)
    for vehicle, law in chosen.items():
        facts = tuple(sorted(stated.of(vehicle).items()))
        groups.setdefault((law.limit_set, facts), []).append(vehicle)
    for (name, facts), vehicles in groups.items():
        yield name, dict(facts), vehicles


def clocks_of(limit_set: str) -> pd.DataFrame:
    """Inspections of one catalogue."""
    clocks = catalogue.clocks()
    return clocks[clocks["limit_set"] == limit_set].reset_index(drop=True)


def facts_in_words(facts: pd.DataFrame, vehicle: str) -> pd.DataFrame:
    """Facts of one vehicle as a page shows them: fact (by its known name), value with its unit, source, date,
    used_by, note; the order of the known facts."""
    rows = facts[facts["vehicle"] == vehicle]
    order = {one.fact: place for place, one in enumerate(known_facts())}
    shown = []
    for row in rows.to_dict("records"):
        known, _, problem = read_fact(str(row["fact"]), str(row["value"]), str(row["unit"] or ""))
        fact = known.fact if known else str(row["fact"])
        says_unit = known is not None and not row["unit"] and bool(known.unit) and row["fact"] == known.key
        unit = known.unit if says_unit and known else str(row["unit"] or "")
        used = known.used_by if known and not problem else f"nothing: {problem}"
        value = f"{row['value']} {unit}".strip()
        shown.append([fact, value, row["source"], row["date"], used, row["note"]])
    table = pd.DataFrame(shown, columns=["fact", "value", "source", "date", "used_by", "note"])
    return table.sort_values("fact", key=lambda names: names.map(order), kind="stable", ignore_index=True)


def taken_in_words(facts: pd.DataFrame, vehicle: str) -> list[str]:
    """What is taken of one vehicle where nothing is stated, a line each."""
    known = recorded_facts(facts)[0].get(vehicle, {})
    lines = [] if "kind" in known else [f"Kind of vehicle: {KIND} (taken, as none is stated)."]
    return lines + [
        f"{one.fact.capitalize()}: {TAKEN[one.key]} (taken, as none is stated)."
        for one in known_facts()
        if one.key in TAKEN and one.key not in known
    ]
