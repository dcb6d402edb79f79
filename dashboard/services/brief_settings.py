"""Settings of the brief: the defaults, over them a settings file (TOML), over both what the command says."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.services.excursion_plan import plan_of
from ingest.errors import UnreadableFile, WrongUsage
from ingest.neutral import toml_of
from ingest.notation.dates import day_asked
from models.case.excursion import Excursion
from models.case.schedule import TERMS_COLUMNS

DEFAULTS = Path(__file__).parents[1] / "papers" / "brief_templates" / "defaults.toml"
USUAL_NAME, VARIABLE = "brief.toml", "MILESLEFT_BRIEF"
PAYMENT_KEYS = {"payment", "share", "months_before", "spread_months", "components", "actions", "source"}
SHARES = ("inflation", "inflation_sd", "quote_sd", "risk", "beyond_truing")


@dataclass(frozen=True)
class Settings:
    """Settings after all layers: ``brief`` (texts, paper, ...), ``assumptions`` by name, terms, rates, the
    excursions planned."""

    brief: Mapping[str, Any]
    assumptions: Mapping[str, Mapping[str, Any]]
    terms: pd.DataFrame
    rates: Mapping[str, float]
    excursions: tuple[Excursion, ...] = ()

    def value(self, name: str) -> float:
        """Value of an assumption."""
        return float(self.assumptions[name]["value"])


def load_settings(path: Path | None, said: Mapping[str, Any]) -> Settings:
    """Put the layers together.

    Parameters
    ----------
    path : settings file, or None for the defaults alone.
    said : what the command line says, by the names of ``[brief]``; None and empty say nothing.

    Raises
    ------
    UnreadableFile : the file is missing or no TOML.
    WrongUsage : it holds an unknown name or a value out of range.
    """
    layers = _read(DEFAULTS)
    if path is not None:
        given = _read(path)
        _check_names(given, layers, path)
        _overlay(layers, given, path)
    brief = layers["brief"] | {name: value for name, value in said.items() if value not in (None, "")}
    where = str(path) if path else "defaults"
    _check_values(brief, layers["assumptions"], where)
    rates = {
        name.upper(): _number(rate, f"{where}, [rates] {name}") for name, rate in layers["rates"].items()
    }
    plan = plan_of(layers["excursion"], where)
    return Settings(brief, layers["assumptions"], _terms(layers["payment"], where), rates, plan)


def settings_file(db: Path) -> Path | None:
    """The settings file in use where none is named: that of the environment, else ``brief.toml`` where the
    program was started, else beside the store; None if there is none."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named)
    places = (Path(USUAL_NAME), db.parent / USUAL_NAME)
    return next((place for place in places if place.is_file()), None)


def _read(path: Path) -> dict[str, Any]:
    try:
        return toml_of(path.read_text(encoding="utf-8"))
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise UnreadableFile(f"Settings {path}: {reason}. Expected a TOML file; check the name.") from None
    except ValueError as error:
        raise UnreadableFile(f"Settings {path}: {error}. Expected TOML in UTF-8; correct it there.") from None


def _check_names(given: Mapping[str, Any], known: Mapping[str, Any], path: Path) -> None:
    _known_only(given, known, f"Settings {path}")
    for part in ("brief", "assumptions"):
        if not isinstance(given.get(part, {}), dict):
            raise WrongUsage(f"Settings {path}: {part} is not a table. Expected [{part}] and names below it.")
        _known_only(given.get(part, {}), known[part], f"Settings {path}, [{part}]")
    for payment in given.get("payment", []):
        _known_only(payment, dict.fromkeys(PAYMENT_KEYS), f"Settings {path}, [[payment]]")


def _known_only(given: Mapping[str, Any], known: Mapping[str, Any], where: str) -> None:
    unknown = sorted(set(given) - set(known))
    if unknown:
        raise WrongUsage(f"{where}: {unknown[0]!r} is not known. Known are {', '.join(sorted(known))}.")


def _overlay(layers: dict[str, Any], given: Mapping[str, Any], path: Path) -> None:
    brief = dict(given.get("brief", {}))
    if brief.get("logo"):
        brief["logo"] = str(path.parent / str(brief["logo"]))
    layers["brief"] |= brief
    for name, value in given.get("assumptions", {}).items():
        assumption = value if isinstance(value, dict) else {"value": value}
        _known_only(assumption, layers["assumptions"][name], f"Settings {path}, [assumptions.{name}]")
        layers["assumptions"][name] |= {"source": "settings file"} | assumption
    layers["payment"] = given.get("payment", layers["payment"])
    layers["rates"] |= given.get("rates", {})
    layers["excursion"] = given.get("excursion", [])


def _check_values(brief: Mapping[str, Any], assumptions: Mapping[str, Any], where: str) -> None:
    confidence = _number(brief["confidence"], f"{where}, confidence")
    if not 0.5 <= confidence <= 0.99:
        raise WrongUsage(f"{where}: confidence is {confidence:g}. Expected a share from 0.5 to 0.99.")
    if brief["paper"] not in ("a4", "letter"):
        raise WrongUsage(f"{where}: paper is {brief['paper']!r}. Expected a4 or letter.")
    for name, assumption in assumptions.items():
        value = _number(assumption["value"], f"{where}, [assumptions] {name}")
        share = name in SHARES or name == "fund_share"
        if value < 0 or (share and value > 1) or (name in SHARES and value == 1):
            wanted = "a share from 0 to 1, 0.03 for 3 %" if share else "0 or more"
            raise WrongUsage(f"{where}, [assumptions] {name}: {value:g}. Expected {wanted}.")
    if brief["window"]:
        window_day(brief["window"], where)


def window_day(value: object, where: str) -> pd.Timestamp:
    """A window's first day from text or a TOML date; WrongUsage if it is none."""
    try:
        day = day_asked(value.isoformat()[:10] if isinstance(value, date) else str(value))
    except WrongUsage as error:
        raise WrongUsage(f"{where}: window: {error}") from None
    return pd.Timestamp(day.year, day.month, day.day)


def _number(value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise WrongUsage(f"{where}: {value!r} is not a number. Write it without quotes, 0.8.")
    return float(value)


def _terms(payments: list[dict[str, Any]], where: str) -> pd.DataFrame:
    """Terms of payment as the models take them, columns ``TERMS_COLUMNS``."""
    rows = []
    for i, payment in enumerate(payments, start=1):
        place = f"{where}, [[payment]] {i}"
        row: dict[str, Any] = {"share": float("nan"), "months_before": 0, "spread_months": 1}
        row |= {"components": [], "actions": [], "source": "settings file"} | payment
        if not row.get("payment"):
            raise WrongUsage(f'{place}: it has no name. Expected payment = "deposit" or the like.')
        for name in ("share", "months_before", "spread_months"):
            row[name] = _number(row[name], f"{place}, {name}")
        if row["share"] < 0 or row["share"] > 1 or row["spread_months"] < 1:
            raise WrongUsage(f"{place}: expected a share from 0 to 1 and spread_months of 1 or more.")
        rows.append(row)
    if not rows:
        raise WrongUsage(
            f"{where}: no [[payment]] is given. Expected at least one; leave it out for the defaults."
        )
    return pd.DataFrame(rows)[TERMS_COLUMNS]
