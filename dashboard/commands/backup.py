"""``milesleft backup``: the whole store in one file."""

from dataclasses import asdict
from pathlib import Path

import click

from dashboard.console.options import FilePath, check_folder, common_options, print_json
from ingest.store import Store
from ingest.store.backup import backup


@click.command()
@click.argument("file", type=FilePath(dir_okay=False))
@common_options
def command(file: Path, db: Path, quiet: bool, as_json: bool) -> None:
    """Write the whole store, with its history, corrections and forecasts, into FILE.

    The file holds Parquet tables and their checksums. It is restored into a scratch store before it takes its
    place: a file that could not come back is never left. 'milesleft restore' reads it.
    """
    check_folder(file)
    done = backup(Store(db), file)
    if as_json:
        print_json(asdict(done))
    elif not quiet:
        rows = sum(done.rows.values())
        click.echo(f"{file}: data version {done.version}, {rows:,} rows in {len(done.rows)} tables.")
