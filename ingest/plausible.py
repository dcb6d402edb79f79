"""What a row may say before a person is asked; the figures and their sources are in ``plausible.toml``."""

import tomllib
from functools import cache
from importlib.resources import files


@cache
def limit(group: str, name: str) -> float:
    """Value of one figure, in the unit that ``plausible.toml`` states beside it."""
    return float(_all()[group][name]["value"])


@cache
def _all() -> dict[str, dict[str, dict[str, float]]]:
    return tomllib.loads((files("ingest") / "plausible.toml").read_text(encoding="utf-8"))
