"""``milesleft serve``: the dashboard in the browser."""

from pathlib import Path

import click

from dashboard.commands.common import common_options
from dashboard.screen.access import ROLES_VARIABLE, load
from ingest.errors import WrongUsage

LOOPBACK = ("127.0.0.1", "localhost", "::1")


@click.command(name="serve")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8501, show_default=True, type=click.IntRange(1, 65535), help="Port.")
@click.option("--base-path", default="", help="Path under which a proxy passes the dashboard on: /milesleft")
@click.option("--host", "hosts", multiple=True, help="Host name by which people reach it (behind a proxy).")
@click.option(
    "--roles",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    envvar=ROLES_VARIABLE,
    help="TOML file: who may do what. Needed to listen on any but the loopback address.",
)
@common_options
def command(
    address: str,
    port: int,
    base_path: str,
    hosts: tuple[str, ...],
    roles: Path | None,
    db: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """Open the dashboard in the browser.

    It listens on this machine only, unless told otherwise. Stop it with Ctrl-C.
    """
    if address not in LOOPBACK and roles is None:
        raise WrongUsage(
            f"--address {address} lets others in, and without --roles whoever gets in may do all. "
            "Give --roles FILE, or stay on 127.0.0.1 and put a proxy in front."
        )
    if roles is not None:
        load(roles)
    from dashboard.screen.serving import (  # Streamlit takes its time: only when it serves
        Serving,
        check_port,
        serve,
    )

    what = Serving(db=db, address=address, port=port, base_path=base_path, hosts=hosts, roles=roles)
    check_port(what)
    if not quiet and not as_json:
        click.echo(f"milesleft serves {db} on http://{address}:{port}/{base_path.strip('/')}", err=True)
    serve(what)
