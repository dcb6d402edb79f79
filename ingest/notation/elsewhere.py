"""The notation of measurements as data, for a reader in another language that must read alike.

A page that works without a connection reads what is typed by these rules; it holds none of its own.
"""

import re
from typing import Any

from ingest import unit_names
from ingest.figures import bound
from ingest.notation import grammar, values
from ingest.units import DISTANCE_MI, LENGTH_MM, base_unit

_SPACE = r"[\t\n\f\r ]"
"""What the patterns' white space is where they are compared here (RE2: ASCII alone)."""


def notation_rules() -> dict[str, Any]:
    """Patterns, words and units; what JSON can say.

    Patterns are written for ECMAScript (ECMA-262, flags u and s). Units: canonical name by each spelling,
    millimetres in a length, miles in a distance, base unit of every other.
    """
    told = grammar.rules()
    pairs = {name: [[_script(p), r] for p, r in told[name]] for name in ("marks", "odd_marks", "refusals")}
    spelled = [[pattern, re.sub(r"\\([0-9])", r"$\1", put)] for pattern, put in told["spelled"]]
    known = unit_names.as_written()
    return {
        **pairs,
        "spelled": spelled,
        "plain": _script(told["plain"]),
        "grammar": _script(told["grammar"]),
        "words": {**told["words"], **values.WORDS},
        "units": known,
        "unit_marks": unit_names.MARKS,
        "longest_unit": unit_names.LONGEST_UNIT,
        "lengths": LENGTH_MM,
        "distances": DISTANCE_MI,
        "bases": {unit: base_unit(unit) for unit in sorted(set(known.values()))},
        "longest": bound("cell", "longest_measurement"),
        "largest_length": bound("cell", "largest_length"),
        "largest_number": bound("cell", "largest_number"),
    }


def _script(pattern: str) -> str:
    """A pattern as ECMAScript writes it: named groups, no flags within, white space by its characters."""
    written = pattern.replace("(?P<", "(?<").replace(r"\s", _SPACE)
    return re.sub(r"\(\?i:([^()]*)\)", lambda found: f"(?:{_either_case(found.group(1))})", written)


def _either_case(words: str) -> str:
    return "".join(f"[{c.lower()}{c.upper()}]" if c.isalpha() else c for c in words)
