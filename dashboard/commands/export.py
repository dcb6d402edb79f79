"""``milesleft export``: everything out again."""

from pathlib import Path
from typing import get_args

import click

from dashboard.console.options import FilePath, common_options, print_json
from ingest.store import Store
from ingest.store.export import Form, export


@click.command()
@click.argument("folder", type=FilePath(file_okay=False))
@click.option(
    "--form", type=click.Choice(get_args(Form)), default="csv", show_default=True, help="Kind of file."
)
@click.option("--at", "version", type=int, help="The data as they were after that batch.")
@common_options
def command(folder: Path, form: Form, version: int | None, db: Path, quiet: bool, as_json: bool) -> None:
    """Write all tables into FOLDER, as files that 'milesleft add' reads back to the same rows.

    Rows held back are written too, each as it came. Batches, corrections and forecasts are not: for those,
    'milesleft backup'.
    """
    paths = export(Store(db), folder, form, version)
    if as_json:
        print_json([str(path) for path in paths])
    elif not quiet:
        click.echo("\n".join(str(path) for path in paths) or "The store holds nothing to export.")
