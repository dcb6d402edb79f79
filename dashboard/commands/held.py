"""``milesleft held``: rows held back, as a work list."""

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import click
import pandas as pd

from dashboard.console.options import ANSWER_HELP, answers_given, common_options, print_json
from dashboard.words.add_words import also_words
from dashboard.words.batch_words import place_words
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store
from ingest.verdicts.corrections import held_rows, retry
from ingest.verdicts.held_groups import SettledRows, grouped, rows_like, settle_many

_SHOWN = 3  # rows that share a reason, each printed
OUTCOMES = {"mended": "corrected", "released": "stored", "read again": "read again"}
"""What became of a row, where the store has another word for it."""


def _decision(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options of every decision about a row: the store, why, who."""
    function = click.option("--who", default="", help="Name for the record; your login if left out.")(
        function
    )
    return click.option("--reason", required=True, help="Why; it is kept.")(function)


@click.group(invoke_without_command=True)
@click.option("--all", "settled_too", is_flag=True, help="Settled rows too, and what became of them.")
@common_options
@click.pass_context
def command(ctx: click.Context, settled_too: bool, db: Path, quiet: bool, as_json: bool) -> None:
    """Rows held back: list them by reason; correct, accept or dismiss some; check all again.

    Without a further word, lists the rows that wait. Numbers are those of the list.
    """
    ctx.obj = Store(db)
    if ctx.invoked_subcommand is not None:
        return
    rows = grouped(held_rows(ctx.obj, waiting=not settled_too))
    if as_json:
        print_json(rows.drop(columns="kind").to_dict("records"))
        return
    if not quiet:
        click.echo("\n".join([*_work_list(rows), f"{len(rows):,} rows."]))


def _is_quiet() -> bool:
    """Whether the command above this one was told to print nothing."""
    above = click.get_current_context().parent
    return above is not None and bool(above.params["quiet"])


def _work_list(rows: pd.DataFrame) -> Iterator[str]:
    """Rows by reason, the commonest first; of many that share one the first few."""
    sizes = rows.groupby("like")["held_id"].transform("size")
    order = rows.assign(size=sizes).sort_values(["size", "like", "held_id"], ascending=[False, True, True])
    for number, group in order.groupby("like", sort=False):
        many = len(group) > _SHOWN and (group["outcome"] == "").all()
        if many:
            yield f"{len(group):,} rows wait for one reason, as row {number} does:"
        for row in group.head(_SHOWN if many else len(group)).to_dict("records"):
            yield from _row_lines(row)
        if many:
            more = f"   and {len(group) - _SHOWN:,} more like it (--json lists all). "
            accepted = "accept, " if group["can_accept"].all() else ""
            yield f"{more}Settle them together: held {accepted}correct or dismiss --like {number}\n"


def _row_lines(row: dict[Any, Any]) -> Iterator[str]:
    yield f"{row['held_id']}  {place_words(row['file'], row['sheet'], row['row'])} ({row['table']})"
    yield "   " + ", ".join(f"{k}: {v}" for k, v in row["cells"].items() if ":" not in k)
    yield f"   {row['why']}{' (can be accepted)' if row['can_accept'] else ''}"
    if row["outcome"]:
        outcome = OUTCOMES.get(row["outcome"], row["outcome"])
        yield f"   {outcome} in batch {row['settled_in']}: {row['settled_because']}"


def _together(function: Callable[..., Any]) -> Callable[..., Any]:
    """Which rows: their numbers, or all that wait for the same reason as one."""
    where = click.option(
        "--where", "cells", multiple=True, help="With --like: COLUMN=TEXT as it was written; only such rows."
    )
    like = click.option("--like", type=int, help="All rows that wait for the same reason as this one.")
    return click.argument("numbers", type=int, nargs=-1)(where(like(function)))


def _numbers(store: Store, numbers: tuple[int, ...], like: int | None, cells: tuple[str, ...]) -> list[int]:
    """Numbers of the rows that are meant."""
    if bool(numbers) == (like is not None):
        raise WrongUsage("Name the rows by their numbers, or all that wait alike: --like NUMBER.")
    if like is None:
        return list(numbers)
    return rows_like(held_rows(store), like, _pairs(cells))


def _pairs(texts: tuple[str, ...]) -> dict[str, str]:
    return dict(text.partition("=")[::2] for text in texts)


def _say(said: SettledRows, word: str) -> None:
    """What became of the rows; a failure where nothing could be stored."""
    why = [f"  row {number}: {reason}" for number, reason in list(said.left.items())[:_SHOWN]]
    if said.batch is None:
        more = f" and {len(said.left) - 1:,} more" if len(said.left) > 1 else ""
        first = next(iter(said.left.items()), (0, ""))
        raise NotPossible(f"The row would still be held back: row {first[0]}{more}: {first[1]}.")
    if _is_quiet():
        return
    count = f" ({len(said.settled):,} rows)" if len(said.settled) > 1 else ""
    click.echo(f"{word} batch {said.batch}{count}.{also_words(said.also)}")
    if said.left:
        click.echo("\n".join([f"{len(said.left):,} of them still wait:", *why]))


@command.command("correct")
@_together
@click.option(
    "--set", "changes", multiple=True, required=True, help="COLUMN=TEXT; may be given several times."
)
@_decision
@click.pass_obj
def _correct(
    store: Store,
    numbers: tuple[int, ...],
    like: int | None,
    cells: tuple[str, ...],
    changes: tuple[str, ...],
    reason: str,
    who: str,
) -> None:
    """Put other text in place of cells of rows and store them as one batch."""
    wanted = _numbers(store, numbers, like, cells)
    _say(
        settle_many(store, wanted, "mended", _pairs(changes), reason=reason, who=who, today=date.today()),
        "Stored as",
    )


# The word of earlier versions, which scripts may still use.
command.add_command(click.Command("mend", callback=_correct.callback, params=_correct.params, hidden=True))


@command.command("accept")
@_together
@_decision
@click.pass_obj
def _accept(
    store: Store, numbers: tuple[int, ...], like: int | None, cells: tuple[str, ...], reason: str, who: str
) -> None:
    """Store rows as they are, where only doubts speak against them."""
    wanted = _numbers(store, numbers, like, cells)
    _say(settle_many(store, wanted, "accepted", reason=reason, who=who, today=date.today()), "Stored as")


@command.command("dismiss")
@_together
@_decision
@click.pass_obj
def _dismiss(
    store: Store, numbers: tuple[int, ...], like: int | None, cells: tuple[str, ...], reason: str, who: str
) -> None:
    """Settle rows as not to be used. They stay on record."""
    wanted = _numbers(store, numbers, like, cells)
    _say(settle_many(store, wanted, "dismissed", reason=reason, who=who), "Dismissed in")


@command.command("retry")
@click.option("--who", default="", help="Name for the record; your login if left out.")
@click.option("--answer", "answers", multiple=True, metavar="ID=ANSWER", help=ANSWER_HELP)
@click.pass_obj
def _retry(store: Store, who: str, answers: tuple[str, ...]) -> None:
    """Check all waiting rows again, after what they lacked has been added or answered."""
    gone, waiting = retry(store, who=who, today=date.today(), answers=answers_given(answers))
    if not _is_quiet():
        click.echo(f"{gone:,} rows no longer wait, {waiting:,} still do.")
