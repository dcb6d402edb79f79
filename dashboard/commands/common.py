"""Options that every command takes."""

import json
import sys
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, TypeVar

import click

from dashboard.words.records import finite
from ingest.errors import WrongUsage

F = TypeVar("F", bound=Callable[..., Any])


def common_options(function: F) -> F:
    """Add ``--db``, ``--quiet`` and ``--json`` (passed as db: Path, quiet: bool, as_json: bool)."""
    function = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")(function)
    function = click.option("--quiet", is_flag=True, help="Print nothing but errors.")(function)
    return click.option(
        "--db",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="MILESLEFT_DB",
        default=Path("milesleft.duckdb"),
        show_default="./milesleft.duckdb",
        help="The store.",
    )(function)


def check_out(path: Path, endings: Collection[str]) -> None:
    """Refuse a file that could not be written, before anything is worked out.

    Raises
    ------
    WrongUsage : its ending is another, or its folder is missing.
    """
    if path.suffix.lower() not in endings:
        raise WrongUsage(
            f"--out {path}: '{path.suffix}' is no ending that can be written. Use {', '.join(endings)}."
        )
    check_folder(path)


def check_folder(path: Path) -> None:
    """Refuse a file whose folder is missing (WrongUsage)."""
    if not path.parent.is_dir():
        raise WrongUsage(f"--out {path}: there is no folder '{path.parent}'. Make it first.")


def print_json(value: object) -> None:
    """Print as JSON; dates as text, numbers that JSON cannot hold (not a number, infinite) as null."""
    json.dump(finite(value), sys.stdout, default=str, indent=2, allow_nan=False)
    sys.stdout.write("\n")
