"""How much the server takes in: ``bounds.toml``, and what a railway's own file says instead."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ingest.errors import WrongUsage

DEFAULTS = Path(__file__).with_name("bounds.toml")
MB, KB = 2**20, 2**10


@dataclass(frozen=True)
class Bounds:
    """What is taken in at most; the names are those of the file."""

    file_mb: int
    session_mb: int
    server_mb: int
    session_files: int
    with_role: int
    without_role: int
    with_role_kb: int
    without_role_kb: int
    kept_s: int
    message_kb: int
    entries: int
    picture_kb: int


def load(path: Path | None = None) -> Bounds:
    """The bounds that come with the program, with what a file says in their place.

    Raises
    ------
    WrongUsage : the file cannot be read, is no TOML, or says something that is no bound.
    """
    known = _read(DEFAULTS)
    told = _read(path) if path else {}
    for section, bounds in told.items():
        if not isinstance(bounds, dict) or section not in known:
            raise WrongUsage(f"'{path}': '{section}' is no section of bounds. Expected: {_listed(known)}.")
        for name, value in bounds.items():
            if name not in known[section]:
                raise WrongUsage(
                    f"'{path}', [{section}]: '{name}' is no bound. Expected: {_listed(known[section])}."
                )
            if not isinstance(value, int) or isinstance(value, bool) or value < 1:
                raise WrongUsage(f"'{path}', [{section}] {name}: '{value}' is no whole number above 0.")
    return Bounds(**{n: v for section in known for n, v in (known[section] | told.get(section, {})).items()})


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise WrongUsage(f"'{path}': the bounds cannot be read ({error.strerror}).") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise WrongUsage(f"'{path}' is not TOML: {error}.") from None


def _listed(names: dict[str, Any]) -> str:
    return ", ".join(names)
