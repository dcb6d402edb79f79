"""``milesleft checks``: what no single reading shows, what findings condemned, what truing would need."""

from pathlib import Path

import click
import pandas as pd

from dashboard.console.options import Day, FilePath, common_options, print_json
from dashboard.services.engine_facts import Stated
from dashboard.services.own_figures import facts_of, facts_sheet, read_own, read_sheet
from dashboard.services.shop_checks import (
    boxes,
    condemned,
    fitted_now,
    of_one_vehicle,
    of_vehicle,
    shop_findings,
)
from dashboard.words.checks_text import checks_text
from dashboard.words.records import as_records
from dashboard.words.units_shown import railway_units
from ingest import catalogue
from ingest.errors import NotPossible
from ingest.store import Store
from models.checks.findings_frame import WITHIN

TABLES = (
    "vehicles",
    "wear_points",
    "mileage",
    "readings",
    "work",
    "findings",
    "position_aliases",
    "facts",
    "defects",
    "parts",
    "fittings",
)


@click.command()
@click.option("--vehicle", default="", help="Only this vehicle.")
@click.option("--as-of", type=Day(), help="Use readings up to this day only.")
@click.option(
    "--fact", "facts", multiple=True, help="What a limit depends on: axle_load_lb=52000, main_axle=2."
)
@click.option(
    "--facts",
    "sheet",
    type=FilePath(exists=True, dir_okay=False),
    help="Sheet of facts by vehicle: vehicle, fact, value.",
)
@click.option(
    "--own",
    type=FilePath(exists=True, dir_okay=False),
    help="Sheet of the railway's own figures; component 'check' for a check: tram, bushing interference, ...",
)
@click.option(
    "--assume",
    type=FilePath(exists=True, dir_okay=False),
    help="Sheet of own assumptions for truing: assumption, value.",
)
@click.option("--all", "everything", is_flag=True, help="Also what is within its limit.")
@common_options
def command(
    vehicle: str,
    as_of: pd.Timestamp | None,
    facts: tuple[str, ...],
    sheet: Path | None,
    own: Path | None,
    assume: Path | None,
    everything: bool,
    db: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """Check wear points against each other and their limits against the law.

    Diameters on one axle and between coupled axles, back to back, rods against axle spacing, clearances,
    press fits; the sheet's limits against the law; parts that a finding has condemned; boxes after a truing.
    """
    day = None if as_of is None else pd.Timestamp(as_of)
    tables = _tables(Store(db), vehicle, day)
    stated = Stated(facts_of(facts), facts_sheet(sheet), read_own(own, ""))
    findings = shop_findings(tables, stated, day)
    findings = findings if everything else findings[findings["verdict"] != WITHIN]
    condemned_points = condemned(tables, stated)
    assumptions = None if assume is None else read_sheet(assume)
    box_rows, assumed = boxes(tables, assumptions, day), catalogue.assumptions("crown", own=assumptions)
    box_rows = box_rows if everything else box_rows[box_rows["advice"] != "bore the brass"]
    units = railway_units(tables["wear_points"])
    if as_json:
        frames = {"checks": findings, "condemned": condemned_points, "boxes": box_rows, "assumed": assumed}
        print_json({name: as_records(frame) for name, frame in frames.items()})
    elif not quiet:
        click.echo(checks_text(findings, condemned_points, box_rows, assumed, units))


def _tables(store: Store, vehicle: str, day: pd.Timestamp | None) -> dict[str, pd.DataFrame]:
    tables = store.read_all(*TABLES)
    points = tables["wear_points"]
    if points.empty:
        raise NotPossible(f"'{store.path}' holds no wear points. Add a sheet first: 'milesleft add FILE'.")
    if not vehicle:
        return tables
    of_one_vehicle(points, vehicle)  # says so where it has none
    return of_vehicle(fitted_now(tables, day), vehicle)
