"""Which figure holds for one wear point: law by its conditions, the railway's own where it is stricter.

It decides nothing that the texts leave open. A fact that was not stated makes the choice the stricter of the
rows that may hold, and the result names the fact.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import pandas as pd

from ingest.catalogue.conditions import (
    CARRYING,
    CARRYING_WHEEL,
    WHEEL,
    Fact,
    holds,
    in_words,
    number_of,
    of_carrying_wheels,
    parse_conditions,
)
from ingest.catalogue.known_facts import fact_words
from ingest.catalogue.tables import MEMORY_MARK, known_set, limit_rows, limit_sets, records, sources

POINT_BASES = ("value", "loss", "gain", "gage less", "sum")
"""How a row's figure becomes the limit of one wear point; all other bases compare several points."""


@dataclass(frozen=True)
class Limit:
    """One figure that may hold.

    Attributes
    ----------
    bound : min (condemned when smaller) or max (condemned when larger).
    value : in ``unit``; a loss or gain is already counted from the original dimension.
    condemned_when : at (the figure itself condemns) or beyond (the figure itself still passes).
    tier : law, practice, shop or own.
    status : found (read in the text), memory, or own.
    """

    id: str
    bound: str
    value: float
    unit: str
    condemned_when: str
    tier: str
    status: str
    citation: str
    note: str = ""

    @property
    def strictness(self) -> tuple[float, bool]:
        """Greater is stricter; at the same figure the limit that condemns at it is the stricter one."""
        return (self.value if self.bound == "min" else -self.value, self.condemned_when == "at")


@dataclass(frozen=True)
class Chosen:
    """The limit that holds, what it was chosen from, and what was not known.

    Attributes
    ----------
    limit : None where no figure can be given; ``reason`` then says why and what to do.
    rivals : the other limits that hold too or may hold.
    laxest : the laxest that the texts may mean, whatever the facts not stated are; None without a published
        limit.
    unstated : facts on which the choice depended and that were not stated: the stricter row was taken.
    """

    limit: Limit | None
    rivals: tuple[Limit, ...] = ()
    unstated: tuple[str, ...] = ()
    reason: str = ""
    laxest: Limit | None = None

    @property
    def text(self) -> str:
        """What goes into ``limit_source``: the citation, its marks, and which rule it overrides."""
        if self.limit is None:
            return self.reason
        parts = [self.limit.citation]
        if self.limit.status == "memory":
            parts.append(f"[{MEMORY_MARK}]")
        if self.unstated:
            parts.append(f"[strictest row taken: {', '.join(map(fact_words, self.unstated))} not stated]")
        own = [rival for rival in self.rivals if rival.tier == "own"]
        if self.limit.tier == "own" and self.rivals:
            law = max(self.rivals, key=lambda rival: rival.strictness)
            parts.append(f"(stricter than {law.citation}: {law.value:g} {law.unit})")
        elif own:
            parts.append(f"(the railway's own {own[0].value:g} {own[0].unit} is laxer and does not hold)")
        return " ".join(parts)


def choose(
    limit_set: str,
    component: str,
    quantity: str,
    group: str,
    facts: Mapping[str, Fact],
    *,
    bound: str,
    own: pd.DataFrame | None = None,
    tier: str = "condemning",
) -> Chosen:
    """The limit that holds for one wear point.

    Parameters
    ----------
    limit_set : a name of ``limit_sets``; empty where only the railway's own limits hold.
    component, quantity : as in the catalogue.
    group : engine truck, driver, trailing truck, tender, or empty.
    facts : what is known: axle_load_lb, center_in, original_in, track_gage_in, wheel_mm, carrying_wheel_mm,
        gauge (standard / narrow), main_axle (yes / no), truck_center (swing / rigid), tire (flanged /
        plain), service, duty, ...
    bound : min or max: the side to which this quantity wears.
    own : the railway's own limits, as ``ingest.catalogue.own_limits`` returns them.
    tier : condemning (may not run) or shop (may not leave the shop).

    Returns
    -------
    Chosen : law before practice; the strictest of law and own.

    Raises
    ------
    WrongUsage : the limit set is not known.
    UserError : a stated fact that must be a number is none.
    """
    rows = _rows(limit_set, component, quantity, group, bound) if limit_set else []
    carried = group in CARRYING
    held, unstated, missing = _published(rows, of_carrying_wheels(facts) if carried else facts, tier)
    if carried:
        unstated = [CARRYING_WHEEL if fact == WHEEL else fact for fact in unstated]
    best = max((limit for limit, _ in held), key=lambda limit: limit.strictness, default=None)
    railways = _own(own, (component, quantity, group), bound, tier)
    winner = max([*(limit for limit, _ in held), *railways], key=lambda limit: limit.strictness, default=None)
    if winner is None:
        return Chosen(None, reason=missing or _no_figure(rows, quantity))
    rivals = tuple(limit for limit in (best, *railways) if limit is not None and limit is not winner)
    if missing and winner.tier == "own":
        # The law's figure depends on a dimension that nobody stated: the own limit holds, and says so.
        winner = replace(winner, citation=f"{winner.citation} (not compared with the law: {missing})")
    return Chosen(winner, rivals, tuple(unstated) if winner is best else (), laxest=_laxest(held))


@lru_cache(maxsize=1)
def _index() -> dict[tuple[str, str, str, str], list[dict[str, Any]]]:
    rows_of: dict[tuple[str, str, str, str], list[dict[str, Any]]] = {}
    short = sources().set_index("source")["short"].to_dict()
    for published in limit_rows():
        row = dict(published)
        when = in_words(parse_conditions(str(row["conditions"])))
        row["citation"] = f"{short[row['source']]} {row['paragraph']}".strip() + (
            f" ({when})" if when else ""
        )
        for component in str(row["component"]).split("|"):
            key = (str(row["limit_set"]), component, str(row["quantity"]), str(row["bound"]))
            rows_of.setdefault(key, []).append(row)
    return rows_of


