"""Options that every command takes."""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from dashboard.words.records import finite

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


def print_json(value: object) -> None:
    """Print as JSON; dates as text, numbers that JSON cannot hold (not a number, infinite) as null."""
    json.dump(finite(value), sys.stdout, default=str, indent=2, allow_nan=False)
    sys.stdout.write("\n")
