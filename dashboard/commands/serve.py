"""``milesleft serve``: the dashboard in the browser."""

import re
from pathlib import Path

import click

from dashboard.console.options import FilePath, common_options
from dashboard.gate import bounds as gate_bounds
from dashboard.gate.hosts import is_loopback
from dashboard.screen.access import ROLES_VARIABLE, load
from ingest.errors import WrongUsage


@click.command(name="serve")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8501, show_default=True, type=click.IntRange(1, 65535), help="Port.")
@click.option("--base-path", default="", help="Path under which a proxy passes the dashboard on: /milesleft")
@click.option("--host", "hosts", multiple=True, help="Host name by which people reach it (behind a proxy).")
@click.option(
    "--roles",
    type=FilePath(exists=True, dir_okay=False),
    envvar=ROLES_VARIABLE,
    help="TOML file: who may do what. Needed with --host, and with any but the loopback address.",
)
@click.option(
    "--everybody-may-do-all",
    is_flag=True,
    help="Instead of --roles: whoever reaches it may change and delete all.",
)
@click.option(
    "--shown-in",
    multiple=True,
    help="Site that may show the dashboard in a frame: https://www.example.org. Without it, none may.",
)
@click.option(
    "--bounds",
    "bounds_file",
    type=FilePath(exists=True, dir_okay=False),
    help="TOML file: how many MB and how many open pages the server takes in at most.",
)
@common_options
def command(
    address: str,
    port: int,
    base_path: str,
    hosts: tuple[str, ...],
    roles: Path | None,
    everybody_may_do_all: bool,
    shown_in: tuple[str, ...],
    bounds_file: Path | None,
    db: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """Open the dashboard in the browser.

    It listens on this machine only, unless told otherwise. Stop it with Ctrl-C.
    """
    _somebody_decides(address, hosts, roles, everybody_may_do_all)
    for site in shown_in:
        _is_site(site)
    bounds = gate_bounds.load(bounds_file)
    if roles is not None:
        load(roles)
    from dashboard.gate.serving import (  # Streamlit takes its time: only when it serves
        Serving,
        check_port,
        serve,
    )

    what = Serving(db, address, port, base_path, hosts, roles, shown_in, bounds)
    check_port(what)
    if not quiet and not as_json:
        click.echo(f"milesleft serves {db} on http://{address}:{port}/{base_path.strip('/')}", err=True)
    serve(what)


def _somebody_decides(address: str, hosts: tuple[str, ...], roles: Path | None, everybody: bool) -> None:
    """Others get in only where somebody has decided what they may do."""
    if roles is not None and everybody:
        raise WrongUsage(
            "--roles says who may do what, and --everybody-may-do-all that all may. Give one of them."
        )
    if roles is not None or everybody:
        return
    opened = [f"--host {host}" for host in hosts] + ([] if is_loopback(address) else [f"--address {address}"])
    if opened:
        raise WrongUsage(
            f"{opened[0]} lets others in, and nothing says what they may do. Give --roles FILE (README.md, "
            "'Who may do what'), or --everybody-may-do-all if whoever reaches it may change and delete all."
        )


def _is_site(site: str) -> None:
    if not re.fullmatch(r"https?://[\w.-]+(:\d+)?", site, re.ASCII):
        raise WrongUsage(
            f"--shown-in '{site}' is no site. Write it as https://www.example.org, without a path."
        )
