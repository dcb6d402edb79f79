"""``milesleft checks``: what no single reading shows, what findings condemned, what truing would need."""

from pathlib import Path

import click
import pandas as pd

from dashboard.commands.common import as_records, common_options, print_json
from dashboard.own_figures import facts_of, facts_sheet, read_own, read_sheet
from dashboard.shop_checks import Stated, boxes, condemned, of_vehicle, shop_findings
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.units import from_base
from models.findings_frame import WITHIN

TABLES = ("vehicles", "wear_points", "mileage", "readings", "work", "findings", "position_aliases")
CAUTION = "Checks support and never replace inspection by qualified people; the governing rules decide."


@click.command()
@click.option("--vehicle", default="", help="Only this vehicle.")
@click.option("--as-of", type=click.DateTime(["%Y-%m-%d"]), help="Believe readings up to this day only.")
@click.option(
    "--fact", "facts", multiple=True, help="What a limit hangs on: axle_load_lb=52000, main_axle=2."
)
@click.option(
    "--facts",
    "sheet",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Sheet of facts by vehicle: vehicle, fact, value.",
)
@click.option(
    "--own",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Sheet of the railway's own figures; component 'check' for a check: tram, bushing interference, ...",
)
@click.option(
    "--assume",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
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
    tables = _tables(Store(db), vehicle)
    stated = Stated(facts_of(facts), facts_sheet(sheet), read_own(own, ""))
    day = None if as_of is None else pd.Timestamp(as_of)
    found = shop_findings(tables, stated, day)
    found = found if everything else found[found["verdict"] != WITHIN]
    out = condemned(tables)
    trued = boxes(tables, None if assume is None else read_sheet(assume), day)
    trued = trued if everything else trued[trued["advice"] != "bore the brass"]
    if as_json:
        frames = {"checks": found, "condemned": out, "boxes": trued}
        print_json({name: as_records(frame) for name, frame in frames.items()})
    elif not quiet:
        click.echo(_as_text(found, out, trued))


def _tables(store: Store, vehicle: str) -> dict[str, pd.DataFrame]:
    tables = store.read_all(*TABLES)
    points = tables["wear_points"]
    if points.empty:
        raise NotPossible(f"'{store.path}' holds no wear points. Add a sheet first: 'milesleft add FILE'.")
    if not vehicle:
        return tables
    if not (points["vehicle"] == vehicle).any():
        known = ", ".join(sorted(points["vehicle"].astype(str).unique())[:20])
        raise NotPossible(f"No wear point belongs to the vehicle {vehicle!r}. In the store: {known}.")
    return of_vehicle(tables, vehicle)


def _as_text(found: pd.DataFrame, out: pd.DataFrame, trued: pd.DataFrame) -> str:
    lines = []
    for verdict, rows in found.groupby("verdict", sort=False):
        lines.append(f"\n{str(verdict).capitalize()}:")
        lines += [finding_text(row) for row in as_records(rows)]
    if not out.empty:
        lines.append("\nOut by a finding, whatever the miles:")
        for row in as_records(out):
            where = "" if row["located"] else " (the finding names no position: which one is it?)"
            lines.append(f"  {row['point']}: {row['kind']}, {row['note']}, {row['paragraph']}{where}")
    if not trued.empty:
        lines.append("\nIf the journal were trued today:")
        lines += [_box(row) for row in as_records(trued)]
    lines = lines or ["Nothing found. --all shows what is within its limit."]
    return "\n".join([*lines, "", CAUTION]).lstrip("\n")


def finding_text(row: dict[str, object]) -> str:
    """One finding in two lines: where, what, limit; then how it was told, source and what puts it right."""
    place = str(row["position"]).removeprefix(f"{row['vehicle']} ") or row["points"]
    where = f"{row['vehicle']} {place}"
    figures = "" if row["found"] is None else f" {_figure(row['found'], row['base_unit'])}"
    limit = "" if row["limit"] is None else f" ({row['bound']} {_figure(row['limit'], row['base_unit'])})"
    words = "; ".join(str(row[name]) for name in ("detail", "source", "remedy") if row[name])
    return f"  {where}, {row['check']}:{figures}{limit}\n      {words}"


def _figure(value: object, unit: object) -> str:
    number = float(str(value))
    if unit == "mm":
        return f"{round(from_base(number, 'in'), 5):g} in [{number:.2f} mm]"
    return f"{number:.5g} {'' if unit == '1' else unit}".strip()


def _box(row: dict[str, object]) -> str:
    keys = ("journal", "journal_after", "bore_after", "crown", "crown_bored", "lining")
    values = {key: f"{from_base(float(str(row[key])), 'in'):.3f}" for key in keys}
    return (
        f"  {row['vehicle']} {row['position']}: {row['advice']}. Journal {values['journal']} to "
        f"{values['journal_after']} in, bore {values['bore_after']} in; crown {values['crown']} in, bored "
        f"{values['crown_bored']} in, lining {values['lining']} in (bore {row['how_bore']})"
    )
