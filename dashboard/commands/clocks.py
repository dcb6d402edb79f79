"""``milesleft clocks``: inspections that fall due by service days and by the calendar."""

from pathlib import Path

import click
import pandas as pd

from dashboard.console.options import common_options, print_json
from dashboard.services.shop_checks import as_of_dates, inspections_due, without_inspections
from dashboard.words.checks_text import inspection_head, inspection_reasons, no_inspections_text
from dashboard.words.records import as_records, for_json
from ingest.catalogue import clocks
from ingest.errors import NotPossible, WrongUsage
from ingest.notation.dates import day_asked
from ingest.store import Store

TABLES = ("vehicles", "wear_points", "mileage", "usage", "findings", "facts")


@click.command()
@click.option("--vehicle", default="", help="Only this vehicle.")
@click.option(
    "--done",
    multiple=True,
    help="Inspection done: NAME=DATE, as in annual=2025-03-01; or record it as a finding of that component.",
)
@common_options
def command(vehicle: str, done: tuple[str, ...], db: Path, quiet: bool, as_json: bool) -> None:
    """Inspections that fall due: service days from the mileage log, dates from planned usage."""
    tables = Store(db).read_all(*TABLES)
    as_of = as_of_dates(tables, [vehicle] if vehicle else None)
    if as_of.empty:
        raise NotPossible(
            f"'{db}' holds no mileage log{f' of {vehicle!r}' if vehicle else ''}. Add one first."
        )
    table = inspections_due(tables, as_of, _done(done, list(as_of.index)))
    if as_json:
        print_json(for_json(table))
    elif not quiet:
        click.echo(_as_text(table, without_inspections(tables, as_of)))


def _done(stated: tuple[str, ...], vehicles: list[str]) -> pd.DataFrame:
    known = list(clocks()["clock"])
    rows = []
    for text in stated:
        name, _, date = text.rpartition("=")
        if name not in known:
            raise WrongUsage(f"--done {text!r}: expected NAME=DATE with one of {', '.join(known)}.")
        try:
            day = pd.Timestamp(day_asked(date))
        except WrongUsage as error:
            raise WrongUsage(f"--done {text!r}: {error}") from None
        rows += [(vehicle, name, day) for vehicle in vehicles]
    frame = pd.DataFrame(rows, columns=["vehicle", "clock", "date"])
    return frame.astype({"date": "datetime64[us]"})


def _as_text(table: pd.DataFrame, without: dict[str, str]) -> str:
    lines = [f"{vehicle}: {no_inspections_text(why)}" for vehicle, why in without.items()]
    for row in as_records(table):
        due = "-" if row["due"] is None else f"{pd.Timestamp(str(row['due'])):%Y-%m-%d}"
        lines += [inspection_head(row, due), f"    {inspection_reasons(row)}"]
    lines.append("\nThe governing rules decide; look an interval up in its text before use.")
    return "\n".join(lines)
