"""``milesleft undo``: take back a batch; list the batches, and what one of them brought."""

import json
from pathlib import Path

import click

from dashboard.console.options import common_options, print_json
from dashboard.words.add_words import would_fit_words
from dashboard.words.batch_words import DID, about_words, rows_of_batch_shown, rows_words
from ingest.store import Store
from ingest.verdicts.read_again import would_fit
from ingest.verdicts.undo import batch_list, undo

_SHOWN = 20  # rows of a table printed; --json gives all


@click.command()
@click.argument("batch", type=int, required=False)
@click.option(
    "--show", is_flag=True, help="Take nothing back: show the rows that BATCH brought, and from where."
)
@click.option("--reason", default="", help="Why; it is kept.")
@click.option("--who", default="", help="Name for the record; your login if left out.")
@common_options
def command(
    batch: int | None, show: bool, reason: str, who: str, db: Path, quiet: bool, as_json: bool
) -> None:
    """Take back everything that BATCH did; without a number, list the batches.

    Nothing is deleted: what was known before the undo can still be read, and forecasts made from it can be
    made again.
    """
    store = Store(db)
    if batch is None or show:
        _list(store, batch, quiet=quiet, as_json=as_json)
        return
    number = undo(store, batch, who, reason)
    if as_json:
        print_json({"batch": number, "undone": batch})
    elif not quiet:
        fit = would_fit_words(would_fit(store), "'milesleft held retry' stores them")
        click.echo(f"Batch {batch} is undone, by batch {number}.{fit}")


def _list(store: Store, batch: int | None, *, quiet: bool, as_json: bool) -> None:
    """Print the batches, or one with its rows."""
    listed = batch_list(store)
    if batch is not None:
        listed = listed[listed["batch"] == batch]
    rows = {} if batch is None else store.rows_of_batch(batch)
    if as_json:
        said = [row | {"about": json.loads(row["about"])} for row in listed.to_dict("records")]
        tables = {table: rows_of_batch_shown(table, part).to_dict("records") for table, part in rows.items()}
        print_json(said if batch is None else {"batches": said, "rows": tables})
    elif not quiet:
        for _, row in listed.iterrows():
            made = f"{row['made_at']:%Y-%m-%d %H:%M} UTC"
            did = DID.get(row["command"], row["command"])
            click.echo(f"{row['batch']:>5}  {made}  {row['who']}  {did}: {rows_words(row)}")
            if about := about_words(row["about"]):
                click.echo(f"       {about}")
        for table, part in rows.items():
            click.echo(f"\n{table}: {len(part):,} rows")
            click.echo(rows_of_batch_shown(table, part.head(_SHOWN)).to_string(index=False))