@lru_cache(maxsize=512)
def has_both_bounds(limit_set: str, component: str, quantity: str) -> bool:
    """Whether the law bounds a quantity from below and from above."""
    by_bound = (_index().get((limit_set, component, quantity, bound), []) for bound in ("min", "max"))
    return all(any(row["tier"] == "law" for row in rows) for rows in by_bound)


def _rows(limit_set: str, component: str, quantity: str, group: str, bound: str) -> list[dict[str, Any]]:
    rows = _index().get((known_set(limit_set), component, quantity, bound), [])
    return [row for row in rows if not row["group"] or group in str(row["group"]).split("|")]


def _published(
    rows: Iterable[dict[str, Any]], facts: Mapping[str, Fact], tier: str
) -> tuple[list[tuple[Limit, bool]], list[str], str]:
    """Limits and whether each surely holds, facts on which they depended, why a loss could not be counted."""
    held: list[tuple[Limit, bool]] = []
    unstated: list[str] = []
    missing = ""
    for wanted in ("law", "practice") if tier == "condemning" else ("shop",):
        for row in rows:
            if row["tier"] != wanted or row["basis"] not in POINT_BASES:
                continue
            conditions = parse_conditions(str(row["conditions"]))
            state = holds(conditions, facts)
            if state is False:
                continue
            if state is None:
                unstated += [c.fact for c in conditions if c.met(facts) is None]
            value, reason = _counted(row, facts)
            missing = missing or reason
            if not reason:
                held.append((_limit(row, value), state is True))
        if held:
            break
    return held, list(dict.fromkeys(unstated)), missing


def _laxest(held: list[tuple[Limit, bool]]) -> Limit | None:
    """The strictest of what surely holds; where nothing does, the laxest of what may."""
    sure = [limit for limit, is_sure in held if is_sure]
    if sure:
        return max(sure, key=lambda limit: limit.strictness)
    return min((limit for limit, _ in held), key=lambda limit: limit.strictness, default=None)


def _counted(row: dict[str, Any], facts: Mapping[str, Fact]) -> tuple[float, str]:
    """The row's figure as a limit, or the reason why it cannot be counted."""
    number, basis = float(row["number"]), str(row["basis"])
    if basis in ("loss", "gain"):
        original = facts.get("original_in", "")
        if original == "":
            words = f"{row['value']} {row['unit']} from the original dimension"
            stands = limit_sets().set_index("limit_set")["original_stands"].get(row["limit_set"], "")
            ask = f"state new_value{f' ({stands})' if stands else ''} or an own limit"
            return 0.0, f"{row['citation']}: a {basis} of {words}, which is not known; {ask}"
        return number_of("original_in", original) + (number if basis == "gain" else -number), ""
    if basis == "gage less":
        gage = facts.get("track_gage_in", "")
        if gage == "":
            return 0.0, f"{row['citation']}: track gage less {row['value']} in; state the track gage"
        return number_of("track_gage_in", gage) - number, ""
    if row["quantity"] == "thickness" and facts.get("retaining_rings") == "yes":
        return _with_rings(row, number, facts), ""
    return number, ""


def _with_rings(row: dict[str, Any], number: float, facts: Mapping[str, Fact]) -> float:
    """Tire thickness with retaining rings: less by what the tire extends between them, down to the floor."""
    floors = [
        r for r in _index()[(row["limit_set"], "tire", "thickness", "min")] if r["basis"] == "ring floor"
    ]
    extends = number_of("ring_extension_in", facts.get("ring_extension_in", 0.0) or 0.0)
    if not floors or not extends:
        return number
    return max(number - extends, min(number, float(floors[0]["number"])))


def _limit(row: dict[str, Any], value: float) -> Limit:
    return Limit(
        id=str(row["id"]),
        bound=str(row["bound"]),
        value=value,
        unit=str(row["unit"]),
        condemned_when=str(row["condemned_when"]),
        tier=str(row["tier"]),
        status=str(row["status"]),
        citation=str(row["citation"]),
        note=str(row["note"]),
    )


def _own(own: pd.DataFrame | None, what: tuple[str, str, str], bound: str, tier: str) -> list[Limit]:
    if own is None or own.empty:
        return []
    component, quantity, group = what
    match = (own["component"] == component) & (own["quantity"] == quantity) & own["group"].isin(["", group])
    return [
        Limit(
            id="own",
            bound=bound,
            value=float(row["value"]),
            unit=str(row["unit"]),
            condemned_when=str(row["condemned_when"]),
            tier="own",
            status="own",
            citation=f"the railway's own limit{': ' + row['source'] if row['source'] else ''}",
        )
        for row in records(own[match & (own["bound"] == bound) & (own["tier"] == tier)])
    ]


def _no_figure(rows: list[dict[str, Any]], quantity: str) -> str:
    silent = next((row for row in rows if row["tier"] == "none"), None)
    if silent is None:
        return f"no published figure for {quantity} in the catalogue: the railway sets its own limit"
    mark = f" [{MEMORY_MARK}]" if silent["status"] == "memory" else ""
    return f"{silent['citation']}: {silent['note']}{mark}"


def set_unit(limit_set: str) -> str:
    """Unit in which a set states its lengths: in or mm; in where no set is chosen."""
    table = limit_sets().set_index("limit_set")["unit"]
    return str(table.get(limit_set, "in"))
