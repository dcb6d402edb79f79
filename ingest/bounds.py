"""Bounds of what is read from files; the figures and their sources are data, in ``bounds.toml``."""

import tomllib
from functools import cache
from importlib.resources import files


@cache
def bound(group: str, name: str) -> int:
    """Value of one bound, in the unit that ``bounds.toml`` states beside it."""
    value: int = _all()[group][name]["value"]
    return value


@cache
def _all() -> dict[str, dict[str, dict[str, int]]]:
    return tomllib.loads((files("ingest") / "bounds.toml").read_text(encoding="utf-8"))
