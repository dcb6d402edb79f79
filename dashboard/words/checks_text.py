"""What the checks across wear points say, in lines for people: the command's and the page's alike."""

from collections.abc import Callable

import pandas as pd

from dashboard.words.cautions import CHECKS_CAUTION
from dashboard.words.records import as_records
from dashboard.words.units_shown import RailwayUnits, figure_in
from ingest.units import is_length
from models.checks.findings_frame import CONDEMNED, LAXER, NOT_FIT, PAST, UNTOLD, WITHIN

HEADS = {
    CONDEMNED: "Condemned: past a limit of the law or the railway",
    PAST: "Past its limit, as far as it was measured",
    LAXER: "The sheet's limit is laxer than the law",
    NOT_FIT: "Past a shop limit: not fit to leave the shop",
    UNTOLD: "Cannot be told: a measurement or a fact is missing",
    WITHIN: "Within its limit",
}
"""What each verdict means, from the worst to the best."""
BORE = {
    "measured": "bore measured",
    "from the clearance": "bore worked out from the clearance",
    "running clearance assumed": "bore not measured: the running clearance is assumed",
}
"""How the bore of a brass was come by."""

RECORD_DECIDES = (
    "The railway's own record of turnings decides; where it says little or nothing, an assumption fills in."
)
"""Stands over the figures of a turning."""

Figure = Callable[[object, object], str]


def checks_text(
    findings: pd.DataFrame,
    condemned: pd.DataFrame,
    boxes: pd.DataFrame,
    assumed: pd.DataFrame,
    units: RailwayUnits,
) -> str:
    """Checks, parts out by a finding and boxes after a truing, as people read them, the worst first; each
    vehicle's in its own ``units``."""
    lines, railway = [], figure_in(units.railway)
    if not condemned.empty:
        lines.append("\nOut by a finding, whatever the miles:")
        lines += [f"  {condemned_text(row)}" for row in as_records(condemned)]
    for verdict, rows in findings.groupby("verdict", sort=False):
        lines.append(f"\n{HEADS[str(verdict)]}:")
        lines += [finding_text(row, units) for row in as_records(rows)]
    if not boxes.empty:
        lines.append("\nIf the journal were trued today:")
        for row in as_records(boxes):
            lines.append(f"  {box_head(row)}. {box_figures(row, figure_in(units.of(row['vehicle'])))}")
        lines += ["  Assumed:", *(f"    {assumption_text(row, railway)}" for row in as_records(assumed))]
    lines = lines or ["Nothing found. --all shows what is within its limit."]
    return "\n".join([*lines, "", CHECKS_CAUTION]).lstrip("\n")


def no_inspections_text(catalogue: str) -> str:
    """Why no inspection of a vehicle is listed."""
    return f"no inspection intervals in the catalogue; governing catalogue {catalogue}. Keep them by hand."


def condemned_text(row: dict[str, object]) -> str:
    """One part that a finding has put out, with what the finding said and by which rule."""
    where = "" if row["located"] else " (the finding names no position: which one is it?)"
    return f"{row['point']}: {row['kind']}, {row['note']}, {row['paragraph']}{where}"


def finding_text(row: dict[str, object], units: RailwayUnits) -> str:
    """One finding in two lines: where, what, limit; then how it was found, source and what puts it right."""
    return f"  {finding_head(row, units)}\n      {finding_reasons(row)}"


def finding_head(row: dict[str, object], units: RailwayUnits) -> str:
    """Where, which check, what was found and its limit, in the units of the vehicle."""
    figure = figure_in(units.of(row["vehicle"]))
    place = str(row["position"]).removeprefix(f"{row['vehicle']} ") or row["points"]
    figures = "" if row["found"] is None else f" {figure(row['found'], row['base_unit'])}"
    limit = "" if row["limit"] is None else f" ({row['bound']} {figure(row['limit'], row['base_unit'])})"
    return f"{row['vehicle']} {place}, {row['check']}:{figures}{limit}"


def finding_reasons(row: dict[str, object]) -> str:
    """How it was found, the source of the limit, and what would put it right."""
    found = "; ".join(str(row[name]) for name in ("detail", "source") if row[name])
    return ". ".join(text for text in (found, str(row["remedy"] or "")) if text)


def by_source(taken: pd.DataFrame) -> list[tuple[str, pd.DataFrame]]:
    """Figures of a turning: those learned from the railway's record, those assumed; a group without rows is
    left out. ``taken``: as ``models.tires.learned.with_record`` gives it."""
    learned = taken["turnings"] > 0
    groups = [
        ("From the railway's own record of turnings", taken[learned]),
        ("Assumed, or from the text named", taken[~learned]),
    ]
    return [(words, rows) for words, rows in groups if len(rows)]


def assumption_text(row: dict[str, object], figure: Figure) -> str:
    """One assumption with its value and source, and where a record was laid beside it, what it is without;
    ``figure`` words a value with its unit."""
    value = _stated(row["value"], row["unit"], figure)
    without = row.get("assumed")  # no figure: nothing was laid beside it
    if without is not None:
        value += f" (without that record {_stated(without, row['unit'], figure)})"
    return f"{row['meaning']}: {value} [{row['source']}]"


def _stated(value: object, unit: object, figure: Figure) -> str:
    words = figure(value, unit) if is_length(str(unit)) else f"{value:g} {unit}"
    return words.removesuffix(" 1")


def inspection_head(row: dict[str, object], day: str) -> str:
    """Which inspection of which vehicle falls due, by what, and what is left; ``day`` words the date."""
    left, last, by = row["service_days_left"], row["last_done"], row["decided_by"]
    days = "" if left is None else f", {float(str(left)):,.0f} service days left"
    since = "" if last is None else f", last {pd.Timestamp(str(last)):%Y-%m-%d}"
    by_what = f"by {by}" if by else ""
    state = f"{row['state']} {by_what}".strip()
    if row["overdue_since"] is not None:
        day, state = overdue_words(row["overdue_since"]), by_what
    return f"{day}: {row['vehicle']}, {row['title']}: {state}{days}{since}"


def overdue_words(since: object) -> str:
    """Since when an inspection is overdue."""
    return f"overdue since {pd.Timestamp(str(since)):%Y-%m-%d}"


def inspection_reasons(row: dict[str, object]) -> str:
    """Source of an interval and what was noted beside it."""
    return "; ".join(str(row[name]) for name in ("source", "note") if row[name])


def box_head(row: dict[str, object]) -> str:
    """Which box, and what to do with its brass."""
    return f"{row['vehicle']} {row['position']}: {row['advice']}"


def box_figures(row: dict[str, object], figure: Figure) -> str:
    """Journal, bore and crown of a box before and after; ``figure`` words a length in mm."""
    keys = ("journal", "journal_after", "bore_after", "crown", "crown_bored", "lining")
    values = {key: figure(row[key], "mm") for key in keys}
    least = row["crown_least"]
    limit = "no least crown is stated" if least is None else f"least crown {figure(least, 'mm')}"
    return (
        f"Journal {values['journal']} to {values['journal_after']}, bore {values['bore_after']}; crown "
        f"{values['crown']}, bored {values['crown_bored']}, {limit}, lining {values['lining']} "
        f"({BORE[str(row['how_bore'])]})"
    )
