"""``milesleft restore``: a store from a backup."""

from dataclasses import asdict
from pathlib import Path

import click

from dashboard.console.options import FilePath, common_options, print_json
from ingest.store import Store
from ingest.store.backup import look, restore


@click.command()
@click.argument("file", type=FilePath(dir_okay=False))
@click.option(
    "--replace", is_flag=True, help="Put it in the place of a store that is there; that one is kept."
)
@click.option(
    "--check", is_flag=True, help="Restore the file into a scratch store, as a trial; change nothing."
)
@common_options
def command(file: Path, replace: bool, check: bool, db: Path, quiet: bool, as_json: bool) -> None:
    """Make the store from FILE, which 'milesleft backup' wrote.

    Every part is compared with its checksum first. A store that is replaced stays beside the new one, its
    name ending in .before-restore.
    """
    done = look(file) if check else restore(Store(db), file, replace=replace)
    if as_json:
        print_json(asdict(done))
    elif not quiet:
        what = "is whole, restored as a trial" if check else f"restored into {db}"
        click.echo(f"{file} {what}: data version {done.version} of {done.made_at} UTC.")
