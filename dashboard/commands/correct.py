"""``milesleft correct``: many stored rows put right alike, as one batch."""

from datetime import date
from pathlib import Path
from typing import Any

import click

from dashboard.console.options import Day, common_options, print_json
from dashboard.words.add_words import also_words
from dashboard.words.columns import in_columns
from dashboard.words.correct_words import proposed_words
from dashboard.words.records import as_records
from ingest.errors import WrongUsage
from ingest.neutral import neutral
from ingest.store import Store
from ingest.verdicts.correct_many import CORRECTABLE, Change, Chosen, Proposed, correct_many, propose
from ingest.verdicts.read_again import let_go_by

_SHOWN = 10


@click.command()
@click.option(
    "--table", type=click.Choice(CORRECTABLE), default="readings", show_default=True, help="Whose rows."
)
@click.option("--gauge", default="", help="Rows measured with this gauge.")
@click.option("--observer", default="", help="Rows by this observer.")
@click.option("--file", "file", default="", help="Rows that came from a file of this name.")
@click.option("--sheet", default="", help="Rows that came from a sheet of this name.")
@click.option("--vehicle", default="", help="Rows of this vehicle.")
@click.option("--point", default="", help="Rows of this wear point.")
@click.option("--from", "since", type=Day(), help="Rows of this day and later.")
@click.option("--until", type=Day(), help="Rows of this day and earlier.")
@click.option("--read-high", default="", metavar="LENGTH", help="They read so much too high: '4 thou'.")
@click.option("--read-low", default="", metavar="LENGTH", help="They read so much too low.")
@click.option("--unit", default="", help="The values were written in this unit.")
@click.option("--years", type=int, default=0, help="Move dates by so many years: --years=-1.")
@click.option("--days", type=int, default=0, help="Move dates by so many days.")
@click.option("--set", "cells", multiple=True, help="COLUMN=TEXT; may be given several times.")
@click.option("--store", "stored", is_flag=True, help="Store it; without this it is only shown.")
@click.option("--reason", default="", help="Why; it is kept.")
@click.option("--who", default="", help="Name for the record; your login if left out.")
@common_options
def command(
    table: str,
    since: date | None,
    until: date | None,
    read_high: str,
    read_low: str,
    cells: tuple[str, ...],
    stored: bool,
    reason: str,
    who: str,
    db: Path,
    quiet: bool,
    as_json: bool,
    **more: Any,  # noqa: ANN401  # unit, years, days; and what rows are chosen by, as in `Chosen`
) -> None:
    """Put many stored rows right alike: those of a gauge, an observer, a sheet, between two days.

    Shows how many rows there are and the first of them before and after. With --store they are stored as
    one batch, which 'milesleft undo' takes back; the next forecast follows.
    """
    moved = {name: more.pop(name) for name in ("unit", "years", "days")}
    chosen = Chosen(table, since=since, until=until, **more)
    if chosen == Chosen(table):
        ways = ", ".join(f"--{name}" for name in (*more, "from", "until"))
        raise WrongUsage(f"Say which rows: {ways}.")
    if read_high and read_low:
        raise WrongUsage("Give --read-high or --read-low, not both.")
    pairs = dict(text.partition("=")[::2] for text in cells)
    change = Change(read_high or (f"-{read_low}" if read_low else ""), cells=pairs, **moved)
    store = Store(db)
    proposed = propose(store, chosen, change, today=date.today())
    batch = None
    if stored:
        batch, _ = correct_many(store, chosen, change, reason=reason, who=who, today=date.today())
    if as_json:
        rows = as_records(proposed.rows)
        print_json({"batch": batch, "rows": len(rows), "changed": proposed.changed, "corrected": rows})
    elif not quiet:
        click.echo("\n".join(as_lines(proposed, chosen, change)))
        click.echo(_end(store, batch))


def _end(store: Store, batch: int | None) -> str:
    if batch is None:
        return "Nothing was stored. Say --store and --reason to store this as one batch."
    return (
        f"Stored as batch {batch}; 'milesleft undo {batch}' takes it back. Forecast again to see what moves."
        f"{also_words(let_go_by(store, batch))}"
    )


def as_lines(proposed: Proposed, chosen: Chosen, change: Change) -> list[str]:
    """What a correction does, as people read it."""
    head = ["point" if chosen.table != "mileage" else "vehicle", "date", "before", "after", "from", ""]
    texts = [head]
    refused, doubted = proposed.refused, proposed.rows[proposed.rows["doubt"] != ""]
    first = proposed.rows.loc[[*refused.index, *doubted.index, *proposed.rows.index]]
    for row in first[~first.index.duplicated()].head(_SHOWN).to_dict("records"):
        place = f"{row['file']}{', sheet ' + row['sheet'] if row['sheet'] else ''}, row {row['row']}"
        why = (
            f"cannot be: {row['why_not']}"
            if row["why_not"]
            else f"doubtful: {row['doubt']}" * bool(row["doubt"])
        )
        who = str(row["vehicle" if "vehicle" in row else "point"])
        texts.append(
            [who, f"{row['date']:%Y-%m-%d}", neutral(row["before"]), neutral(row["after"]), place, why]
        )
    lines = [proposed_words(proposed, chosen, change), *in_columns(texts, left=(0, 1, 2, 3, 4, 5))]
    if len(proposed.rows) > _SHOWN:
        lines.append(f"and {len(proposed.rows) - _SHOWN:,} more rows (--json lists all)")
    if len(refused):
        lines.append(
            f"{len(refused):,} rows cannot be corrected so. Choose fewer rows, or correct these one by one."
        )
    return lines
