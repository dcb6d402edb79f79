"""``milesleft held``: rows held back, as a work list."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import click

from dashboard.commands.common import common_options, print_json
from ingest.store import Store
from ingest.verdicts.corrections import accept, dismiss, held_rows, mend, retry

OUTCOMES = {"mended": "corrected"}
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
    """Rows held back: list them; correct, accept or dismiss one; check all again.

    Without a further word, lists the rows that wait. Numbers are those of the list.
    """
    ctx.obj = Store(db)
    if ctx.invoked_subcommand is not None:
        return
    rows = held_rows(ctx.obj, waiting=not settled_too)
    if as_json:
        print_json(rows.to_dict("records"))
        return
    for row in rows.to_dict("records"):
        place = f"{row['file']}{', sheet ' + row['sheet'] if row['sheet'] else ''}, row {row['row']}"
        click.echo(f"{row['held_id']}  {place} ({row['table']})")
        click.echo("   " + ", ".join(f"{k}: {v}" for k, v in row["cells"].items() if ":" not in k))
        click.echo(f"   {row['why']}{' (can be accepted)' if row['can_accept'] else ''}")
        if row["outcome"]:
            outcome = OUTCOMES.get(row["outcome"], row["outcome"])
            click.echo(f"   {outcome} in batch {row['settled_in']}: {row['settled_because']}")
    if not quiet:
        click.echo(f"{len(rows):,} rows.")


@command.command("correct")
@click.argument("number", type=int)
@click.option(
    "--set", "changes", multiple=True, required=True, help="COLUMN=TEXT; may be given several times."
)
@_decision
@click.pass_obj
def _correct(store: Store, number: int, changes: tuple[str, ...], reason: str, who: str) -> None:
    """Put other text in place of cells of row NUMBER and store it."""
    pairs = dict(change.partition("=")[::2] for change in changes)
    click.echo(f"Stored as batch {mend(store, number, pairs, reason=reason, who=who, today=date.today())}.")


# The word of earlier versions, which scripts may still use.
command.add_command(click.Command("mend", callback=_correct.callback, params=_correct.params, hidden=True))


@command.command("accept")
@click.argument("number", type=int)
@_decision
@click.pass_obj
def _accept(store: Store, number: int, reason: str, who: str) -> None:
    """Store row NUMBER as it is, where only doubts speak against it."""
    click.echo(f"Stored as batch {accept(store, number, reason=reason, who=who, today=date.today())}.")


@command.command("dismiss")
@click.argument("numbers", type=int, nargs=-1, required=True)
@_decision
@click.pass_obj
def _dismiss(store: Store, numbers: tuple[int, ...], reason: str, who: str) -> None:
    """Settle rows as not to be used. They stay on record."""
    click.echo(f"Dismissed in batch {dismiss(store, numbers, reason=reason, who=who)}.")


@command.command("retry")
@click.option("--who", default="", help="Name for the record; your login if left out.")
@click.pass_obj
def _retry(store: Store, who: str) -> None:
    """Check all waiting rows again, after what they lacked has been added."""
    stored, waiting = retry(store, who=who, today=date.today())
    click.echo(f"{stored:,} rows stored, {waiting:,} still wait.")
