"""``milesleft new-vehicle``: the sheet of wear points of a whole running gear, to edit and load."""

from io import BytesIO
from pathlib import Path
from typing import Any

import click
import pandas as pd

from dashboard.console.options import FilePath, check_out, print_json
from dashboard.services.own_figures import facts_of, read_own
from dashboard.words.cautions import LIMITS_CAUTION, LOOK_UP
from dashboard.words.records import as_records
from ingest.catalogue import Governing, governing, limit_sets, with_kind
from ingest.catalogue.governing import KIND, NONE, title_of
from ingest.catalogue.known_facts import known_fact
from ingest.catalogue.recognised import recognised, recognised_lines
from ingest.catalogue.running_gear import Vehicle, wear_points
from ingest.errors import WrongUsage
from ingest.layouts.headings import NOTE
from ingest.names.arrangement import format_whyte, parse_arrangement, parse_tender
from ingest.neutral import without_formulas
from ingest.writing import TEXTS_STAY, write_whole

_GROUPS = ("engine truck", "driver", "trailing truck", "tender")
_FACTS = {
    "axle_load": "axle_load_lb",
    "tender_axle_load": "tender_axle_load_lb",
    "wheel_center": "center_in",
    "wheel": "wheel_mm",
    "carrying_wheel": "carrying_wheel_mm",
    "track_gage": "track_gage_in",
    "main_axle": "main_axle",
    "truck_center": "truck_center",
    "gauge": "gauge",
}
"""Option and the fact that it states."""


