"""``milesleft share``: what the families have taught, for other railways; no reading leaves the house."""

from pathlib import Path

import click

from dashboard.console.options import FilePath, check_folder, common_options, print_json
from dashboard.services.sharing import share
from ingest.errors import WrongUsage
from ingest.store import Store


@click.command(name="share")
@click.option("--out", required=True, type=FilePath(dir_okay=False), help="File to write.")
@click.option("--name", required=True, help="What others know this railway by.")
@click.option(
    "--key",
    type=FilePath(dir_okay=False),
    help="Private key that signs (PEM, Ed25519); made beside the store if not given.",
)
@common_options
def command(out: Path, name: str, key: Path | None, db: Path, quiet: bool, as_json: bool) -> None:
    """Write what the last forecast learned of each family, signed: parameters, no readings."""
    check_folder(out)
    if not name.strip():
        raise WrongUsage("--name is empty. Others keep what they learn under that name.")
    shared = share(Store(db), out, name.strip(), key)
    if as_json:
        print_json({"file": str(out), "families": len(shared.families), "fingerprint": shared.fingerprint})
    elif not quiet:
        click.echo(
            f"{len(shared.families):,} families written to {out}: how fast and how evenly they wear, and how "
            f"well they are measured. It holds no reading, no mileage and no vehicle.\nFingerprint of the "
            f"key: {shared.fingerprint}. Tell it to those who get the file by another way than the file."
        )
