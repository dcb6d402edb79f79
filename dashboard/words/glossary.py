"""One word for one thing: the words of the dashboard, and what they mean."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any


def meanings() -> list[tuple[str, str]]:
    """Each word and what it means, in the order in which they explain each other."""
    return [(entry["word"], entry["means"]) for entry in _content()["word"]]


def refused() -> list[tuple[str, str]]:
    """Pattern of words that no text uses, and what is said instead."""
    return [(entry["words"], entry["instead"]) for entry in _content()["refused"]]


@cache
def _content() -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
