"""Conditions of a limit: ``axle_load_lb > 30000; axle_load_lb <= 35000; main_axle = no``.

A condition on something that was not stated is neither met nor unmet: the row may hold, and a choice
among rows that may hold is made for the stricter one.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from ingest.errors import UserError

Fact = str | float
_OPERATORS = ("<=", ">=", "<", ">", "=")  # the longer ones first: "<=" begins with "<"


@dataclass(frozen=True)
class Condition:
    """One comparison of a stated fact with a word or a number."""

    fact: str
    operator: str
    value: Fact

    def met(self, facts: Mapping[str, Fact]) -> bool | None:
        """True, False, or None where the fact is not stated."""
        stated = facts.get(self.fact)
        if stated is None or stated == "":
            return None
        if self.operator == "=":
            return (
                str(stated) == str(self.value) if isinstance(self.value, str) else _same(stated, self.value)
            )
        number, bound = number_of(self.fact, stated), float(self.value)
        return {
            "<": number < bound,
            "<=": number <= bound,
            ">": number > bound,
            ">=": number >= bound,
        }[self.operator]


@lru_cache(maxsize=1024)
def parse_conditions(text: str) -> tuple[Condition, ...]:
    """Conditions of one row, all of which must be met.

    Raises
    ------
    ValueError : a part holds no comparison (a fault of the catalogue, not of a user).
    """
    return tuple(_condition(part.strip()) for part in text.split(";") if part.strip())


def holds(conditions: Iterable[Condition], facts: Mapping[str, Fact]) -> bool | None:
    """Whether a row holds: False if any condition is unmet, None if it depends on a fact not stated."""
    results = [condition.met(facts) for condition in conditions]
    if False in results:
        return False
    return None if None in results else True


CARRYING = ("engine truck", "trailing truck", "tender")
"""Groups of axles that nothing drives: their wheels are of another size than the driving wheels."""
WHEEL, CARRYING_WHEEL = "wheel_mm", "carrying_wheel_mm"


def of_carrying_wheels(facts: Mapping[str, Fact]) -> dict[str, Fact]:
    """Facts as they hold for the carrying wheels of a vehicle.

    The stated wheel diameter of a locomotive is that of its driving wheels, and says nothing of the others.
    """
    known = dict(facts)
    if str(known.get("kind") or "locomotive") == "locomotive":
        known.pop(WHEEL, None)
    if CARRYING_WHEEL in known:
        known[WHEEL] = known[CARRYING_WHEEL]
    return known


_QUANTITIES = {
    "axle_load_lb": ("axle load", "lb"),
    "tender_axle_load_lb": ("axle load", "lb"),
    "center_in": ("wheel center", "in"),
    "original_in": ("original diameter", "in"),
    "side_bearing_spread_in": ("side bearings spread", "in"),
    "wheel_mm": ("wheel", "mm"),
    "valve_mm": ("valve", "mm"),
}
_SAID = {
    ("main_axle", "yes"): "main axle",
    ("main_axle", "no"): "not the main axle",
    ("tire", "flanged"): "",  # flanges are the rule; the plain tire is what is said
    ("coach", "no"): "",
    ("intermediate", "no"): "",
}


def in_words(conditions: Iterable[Condition]) -> str:
    """Conditions for people: ``axle load over 30,000 to 35,000 lb, not the main axle``."""
    bands: dict[str, list[str]] = {}
    for condition in conditions:
        said = _in_words(condition)
        if said:
            bands.setdefault(condition.fact, []).append(said)
    parts = []
    for fact, band in bands.items():
        name, unit = _QUANTITIES.get(fact, ("", ""))
        parts.append(f"{name} {' '.join(band)} {unit}".strip())
    return ", ".join(parts)


def _in_words(condition: Condition) -> str:
    if isinstance(condition.value, str):
        general = f"{condition.fact.replace('_', ' ')}: {condition.value}"
        return _SAID.get((condition.fact, condition.value), general)
    word = {"<=": "to", "<": "under", ">": "over", ">=": "from", "=": "of"}[condition.operator]
    return f"{word} {condition.value:,g}"


def _condition(text: str) -> Condition:
    for operator in _OPERATORS:
        fact, operator_read, value = text.partition(operator)
        if operator_read:
            return Condition(fact.strip(), operator, _value(value.strip()))
    raise ValueError(f"no comparison in condition {text!r}")


def _value(text: str) -> Fact:
    try:
        return float(text)
    except ValueError:
        return text


def number_of(fact: str, stated: Fact) -> float:
    """A stated fact as a number.

    Raises
    ------
    UserError : it is none.
    """
    try:
        return float(stated)
    except ValueError:
        message = f"{fact}: {stated!r} is not a number. State it as a plain number in the unit of its name."
        raise UserError(message) from None


def _same(stated: Fact, value: Fact) -> bool:
    try:
        return float(stated) == float(value)
    except ValueError:
        return False
