"""``milesleft demo``: the demo railway from its sheets to the dashboard."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dashboard.console.options import common_options, print_json
from dashboard.papers.shortest_lived import WIDTH, as_table, shortest_lived
from dashboard.words.records import for_json
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.report import VERDICTS

if TYPE_CHECKING:
    from dashboard.services.demo_railway import Visit


@click.command(name="demo")
@click.option("--no-serve", is_flag=True, help="Load, forecast and print, but do not open the dashboard.")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address of the dashboard.")
@click.option("--port", default=8501, show_default=True, type=click.IntRange(1, 65535), help="Port.")
@common_options
def command(no_serve: bool, address: str, port: int, db: Path, quiet: bool, as_json: bool) -> None:
    """Load the demo railway, forecast, print the shortest-lived wear points, open the dashboard.

    The railway is invented: two engines, 22 seasons of readings as people write them, mistakes included. A
    plan of both engines, a track record and a case for the money are worked out too, so that every page has
    something to show.
    """
    from dashboard.papers.brief_kept import keep_usual_brief
    from dashboard.services.demo_railway import fill

    store = Store(db)
    _keep_apart(store)
    say = (lambda _words: None) if quiet or as_json else (lambda words: click.echo(words, err=True))
    visit = fill(store, say, keep_usual_brief)
    forecast = store.read_run(visit.run, "forecast")
    if as_json:
        print_json({**_counts(visit), "run": visit.run, "shortest_lived": for_json(shortest_lived(forecast))})
    elif not quiet:
        click.echo(_taken_in(visit, db))
        made = f"made in {visit.seconds['forecast']:.1f} s" if "forecast" in visit.seconds else "made before"
        click.echo(f"\nForecast of {len(forecast):,} wear points, {made} (kept as {visit.run}).")
        click.echo(as_table(forecast))
    if not no_serve:
        from dashboard.commands.serve import command as serve

        context = click.get_current_context()
        context.invoke(serve, address=address, port=port, db=db, quiet=quiet, as_json=as_json)


def _counts(visit: "Visit") -> dict[str, int]:
    return {word.replace(" ", "_"): visit.count(word) for word in VERDICTS}


def _taken_in(visit: "Visit", db: Path) -> str:
    counts = ", ".join(f"{visit.count(word):,} {word}" for word in VERDICTS)
    text = (
        f"Demo railway, {visit.sheets} sheets, {visit.rows:,} rows into {db}: {counts}. "
        "Rows held back wait in the store with their reasons ('milesleft held')."
    )
    return "\n".join(textwrap.wrap(text, WIDTH))


def _keep_apart(store: Store) -> None:
    """Refuse to mix the invented railway with a real one."""
    from dashboard.services.demo_railway import demo_sheets

    sheet = (demo_sheets() / "vehicles.csv").read_text("utf-8")
    demo_vehicles = {row.split(",")[0] for row in sheet.splitlines()[1:]}
    others = sorted(set(store.read("vehicles")["vehicle"]) - demo_vehicles) if store.version() else []
    if others:
        raise NotPossible(
            f"{store.path}: the store holds {', '.join(others[:3])}; the demo railway is loaded into a store "
            "of its own. Name one: milesleft demo --db demo.duckdb"
        )