@click.command()
@click.option("--vehicle", "name", required=True, help="Name or number of the vehicle.")
@click.option("--arrangement", default="", help="Wheel arrangement: 4-8-2 (Whyte) or 2'D1' (UIC).")
@click.option("--rigid", is_flag=True, help="Two groups of drivers stand in one rigid frame.")
@click.option("--tender", default="", help="Axles of the tender: 2'2' (two trucks), 3 (fixed).")
@click.option(
    "--limits",
    "limit_set",
    default="",
    help="Published limits: us-cfr-230, de-ebo, at-eisbbbv; none for the railway's own only. Left out: those "
    "of the country, else us-cfr-230.",
)
@click.option("--country", default="", help="Country whose rules govern it: United States, Germany, Austria.")
@click.option("--axle-load", type=float, help="Weight on drivers over pairs of driving wheels. [lb]")
@click.option("--tender-axle-load", type=float, help="Load of one tender axle. [lb]")
@click.option("--wheel-center", type=float, help="Diameter of the driving wheel centers. [in]")
@click.option("--wheel", type=float, help="Diameter of the driving wheels over the tread. [mm]")
@click.option("--carrying-wheel", type=float, help="Diameter of the wheels that nothing drives. [mm]")
@click.option("--main-axle", type=int, help="Driver that the main rods turn, from the front of its group.")
@click.option("--truck-center", type=click.Choice(["swing", "rigid"]), help="Center of the engine truck.")
@click.option("--gauge", type=click.Choice(["standard", "narrow"]), default="standard", show_default=True)
@click.option("--track-gage", type=float, help="Track gage, where it is not standard. [in]")
@click.option("--plain", multiple=True, type=int, help="Driver with tires without flanges; may be repeated.")
@click.option(
    "--solid",
    multiple=True,
    type=click.Choice([*_GROUPS, "none"]),
    default=("engine truck", "trailing truck", "tender"),
    show_default=True,
    help="Group whose wheels have no tires; may be repeated; none for tires everywhere.",
)
@click.option("--roller", multiple=True, type=click.Choice(_GROUPS), help="Group in roller bearings.")
@click.option(
    "--valve-gear",
    type=click.Choice(["walschaerts", "baker", "stephenson", "other"]),
    default="walschaerts",
    show_default=True,
)
@click.option("--inside", type=click.IntRange(0, 2), default=0, help="Cylinders between the frames.")
@click.option("--class", "vehicle_class", default="", help="Class: vehicles of one class wear alike.")
@click.option("--fact", "facts", multiple=True, help="Anything else a limit depends on: service=domestic.")
@click.option(
    "--own",
    type=FilePath(exists=True, dir_okay=False),
    help="Sheet of the railway's own figures: component, quantity, bound, value, unit, tier, source.",
)
@click.option("--out", type=FilePath(dir_okay=False), help="FILE.xlsx or FILE.csv.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def command(**options: Any) -> None:  # noqa: ANN401
    """Write the sheet of wear points for a wheel arrangement, limits filled where texts give them.

    Edit it in a spreadsheet and load it with 'milesleft add'. A limit that no text gives is left empty; the
    column limit_source says who sets it.
    """
    if options["out"] is not None:
        check_out(options["out"], (".xlsx", ".csv"))
    law = _governing(options)
    vehicle = _vehicle(options, law.limit_set)
    points = wear_points(vehicle, read_own(options["own"], vehicle.limit_set))
    out = options["out"] or Path(f"{vehicle.name}-wear-points.xlsx".replace("/", "-"))
    sheets = {
        "wear_points": points,
        "vehicles": _vehicles(vehicle, options["vehicle_class"]),
        "facts": _facts(vehicle, law, options),
    }
    written = _write(out, sheets)
    kinds = recognised(points, {vehicle.name: vehicle.limit_set})
    if options["as_json"]:
        print_json(
            {
                "files": [str(path) for path in written],
                **_counts(points),
                "governing": vars(law),
                "recognised": as_records(kinds),
            }
        )
    elif not options["quiet"]:
        click.echo(_as_text(points, written, law, kinds))


def _governing(options: dict[str, Any]) -> Governing:
    """The catalogue: as stated, else by the country, else the first one, which is said."""
    known = [*limit_sets()["limit_set"], NONE]
    if options["limit_set"] and options["limit_set"] not in known:
        raise WrongUsage(f"--limits {options['limit_set']!r} is not known. Known are {', '.join(known)}.")
    stated = {"limit_set": options["limit_set"], "country": options["country"], "kind": _kind(options)}
    if options["limit_set"] or options["country"]:
        return governing(stated)
    return Governing(
        known[0], "not known", f"{title_of(known[0])} (taken, as no --country and no --limits is stated)"
    )


def _kind(options: dict[str, Any]) -> str:
    return KIND if options["arrangement"] else "tender"


def _vehicle(options: dict[str, Any], limit_set: str) -> Vehicle:
    stated = {fact: options[option] for option, fact in _FACTS.items() if options[option] is not None}
    arrangement = options["arrangement"]
    tender = options["tender"]
    return Vehicle(
        name=options["name"],
        arrangement=parse_arrangement(arrangement, rigid=options["rigid"]) if arrangement else None,
        tender=parse_tender(tender) if tender else (),
        limit_set=limit_set,
        facts=with_kind({"kind": _kind(options), **stated, **facts_of(options["facts"])}),
        solid=tuple(group for group in options["solid"] if group != "none"),
        roller=tuple(options["roller"]),
        plain=tuple(options["plain"]),
        valve_gear=options["valve_gear"],
        inside=options["inside"],
        fixed_tender=bool(tender) and "'" not in tender.translate(str.maketrans("′’", "''")),
    )


def _vehicles(vehicle: Vehicle, vehicle_class: str) -> pd.DataFrame:
    arrangement = format_whyte(vehicle.arrangement) if vehicle.arrangement else ""
    return pd.DataFrame(
        [{"vehicle": vehicle.name, "name": "", "arrangement": arrangement, "class": vehicle_class}]
    )


def _facts(vehicle: Vehicle, law: Governing, options: dict[str, Any]) -> pd.DataFrame:
    """What was stated of the vehicle, so that everything else knows it too: a sheet of the table of facts."""
    stated = {"limit_set": law.limit_set or NONE, "country": options["country"], "kind": _kind(options)}
    stated |= {fact: options[option] for option, fact in _FACTS.items()}
    stated |= {name: str(value) for name, value in facts_of(options["facts"]).items()}
    rows = []
    for name, value in stated.items():
        known = known_fact(name)
        if known is not None and value not in (None, ""):
            written = f"{value:g}" if isinstance(value, int | float) else str(value)
            rows.append([vehicle.name, known.fact, written, known.unit, "stated to milesleft new-vehicle"])
    if law.how == "not known":
        rows = [row for row in rows if row[1] != "governing catalogue"]
    return pd.DataFrame(rows, columns=["vehicle", "fact", "value", "unit", "source"])


def _write(out: Path, sheets: dict[str, pd.DataFrame]) -> list[Path]:
    if out.suffix.lower() == ".xlsx":
        write_whole(out, _workbook(sheets))
        return [out]
    beside = {"wear_points": "", "vehicles": "-vehicle", "facts": "-facts"}
    paths = {name: out.with_name(f"{out.stem}{end}{out.suffix}") for name, end in beside.items()}
    for name, path in paths.items():
        write_whole(path, without_formulas(sheets[name]).to_csv(index=False).encode())
    return list(paths.values())


def _workbook(sheets: dict[str, pd.DataFrame]) -> bytes:
    made = BytesIO()
    with pd.ExcelWriter(made, engine="xlsxwriter", engine_kwargs={"options": TEXTS_STAY}) as book:
        for name, frame in sheets.items():
            without_formulas(frame).to_excel(book, sheet_name=name, index=False)
            sheet = book.sheets[name]
            sheet.freeze_panes(1, 1)
            sheet.autofit()
        words = pd.DataFrame({NOTE: [LIMITS_CAUTION, LOOK_UP, "Sources of the limits:", *_sources(sheets)]})
        words.to_excel(book, sheet_name=NOTE.capitalize(), index=False)
        wrapped = book.book.add_format({"text_wrap": True, "valign": "top"})
        book.sheets[NOTE.capitalize()].set_column(0, 0, 90, wrapped)
    return made.getvalue()


def _sources(sheets: dict[str, pd.DataFrame]) -> list[str]:
    """Where the limits of the sheet stand, each once, as the column limit_source says beside them."""
    points = sheets["wear_points"]
    return sorted(set(points.loc[points["condemning_limit"].notna(), "limit_source"].astype(str)))


def _counts(points: pd.DataFrame) -> dict[str, int]:
    has = points["condemning_limit"].notna()
    strictest = has & points["limit_source"].str.contains("strictest row taken")
    checks = points["limit_source"].str.startswith("no limit of its own")
    return {
        "wear_points": len(points),
        "with_limit": int(has.sum()),
        "strictest_taken": int(strictest.sum()),
        "for_checks": int(checks.sum()),
        "yours_to_set": int((~has & ~checks).sum()),
        "without_new_value": int((points["new_value"].isna() & ~checks).sum()),
    }


def _as_text(points: pd.DataFrame, written: list[Path], law: Governing, kinds: pd.DataFrame) -> str:
    counts = _counts(points)
    lines = [
        f"{counts['wear_points']:,} wear points written to {', '.join(str(path) for path in written)}.",
        f"  Governing catalogue: {law.text}.",
        f"  {counts['with_limit']:,} have a limit; the column limit_source says where it stands.",
        f"  {counts['yours_to_set']:,} have no limit in the texts: the railway sets its own (column "
        "limit_source says why).",
        f"  {counts['for_checks']:,} are measured for the checks across points.",
    ]
    if counts["without_new_value"]:
        lines.append(
            f"  {counts['without_new_value']:,} have no new value: fill it in; wear is counted from it."
        )
    if counts["strictest_taken"]:
        lines.append(
            f"  {counts['strictest_taken']:,} took the strictest row, because a fact was not stated."
        )
    lines += ["What they were recognised as:", *(f"  {line}" for line in recognised_lines(kinds))]
    names = " ".join(f"'{path}'" if " " in str(path) else str(path) for path in written)
    lines.append(f"Edit the sheet, then load it: milesleft add {names}")
    alone = " The files hold the limits alone: pass these words on with them." if len(written) > 1 else ""
    lines.append(f"{LIMITS_CAUTION}{alone}")
    return "\n".join(lines)
