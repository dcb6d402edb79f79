"""Figures that reading and judging rows go by; each stands with its unit and source in a file of data.

``bounds.toml``: what is read from files at all. ``plausible.toml``: what a row may say before a person is
asked.
"""

import tomllib
from functools import cache
from importlib.resources import files


@cache
def bound(group: str, name: str) -> int:
    """Value of one bound, in the unit that ``bounds.toml`` states beside it; KeyError if there is none."""
    return int(_figures("bounds.toml")[group][name]["value"])


@cache
def limit(group: str, name: str) -> float:
    """Value of one limit, in the unit that ``plausible.toml`` states beside it; KeyError if there is none."""
    return float(_figures("plausible.toml")[group][name]["value"])


@cache
def _figures(file: str) -> dict[str, dict[str, dict[str, float]]]:
    return tomllib.loads((files("ingest") / file).read_text(encoding="utf-8"))
