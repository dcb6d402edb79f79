"""``milesleft undo``: take back a batch."""

import json
from pathlib import Path

import click

from dashboard.commands.common import common_options, print_json
from ingest.store import Store
from ingest.verdicts.undo import undo


@click.command()
@click.argument("batch", type=int, required=False)
@click.option("--reason", default="", help="Why; it is kept.")
@click.option("--who", default="", help="Name for the record; your login if left out.")
@common_options
def command(batch: int | None, reason: str, who: str, db: Path, quiet: bool, as_json: bool) -> None:
    """Take back everything that BATCH did; without a number, list the batches.

    Nothing is deleted: what was known before the undo can still be read, and forecasts made from it can be
    made again.
    """
    store = Store(db)
    if batch is not None:
        number = undo(store, batch, who, reason)
        if as_json:
            print_json({"batch": number, "undone": batch})
        elif not quiet:
            click.echo(f"Batch {batch} is undone, by batch {number}.")
        return
    rows = store.batches().to_dict("records")
    if as_json:
        print_json([row | {"about": json.loads(row["about"])} for row in rows])
    elif not quiet:
        for row in rows:
            made = f"{row['made_at']:%Y-%m-%d %H:%M} UTC"
            click.echo(f"{row['batch']:>5}  {made}  {row['who']}  {row['command']}  {row['about']}")
