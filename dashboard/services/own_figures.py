"""The railway's own figures from a sheet, and facts from the command line."""

from pathlib import Path

import pandas as pd

from ingest.catalogue import own_limits, set_unit
from ingest.catalogue.conditions import Fact
from ingest.catalogue.known_facts import read_fact
from ingest.errors import UnreadableFile, WrongUsage


def read_own(path: Path | None, limit_set: str) -> pd.DataFrame | None:
    """Own limits, shop limits and new dimensions of a CSV or XLSX sheet, in the unit of the limit set."""
    return None if path is None else own_limits(read_sheet(path), set_unit(limit_set))


def read_sheet(path: Path) -> pd.DataFrame:
    """A small sheet of text; empty cells are empty texts.

    Raises
    ------
    UnreadableFile : it is no table that can be read.
    """
    try:
        if path.suffix.lower() == ".xlsx":
            frame = pd.read_excel(path, dtype=str, engine="calamine").fillna("")
        else:
            frame = pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8-sig")
    except (OSError, ValueError, pd.errors.ParserError) as error:
        message = f"{path.name}: not a table that can be read ({type(error).__name__}). Expected CSV or XLSX."
        raise UnreadableFile(message) from None
    return frame.rename(columns=lambda name: str(name).strip().lower())


def facts_of(stated: tuple[str, ...]) -> dict[str, Fact]:
    """Facts written NAME=VALUE.

    Raises
    ------
    WrongUsage : one is written otherwise.
    """
    facts: dict[str, Fact] = {}
    for text in stated:
        name, equals, value = text.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise WrongUsage(f"--fact {text!r}: expected NAME=VALUE, as in service=domestic.")
        facts[name.strip()] = value.strip()
    return facts


def facts_sheet(path: Path | None) -> dict[str, dict[str, Fact]]:
    """Facts by vehicle from a sheet: vehicle, fact, value, and optionally unit, as in the table of facts.

    Raises
    ------
    WrongUsage : a column is missing, or a known fact cannot be read.
    """
    if path is None:
        return {}
    sheet = read_sheet(path)
    missing = [name for name in ("vehicle", "fact", "value") if name not in sheet]
    if missing:
        raise WrongUsage(f"{path.name}: column {missing[0]!r} is missing. Expected vehicle, fact, value.")
    facts: dict[str, dict[str, Fact]] = {}
    for row in sheet.to_dict("records"):
        name, value = str(row["fact"]).strip(), str(row["value"]).strip()
        if not value:
            continue
        known, stated, problem = read_fact(name, value, str(row.get("unit", "")))
        if known is not None and problem:
            raise WrongUsage(f"{path.name}: fact {name!r} of {row['vehicle']}: {problem}.")
        key = known.key if known else name
        facts.setdefault(str(row["vehicle"]), {})[key] = value if stated is None else stated
    return facts
