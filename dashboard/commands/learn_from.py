"""``milesleft learn-from``: what other railways have learned of the same kinds of parts."""

from pathlib import Path

import click
import pandas as pd

from dashboard.console.options import FilePath, common_options, print_json
from dashboard.services.sharing import Shared, learn_from, read_shared
from dashboard.services.sources import forget, sources_listed
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store


@click.command(name="learn-from")
@click.argument("files", nargs=-1, type=FilePath(exists=True, dir_okay=False))
@click.option("--signed-by", help="Take it only if this is the fingerprint of the key that signed it.")
@click.option("--new-key", is_flag=True, help="Their key is another than before, and they say so.")
@click.option("--forget", "forgotten", help="Use nothing of this railway any more.")
@click.option("--list", "listed", is_flag=True, help="Who has been learned from.")
@common_options
def command(
    files: tuple[Path, ...],
    signed_by: str | None,
    new_key: bool,
    forgotten: str | None,
    listed: bool,
    db: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """Check files written by 'share' and let later forecasts of this store learn from them."""
    store = Store(db)
    if not files and forgotten is None and not listed:
        raise WrongUsage("Name a file written by 'milesleft share', or use --list or --forget.")
    if forgotten is not None:
        forget(store, forgotten)
    read = [read_shared(path) for path in files]  # all are checked before any is kept
    for path, shared in zip(files, read, strict=True):
        if signed_by is not None and shared.fingerprint != signed_by.strip().lower():
            raise NotPossible(
                f"'{path.name}' was signed with the key {shared.fingerprint}, not {signed_by}. Nothing "
                "was taken."
            )
    for shared in read:
        learn_from(store, shared, new_key=new_key)
    known = sources_listed(store).drop(columns="run_id")
    older = _older(read, known)
    if as_json:
        print_json({"learned_from": known.to_dict("records")})
    elif not quiet:
        for row in known.itertuples():
            click.echo(f"{row.railway}: {row.families:,} families, {row.made_on}, key {row.fingerprint}")
        for words in older:
            click.echo(words)
        click.echo("The next 'milesleft forecast' uses them." if files else f"{len(known)} railways.")


def _older(read: list[Shared], known: pd.DataFrame) -> list[str]:
    """What to say of files that are older than the one that is used of their railway."""
    used = dict(zip(known["fingerprint"], known["made_on"], strict=True))
    return [
        f"{shared.railway}: the file of {shared.made_on} is older than the one of "
        f"{used[shared.fingerprint]}, which is used."
        for shared in read
        if shared.made_on < used.get(shared.fingerprint, "")
    ]
