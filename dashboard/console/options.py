"""Options that every command takes, and the kinds of values that several take."""

import json
import os
from collections.abc import Callable, Collection
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click

from dashboard.words.records import finite
from ingest.errors import WrongUsage
from ingest.neutral import quoted
from ingest.notation.dates import day_asked

F = TypeVar("F", bound=Callable[..., Any])


class FilePath(click.Path):
    """The name of a file or folder; an empty one, as an unset variable of a script gives it, is refused."""

    def __init__(self, **kinds: bool) -> None:
        super().__init__(path_type=Path, **kinds)

    def convert(
        self, value: str | os.PathLike[str], param: click.Parameter | None, ctx: click.Context | None
    ) -> str | bytes | os.PathLike[str]:
        if not str(value).strip():
            self.fail("the name is empty. Name a file.", param, ctx)
        return super().convert(value, param, ctx)


class Day(click.ParamType):
    """A day written 2027-11-01, of a year that a railway can be asked about."""

    name = "date"

    def convert(self, value: str | date, param: click.Parameter | None, ctx: click.Context | None) -> date:
        try:
            return value if isinstance(value, date) else day_asked(value)
        except WrongUsage as error:
            self.fail(str(error), param, ctx)


def common_options(function: F) -> F:
    """Add ``--db``, ``--quiet`` and ``--json`` (passed as db: Path, quiet: bool, as_json: bool)."""
    function = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")(function)
    function = click.option("--quiet", is_flag=True, help="Print nothing but errors.")(function)
    return click.option(
        "--db",
        type=FilePath(dir_okay=False),
        envvar="MILESLEFT_DB",
        default=Path("milesleft.duckdb"),
        show_default="./milesleft.duckdb",
        help="The store.",
    )(function)


ANSWER_HELP = "Answer to a question about a sheet; may be given several times. It is remembered."


def answers_given(texts: tuple[str, ...]) -> dict[str, str]:
    """Id of a question -> answer."""
    pairs = [text.partition("=") for text in texts]
    for name, mark, word in pairs:
        if not (name.strip() and mark and word.strip()):
            raise WrongUsage(
                f"--answer {quoted(name)}: ID=ANSWER was expected, such as dates-3f2a91c0de=dmy."
            )
    return {name.strip(): word.strip() for name, _, word in pairs}


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
    click.echo(json.dumps(finite(value), default=str, indent=2, allow_nan=False))
