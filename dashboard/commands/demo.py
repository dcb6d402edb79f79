"""``milesleft demo``: the demo railway from its sheets to the dashboard."""

import textwrap
import time
from collections import Counter
from collections.abc import Hashable
from importlib.resources import files
from pathlib import Path
from typing import Any

import click
import pandas as pd

from dashboard.commands.common import common_options, print_json
from dashboard.commands.forecast import CAUTION, records
from ingest.add import add_files
from ingest.errors import NotPossible
from ingest.report import ACCEPTED, ALREADY_KNOWN, HELD_BACK, AddReport
from ingest.store import Store

WIDTH = 100
_PAST, _OTHERS = 10, 15  # rows of the printed table
_LIKELY = 0.5  # chance from which a wear point counts as past its limit
_SAID = "past its limit now"  # a flag that a column of the table says already


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
    if as_json:
        print_json({**_counts(report), "run": run, "shortest_lived": records(shortest_lived(forecast))})
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


def shortest_lived(forecast: pd.DataFrame, past: int = _PAST, others: int = _OTHERS) -> pd.DataFrame:
    """The wear points with the fewest miles left: those past their limit first, then by the 5 % figure.

    Parameters
    ----------
    past, others : rows at most of what is past its limit, and of the rest.
    """
    told = forecast[forecast["miles_p50"].notna()]
    beyond = told["p_beyond_now"] >= _LIKELY
    first = told[beyond].sort_values(["p_beyond_now", "point"], ascending=[False, True]).head(past)
    then = told[~beyond].sort_values(["miles_p05", "miles_p50", "point"]).head(others)
    return pd.concat([first, then], ignore_index=True)


def as_table(forecast: pd.DataFrame) -> str:
    """The shortest-lived wear points as a table no wider than 100 columns, flags below each row."""
    shortest, common = shortest_lived(forecast), _common_flags(forecast)
    head = ("wear point", "what", "past now", "5 %", "50 %", "50 % date")
    rows = [_cells(row) for row in shortest.to_dict("records")]
    width = [max(len(line[i]) for line in (head, *rows)) for i in range(len(head))]
    width[1] = max(min(width[1], WIDTH - sum(width) + width[1] - 2 * len(width)), len(head[1]))
    lines = [_line(head, width)]
    for row, flags in zip(rows, shortest["flags"], strict=True):
        lines.append(_line(row, width))
        own = [flag for flag in _flags(flags) if flag not in common and not flag.startswith(_SAID)]
        lines += textwrap.wrap("; ".join(own), WIDTH, initial_indent="    ", subsequent_indent="    ")
    return "\n".join(["", *lines, "", *textwrap.wrap(_legend(forecast, shortest, common), WIDTH)])


def _cells(row: dict[Hashable, Any]) -> tuple[str, ...]:
    chance = float(row["p_beyond_now"])
    return (
        str(row["point"]),
        f"{row['component']}, {row['quantity']}",
        "" if chance < 0.005 else "> 99 %" if chance > 0.995 else f"{chance:.0%}".replace("%", " %"),
        f"{max(row['miles_p05'], 0.0):,.0f}",
        f"{max(row['miles_p50'], 0.0):,.0f}",
        "" if pd.isna(row["date_p50"]) else f"{row['date_p50']:%Y-%m-%d}",
    )


def _line(cells: tuple[str, ...], width: list[int]) -> str:
    what = textwrap.shorten(cells[1], width[1], placeholder=" ...")
    numbers = [cell.rjust(w) for cell, w in zip(cells[2:], width[2:], strict=True)]
    return "  ".join([cells[0].ljust(width[0]), what.ljust(width[1]), *numbers]).rstrip()


def _flags(text: object) -> list[str]:
    return [flag for flag in str(text or "").split("; ") if flag]


def _common_flags(forecast: pd.DataFrame) -> set[str]:
    """Flags of more than half of the wear points: said once below the table instead of on every row."""
    counts = Counter(flag for text in forecast["flags"] for flag in _flags(text))
    return {flag for flag, n in counts.items() if 2 * n > len(forecast)}


def _legend(forecast: pd.DataFrame, shortest: pd.DataFrame, common: set[str]) -> str:
    beyond = int((forecast["p_beyond_now"] >= _LIKELY).sum())
    more = beyond - int((shortest["p_beyond_now"] >= _LIKELY).sum())
    untold = int(forecast["miles_p50"].isna().sum())
    parts = [
        f"Miles left from {_as_of(shortest)}. Past now: the chance that the limit is passed already, where "
        "there is one. 5 %: 1 in 20 such parts reaches its limit sooner. 50 %: as many sooner as later."
    ]
    parts += [f"{more} more are probably past their limit."] if more else []
    parts += [f"{untold} cannot be forecast; the dashboard says why."] if untold else []
    parts += [f"Of most wear points: {'; '.join(sorted(common))}."] if common else []
    return " ".join([*parts, CAUTION])


def _as_of(shortest: pd.DataFrame) -> str:
    days = sorted({f"{day:%Y-%m-%d}" for day in shortest["as_of"]})
    return " and ".join(days) if days else "the end of the mileage log"


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
    mine = {row.split(",")[0] for row in (demo_folder() / "vehicles.csv").read_text("utf-8").splitlines()[1:]}
    others = sorted(set(store.read("vehicles")["vehicle"]) - mine) if store.version() else []
    if others:
        raise NotPossible(
            f"{store.path}: the store holds {', '.join(others[:3])}; the demo railway is loaded into a store "
            "of its own. Name one: milesleft demo --db demo.duckdb"
        )
