"""Which catalogue governs a vehicle: everything else (limits, checks, inspections, findings) follows it.

A stated catalogue comes first, then the country with the kind of vehicle, then the rules that its limits
cite. Where nothing of these is known no published rule is taken for its own: that is said, and asked.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from ingest.catalogue.conditions import Fact
from ingest.catalogue.tables import known_set, records, set_of_source, table_of

KIND = "locomotive"
"""Kind of vehicle that is taken where none is stated: this is about engines."""
NONE = "none"
"""Stated where no published rules govern a vehicle."""


@dataclass(frozen=True)
class Governing:
    """The catalogue of a vehicle and how it was chosen.

    Attributes
    ----------
    limit_set : a name of ``limit_sets``; empty where none governs.
    how : stated, by the country, cited by most of the sheet's limits, or not known.
    text : all of that for people.
    """

    limit_set: str
    how: Literal["stated", "country", "cited", "not known"]
    text: str


def governing(facts: Mapping[str, Fact], limit_sources: Iterable[object] = ()) -> Governing:
    """The catalogue that governs a vehicle.

    Parameters
    ----------
    facts : what is known of it: limit_set, country, kind; any others.
    limit_sources : texts of ``limit_source`` of its wear points.

    Raises
    ------
    WrongUsage : a catalogue is stated that there is not.
    """
    stated, country = str(facts.get("limit_set") or ""), str(facts.get("country") or "")
    if stated == NONE:
        return Governing("", "stated", "none (stated): only the railway's own limits hold")
    if stated:
        return Governing(known_set(stated), "stated", f"{title_of(stated)} (stated)")
    if country:
        return _of_country(country, kind_of(facts))
    cited = cited_set(limit_sources)
    if cited:
        return Governing(cited, "cited", f"{title_of(cited)} (not stated; most of its limits cite it)")
    return Governing(
        "", "not known", "not known: state the country or the governing catalogue of the vehicle"
    )


def _of_country(country: str, kind: str) -> Governing:
    for row in records(table_of("sets")):
        names = [name.casefold() for name in row["country"].split("|")]
        if country.strip().casefold() in names and kind in row["vehicles"].split("|"):
            return Governing(row["limit_set"], "country", f"{row['title']} ({country}, {kind})")
    return Governing(
        "",
        "country",
        f"none: the catalogue holds no rules of {country} for a {kind}; the railway sets its own",
    )


def kind_of(facts: Mapping[str, Fact]) -> str:
    """Kind of vehicle: as stated, else ``KIND``."""
    return str(facts.get("kind") or KIND)


def with_kind(facts: Mapping[str, Fact]) -> dict[str, Fact]:
    """Facts with what the kind of vehicle decides: whether it is a coach."""
    return {"coach": "yes" if kind_of(facts) == "coach" else "no", **facts}


def cited_set(limit_sources: Iterable[object]) -> str:
    """Limit set that most texts of ``limit_source`` cite; empty where none cites one."""
    cited: Counter[str] = Counter()
    for source, count in Counter(str(text) for text in limit_sources).items():
        cited[set_of_source(source)] += count
    del cited[""]
    return max(sorted(cited), key=lambda name: cited[name], default="")


def title_of(limit_set: str) -> str:
    """Title of a limit set, for people."""
    return next(str(row["title"]) for row in records(table_of("sets")) if row["limit_set"] == limit_set)
