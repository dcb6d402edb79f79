"""What the checks across wear points say, in lines for people."""

import pandas as pd

from dashboard.words.records import as_records
from ingest.units import from_base

CAUTION = "Checks support and never replace inspection by qualified people; the governing rules decide."


def checks_text(findings: pd.DataFrame, condemned: pd.DataFrame, boxes: pd.DataFrame) -> str:
    """Checks not met, parts out by a finding and boxes after a truing, as people read them."""
    lines = []
    for verdict, rows in findings.groupby("verdict", sort=False):
        lines.append(f"\n{str(verdict).capitalize()}:")
        lines += [finding_text(row) for row in as_records(rows)]
    if not condemned.empty:
        lines.append("\nOut by a finding, whatever the miles:")
        for row in as_records(condemned):
            where = "" if row["located"] else " (the finding names no position: which one is it?)"
            lines.append(f"  {row['point']}: {row['kind']}, {row['note']}, {row['paragraph']}{where}")
    if not boxes.empty:
        lines.append("\nIf the journal were trued today:")
        lines += [_box(row) for row in as_records(boxes)]
    lines = lines or ["Nothing found. --all shows what is within its limit."]
    return "\n".join([*lines, "", CAUTION]).lstrip("\n")


def no_inspections_text(catalogue: str) -> str:
    """Why no inspection of a vehicle is listed."""
    return f"no inspection intervals in the catalogue; governing catalogue {catalogue}. Keep them by hand."


def finding_text(row: dict[str, object]) -> str:
    """One finding in two lines: where, what, limit; then how it was found, source and what puts it right."""
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
