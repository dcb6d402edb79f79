"""``milesleft demo``: the demo railway from its sheets to the dashboard."""

import textwrap
import time
from importlib.resources import files
from pathlib import Path

import click

from dashboard.commands.common import common_options, print_json
from dashboard.papers.shortest_lived import WIDTH, as_table, shortest_lived
from dashboard.words.records import for_json
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.report import ACCEPTED, ALREADY_KNOWN, HELD_BACK, AddReport


@click.command(name="demo")
@click.option("--no-serve", is_flag=True, help="Load, forecast and print, but do not open the dashboard.")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address of the dashboard.")
@click.option("--port", default=8501, show_default=True, type=click.IntRange(1, 65535), help="Port.")
@common_options
def command(no_serve: bool, address: str, port: int, db: Path, quiet: bool, as_json: bool) -> None:
    """Load the demo railway, forecast, print the shortest-lived wear points, open the dashboard.

    The railway is invented: two engines, 22 seasons of readings as people write them, mistakes included.
    """
    from dashboard.services.forecasting import run_forecast

    store = Store(db)
    _keep_apart(store)
    report = add_files(store, [demo_folder()], who="demo")
    began = time.perf_counter()
    run = run_forecast(store)
    seconds = time.perf_counter() - began
    forecast = store.read_run(run, "forecast")
    if as_json:
        print_json({**_counts(report), "run": run, "shortest_lived": for_json(shortest_lived(forecast))})
    elif not quiet:
        click.echo(_taken_in(report, db))
        click.echo(f"\nForecast of {len(forecast):,} wear points in {seconds:.1f} s (run {run}).")
        click.echo(as_table(forecast))
    if not no_serve:
        from dashboard.commands.serve import command as serve

        context = click.get_current_context()
        context.invoke(serve, address=address, port=port, db=db, quiet=quiet, as_json=as_json)


def demo_folder() -> Path:
    """Folder of the demo railway's sheets, as they would be handed to ``milesleft add``."""
    return Path(str(files("data_demo"))) / "railway"


def _counts(report: AddReport) -> dict[str, int]:
    return {word.replace(" ", "_"): report.count(word) for word in (ACCEPTED, HELD_BACK, ALREADY_KNOWN)}


def _taken_in(report: AddReport, db: Path) -> str:
    counts = ", ".join(f"{report.count(word):,} {word}" for word in (ACCEPTED, HELD_BACK, ALREADY_KNOWN))
    text = (
        f"Demo railway, {len(report.files)} sheets, {len(report.verdicts):,} rows into {db}: {counts}. "
        "Rows held back wait in the store with their reasons ('milesleft held')."
    )
    return "\n".join(textwrap.wrap(text, WIDTH))


def _keep_apart(store: Store) -> None:
    """Refuse to mix the invented railway with a real one."""
    sheet = (demo_folder() / "vehicles.csv").read_text("utf-8")
    demo_vehicles = {row.split(",")[0] for row in sheet.splitlines()[1:]}
    others = sorted(set(store.read("vehicles")["vehicle"]) - demo_vehicles) if store.version() else []
    if others:
        raise NotPossible(
            f"{store.path}: the store holds {', '.join(others[:3])}; the demo railway is loaded into a store "
            "of its own. Name one: milesleft demo --db demo.duckdb"
        )
