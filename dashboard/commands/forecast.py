"""``milesleft forecast``: remaining miles of every wear point, printed, written and kept."""

import json
import time
from pathlib import Path

import click
import pandas as pd

from dashboard.commands.common import common_options, print_json
from dashboard.papers.shortest_lived import as_table
from dashboard.services.forecasting import forecast_and_store
from dashboard.words.records import as_records
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store

ENDINGS = (".csv", ".parquet", ".json")


@click.command(name="forecast")
@click.option("--vehicle", help="Only this vehicle's wear points are shown and written.")
@click.option("--as-of", type=click.DateTime(["%Y-%m-%d"]), help="Believe the records up to this day only.")
@click.option(
    "--version", "version", type=click.IntRange(1), help="From the data as they were at this version."
)
@click.option(
    "--out", type=click.Path(dir_okay=False, path_type=Path), help="Write the table: .csv, .parquet or .json."
)
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
        _check_out(out)
    began = time.perf_counter()
    run, table = forecast_and_store(
        Store(db), None if as_of is None else pd.Timestamp(as_of), version=version, scheduler=scheduler
    )
    table = _of_vehicle(table, vehicle)
    if out is not None:
        write(table, out)
    seconds = time.perf_counter() - began
    if as_json:
        print_json({"run": run, "forecast": records(table)})
    elif not quiet:
        click.echo(as_table(table))
        written = f", written to {out}" if out else ""
        click.echo(f"\n{len(table):,} wear points in {seconds:.1f} s{written} (run {run}).")


def _check_out(out: Path) -> None:
    if out.suffix.lower() not in ENDINGS:
        raise WrongUsage(
            f"--out {out}: '{out.suffix}' is no ending that can be written. Use {', '.join(ENDINGS)}."
        )
    if not out.parent.is_dir():
        raise WrongUsage(f"--out {out}: there is no folder '{out.parent}'. Make it first.")


def _of_vehicle(table: pd.DataFrame, vehicle: str | None) -> pd.DataFrame:
    if vehicle is None:
        return table
    found = table[table["vehicle"] == vehicle]
    if found.empty:
        known = ", ".join(sorted(table["vehicle"].astype(str).unique())[:20])
        raise NotPossible(f"No wear point belongs to the vehicle '{vehicle}'. In the store: {known}.")
    return found


def write(table: pd.DataFrame, out: Path) -> None:
    """Write the public table by the file's ending; dates as plain dates in text files."""
    if out.suffix.lower() == ".parquet":
        table.to_parquet(out, index=False)
        return
    if out.suffix.lower() == ".json":
        out.write_text(json.dumps(records(table), indent=1, allow_nan=False), encoding="utf-8")
        return
    import pyarrow as pa
    import pyarrow.csv as pacsv

    plain = pa.Table.from_pandas(_plain_dates(table), preserve_index=False)
    pacsv.write_csv(plain, out)


def _plain_dates(table: pd.DataFrame) -> pd.DataFrame:
    plain = table.copy()
    for name in plain.columns[plain.dtypes.astype(str).str.startswith("datetime")]:
        plain[name] = plain[name].to_numpy().astype("datetime64[D]").astype("datetime64[s]")
        plain[name] = pd.array(plain[name].dt.date, dtype=object)
    return plain


def records(table: pd.DataFrame) -> list[dict[str, object]]:
    """Rows as dictionaries: dates as text, missing values as None."""
    plain = table.copy()
    for name in plain.columns[plain.dtypes.astype(str).str.startswith("datetime")]:
        plain[name] = plain[name].dt.strftime("%Y-%m-%d")
    return as_records(plain)
