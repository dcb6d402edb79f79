"""``milesleft tires``: miles and turnings left in every matched set of tires, policies compared."""

from collections.abc import Hashable, Mapping
from pathlib import Path
from typing import Any

import click
import numpy as np
import pandas as pd

from dashboard.console.options import FilePath, common_options, print_json
from dashboard.services.own_figures import read_sheet
from dashboard.services.turnings import TABLES, tires_ahead
from dashboard.words.cautions import FORECAST_CAUTION
from dashboard.words.checks_text import Figure, assumption_text, by_source
from dashboard.words.records import as_records, for_json
from dashboard.words.units_shown import figure_in, railway_units
from ingest.errors import NotPossible
from ingest.store import Store


@click.command()
@click.option("--vehicle", default="", help="Only this vehicle.")
@click.option(
    "--assume",
    type=FilePath(exists=True, dir_okay=False),
    help="Sheet of own assumptions: assumption, value, unit, class (empty for all), source.",
)
@click.option("--paths", type=click.IntRange(100, 200_000), default=10_000, show_default=True)
@common_options
def command(vehicle: str, assume: Path | None, paths: int, db: Path, quiet: bool, as_json: bool) -> None:
    """Miles until tires are scrap, turnings included, from the last forecast.

    Three policies on the same futures: turn at the limit, turn early at lay-ups, let one axle lag.
    """
    store = Store(db)
    runs = store.runs("forecast")
    if runs.empty:
        raise NotPossible(f"'{db}' holds no forecast. Make one first: 'milesleft forecast'.")
    run = str(runs["run_id"].iloc[0])
    tables = store.read_all(*TABLES, version=int(runs["data_version"].iloc[0]))
    own = None if assume is None else read_sheet(assume)
    results, lacking = {}, {}
    for name in [vehicle] if vehicle else sorted(tables["wear_points"]["vehicle"].astype(str).unique()):
        try:
            results[name] = tires_ahead(tables, store, run, name, own, paths=paths)
        except NotPossible as error:
            lacking[name] = error
    if not results:
        raise next(iter(lacking.values()))
    if as_json:
        without = {
            name: {"sets": [], "assumptions": [], "why_not": str(why)} for name, why in lacking.items()
        }
        print_json({name: _as_json(*result) for name, result in results.items()} | without)
    elif not quiet:
        units = railway_units(tables["wear_points"])
        parts = [as_text(name, *result, figure_in(units.of(name))) for name, result in results.items()]
        parts += [f"{name}: {why}" for name, why in lacking.items()]
        click.echo("\n\n".join([*parts, FORECAST_CAUTION]))


def _as_json(table: pd.DataFrame, taken: pd.DataFrame) -> dict[str, object]:
    return {"sets": for_json(table), "assumptions": taken.to_dict("records")}


def as_text(vehicle: str, table: pd.DataFrame, turning: pd.DataFrame, figure: Figure) -> str:
    """Policies of every set compared, and what a turning is taken to do, with its source; ``figure`` words a
    length."""
    lines = [f"{vehicle}: miles until the first tire of a set is scrap, and what a new set then lasts"]
    head = f"  {'set':<24}{'policy':<18}{'1 in 20':>10}{'half':>10}{'19 in 20':>10}  turnings  next turning"
    lines.append(head + f"{'new set':>12}  turnings  ends")
    for row in table.sort_values("matched_set", kind="stable").to_dict("records"):
        miles = "".join(_miles(row[name]) for name in ("miles_p05", "miles_p50", "miles_p95"))
        worn = "worn through" if row["chance_worn"] > row["chance_too_thin"] else "too thin to turn"
        following = row["next_turning_p50"]
        due = _miles(following) if np.isfinite(following) else "none"
        after = f"{_miles(row['next_life_p50']):>12}  {row['next_turnings_p50']:<8.0f}"
        told = f"{miles}  {_turnings(row):<8}{due:>14}{after}  {worn}"
        lines.append(f"  {row['matched_set']!s:<24}{row['policy']:<18}{told}")
    for words, rows in by_source(turning):
        lines.append(f"  {words} (--assume FILE puts your own in their place, by name and unit at the end):")
        for taken in as_records(rows):
            lines.append(f"    {assumption_text(taken, figure)}, as {taken['assumption']}{_stated_in(taken)}")
    return "\n".join(lines)


def _stated_in(taken: Mapping[str, object]) -> str:
    """The unit of a figure of one's own that names none."""
    return "" if taken["unit"] == "1" else f" [{taken['unit']}]"


def _turnings(row: Mapping[Hashable, Any]) -> str:
    """The middle number of turnings, and the range 8 times in 10 where there is one."""
    low, middle, high = (row[name] for name in ("turnings_p10", "turnings_p50", "turnings_p90"))
    return f"{middle:.0f}" if low == high else f"{middle:.0f} ({low:.0f}-{high:.0f})"


def _miles(value: float) -> str:
    return f"{value:>10,.0f}" if np.isfinite(value) else f"{'beyond':>10}"
