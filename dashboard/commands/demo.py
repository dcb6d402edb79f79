"""``milesleft demo``: the demo railway from its sheets to the dashboard."""

import textwrap
import time
from importlib.resources import files
from pathlib import Path

import click
import pandas as pd

from dashboard.commands.common import common_options, print_json
from ingest.add import add_files
from ingest.errors import NotPossible
from ingest.report import ACCEPTED, ALREADY_KNOWN, HELD_BACK, AddReport
from ingest.store import Store

WIDTH = 100
_SHORTEST = 15  # wear points in the printed table
_FLAGS = 16  # room kept for flags
CAUTION = (
    "A forecast supports and never replaces inspection by qualified people; the governing rules and the "
    "railway's own limits decide."
)


@click.command(name="demo")
@click.option("--no-serve", is_flag=True, help="Load, forecast and print, but do not open the dashboard.")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address of the dashboard.")
@click.option("--port", default=8501, show_default=True, type=click.IntRange(1, 65535), help="Port.")
@common_options
def command(no_serve: bool, address: str, port: int, db: Path, quiet: bool, as_json: bool) -> None:
    """Load the demo railway, forecast, print the shortest-lived wear points, open the dashboard.

    The railway is invented: two engines, 22 seasons of readings as people write them, mistakes included.
    """
    from dashboard.forecasting import run_forecast

    store = Store(db)
    _keep_apart(store)
    report = add_files(store, [demo_folder()], who="demo")
    began = time.perf_counter()
    run = run_forecast(store)
    seconds = time.perf_counter() - began
    forecast = store.read_run(run, "forecast")
    shortest = shortest_lived(forecast)
    if as_json:
        print_json({**_counts(report), "run": run, "shortest_lived": shortest.to_dict("records")})
    elif not quiet:
        click.echo(_taken_in(report, db))
        click.echo(f"\nForecast of {len(forecast):,} wear points in {seconds:.1f} s (run {run}).")
        click.echo(as_table(shortest))
    if not no_serve:
        from dashboard.commands.serve import command as serve

        context = click.get_current_context()
        context.invoke(serve, address=address, port=port, db=db, quiet=quiet, as_json=as_json)


def demo_folder() -> Path:
    """Folder of the demo railway's sheets, as they would be handed to ``milesleft add``."""
    return Path(str(files("data_demo"))) / "railway"


def shortest_lived(forecast: pd.DataFrame, rows: int = _SHORTEST) -> pd.DataFrame:
    """The wear points with the fewest miles left: those past their limit first, then by the 5 % figure."""
    told = forecast[forecast["miles_p50"].notna()]
    past = told["p_beyond_now"] >= 0.5
    order = told.assign(later=~past).sort_values(["later", "miles_p05", "miles_p50", "point"])
    return order.drop(columns="later").head(rows).reset_index(drop=True)


def as_table(shortest: pd.DataFrame) -> str:
    """The shortest-lived wear points as a table no wider than 100 columns."""
    head = ("wear point", "what", "5 %", "50 %", "date at 50 %", "flags")
    rows = [
        (
            str(row["point"]),
            f"{row['component']}, {row['quantity']}",
            _miles(row["miles_p05"]),
            _miles(row["miles_p50"]),
            "" if pd.isna(row["date_p50"]) else f"{row['date_p50']:%Y-%m-%d}",
            str(row["flags"] or ""),
        )
        for row in shortest.to_dict("records")
    ]
    width = [max(len(line[i]) for line in (head, *rows)) for i in range(5)]
    width[1] = max(min(width[1], WIDTH - (sum(width) - width[1]) - 2 * len(width) - _FLAGS), len(head[1]))
    room = max(WIDTH - sum(width) - 2 * len(width), _FLAGS)
    lines = [_line(line, width, room) for line in (head, *rows)]
    legend = (
        f"Miles left from {_as_of(shortest)}. 5 %: 1 in 20 such parts reaches its limit sooner; "
        f"50 %: as many sooner as later. {CAUTION}"
    )
    return "\n".join(["", *lines, "", *textwrap.wrap(legend, WIDTH)])


def _line(cells: tuple[str, ...], width: list[int], room: int) -> str:
    """One row; flags that do not fit go on below."""
    what = textwrap.shorten(cells[1], width[1], placeholder=" ...")
    start = [
        cells[0].ljust(width[0]),
        what.ljust(width[1]),
        *[c.rjust(w) for c, w in zip(cells[2:5], width[2:], strict=True)],
    ]
    flags = textwrap.wrap(cells[5], room) or [""]
    margin = " " * (sum(width) + 2 * len(width))
    return "\n".join([("  ".join(start) + "  " + flags[0]).rstrip(), *[margin + more for more in flags[1:]]])


def _miles(miles: float) -> str:
    return f"{max(miles, 0.0):,.0f}"


def _as_of(shortest: pd.DataFrame) -> str:
    days = sorted({f"{day:%Y-%m-%d}" for day in shortest["as_of"]})
    return " and ".join(days) if days else "the end of the mileage log"


def _counts(report: AddReport) -> dict[str, int]:
    return {word.replace(" ", "_"): report.count(word) for word in (ACCEPTED, HELD_BACK, ALREADY_KNOWN)}


def _taken_in(report: AddReport, db: Path) -> str:
    counts = " ".join(
        f"{report.count(word):,} {word}{mark}"
        for word, mark in ((ACCEPTED, ","), (HELD_BACK, ","), (ALREADY_KNOWN, "."))
    )
    text = (
        f"Demo railway, {len(report.files)} sheets, {len(report.verdicts):,} rows into {db}: {counts} "
        f"Rows that are held back wait in the store with their reasons."
    )
    return "\n".join(textwrap.wrap(text, WIDTH))


def _keep_apart(store: Store) -> None:
    """Refuse to mix the invented railway with a real one."""
    mine = {row.split(",")[0] for row in (demo_folder() / "vehicles.csv").read_text("utf-8").splitlines()[1:]}
    others = sorted(set(store.read("vehicles")["vehicle"]) - mine) if store.version() else []
    if others:
        raise NotPossible(
            f"{store.path}: the store holds {', '.join(others[:3])}; the demo railway is loaded into a store "
            "of its own. Name one: milesleft demo --db demo.duckdb"
        )
