"""``milesleft forecast``: remaining miles of every wear point, printed, written and kept."""

import json
import time
from pathlib import Path

import click
import pandas as pd

from dashboard.console.options import Day, FilePath, check_out, common_options, print_json
from dashboard.papers.shortest_lived import as_table
from dashboard.services.after_add import alarms_of
from dashboard.services.forecasting import forecast_and_store
from dashboard.services.shop_checks import of_one_vehicle
from dashboard.words.alarm_words import alarm_lines, alarm_list
from dashboard.words.records import for_json
from ingest.errors import WrongUsage
from ingest.neutral import without_formulas
from ingest.store import Store
from ingest.writing import whole_file

ENDINGS = (".csv", ".parquet", ".json")
SIGHT = pd.DateOffset(years=1)
"""How far past the last day on record a forecast may be carried. Common practice, no source."""


@click.command(name="forecast")
@click.option("--vehicle", help="Only this vehicle's wear points are shown and written.")
@click.option("--as-of", type=Day(), help="Use the records up to this day only.")
@click.option(
    "--version", "version", type=click.IntRange(1), help="From the data as they were at this version."
)
@click.option("--out", type=FilePath(dir_okay=False), help="Write the table: .csv, .parquet or .json.")
@click.option("--scheduler", help="Work it out on the Dask cluster of this scheduler, tcp://HOST:PORT.")
@common_options
def command(
    vehicle: str | None,
    as_of: pd.Timestamp | None,
    version: int | None,
    out: Path | None,
    scheduler: str | None,
    db: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """Remaining miles of every wear point, from the last mileage on record."""
    if out is not None:
        check_out(out, ENDINGS)
    if as_of is not None:
        _not_out_of_sight(Store(db), pd.Timestamp(as_of))
    began = time.perf_counter()
    store = Store(db)
    run, table = forecast_and_store(
        store, None if as_of is None else pd.Timestamp(as_of), version=version, scheduler=scheduler
    )
    alarms = alarms_of(store, run)
    if vehicle is not None:
        table = of_one_vehicle(table, vehicle)
        alarms = alarms[alarms["vehicle"].isin(table["vehicle"])]
    if out is not None:
        write(table, out)
    seconds = time.perf_counter() - began
    if as_json:
        print_json({"run": run, "forecast": for_json(table), "alarms": alarm_list(alarms)})
    elif not quiet:
        click.echo(as_table(table))
        if len(alarms):
            click.echo("\n".join(["\nAlarms:", *(f"  {line}" for line in alarm_lines(alarms))]))
        written = f", written to {out}" if out else ""
        click.echo(f"\n{len(table):,} wear points in {seconds:.1f} s{written} (kept as {run}).")
        if out:
            click.echo("The file holds the figures alone: pass the caution above on with it.")


def _not_out_of_sight(store: Store, as_of: pd.Timestamp) -> None:
    """Refuse a day so far after the record that nothing in it speaks of that day any more.

    Counted from the record and not from today, so that the same store gives the same answer on any day.
    """
    last = pd.Series([store.read(table)["date"].max() for table in ("mileage", "readings")]).max()
    if pd.notna(last) and as_of > last + SIGHT:
        raise WrongUsage(
            f"--as-of {as_of:%Y-%m-%d} lies ahead, too far after the last day on record, {last:%Y-%m-%d}. "
            f"Name a day up to {last + SIGHT:%Y-%m-%d}: what comes later is what the forecast tells."
        )


def write(table: pd.DataFrame, out: Path) -> None:
    """Write the public table by the file's ending; dates as plain dates in text files."""
    with whole_file(out) as fresh:
        if out.suffix.lower() == ".parquet":
            table.to_parquet(fresh, index=False)
            return
        if out.suffix.lower() == ".json":
            fresh.write_text(json.dumps(for_json(table), indent=1, allow_nan=False), encoding="utf-8")
            return
        import pyarrow as pa
        import pyarrow.csv as pacsv

        plain = pa.Table.from_pandas(without_formulas(_plain_dates(table)), preserve_index=False)
        pacsv.write_csv(plain, fresh)


def _plain_dates(table: pd.DataFrame) -> pd.DataFrame:
    plain = table.copy()
    for name in plain.columns[plain.dtypes.astype(str).str.startswith("datetime")]:
        plain[name] = plain[name].to_numpy().astype("datetime64[D]").astype("datetime64[s]")
        plain[name] = pd.array(plain[name].dt.date, dtype=object)
    return plain
