"""``milesleft parts``: parts with numbers of their own, where they are, and what is left in the spares."""

from pathlib import Path

import click

from dashboard.console.options import common_options, print_json
from dashboard.words.records import as_records
from ingest.store import Store


@click.command()
@common_options
def command(db: Path, quiet: bool, as_json: bool) -> None:
    """Parts with numbers of their own: the spares rack with the miles left in it, what is fitted where.

    A spare's miles are those at the place where it was last, or, of a part that has run nothing, at the place
    where the one fitted now ends first.
    """
    from dashboard.shop.parts_told import parts_on_record
    from dashboard.words.parts_text import parts_text

    parts = parts_on_record(Store(db))
    if as_json:
        frames = {"parts": parts.now, "stints": parts.stints, "left": parts.left}
        print_json({name: as_records(frame) for name, frame in frames.items()})
    elif not quiet:
        click.echo(parts_text(parts.now, parts.stints, parts.left))
