"""The parts of the page about what must agree: checks across points, tires, driving boxes, inspections."""

from collections.abc import Hashable
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import InView
from dashboard.services import shop_checks, turnings
from dashboard.services.after_add import MOST_POINTS
from dashboard.services.one_run import TABLES
from dashboard.words.cautions import CHECKS_CAUTION
from dashboard.words.checks_text import (
    HEADS,
    condemned_text,
    finding_head,
    finding_reasons,
)
from dashboard.words.records import as_records
from dashboard.words.units_shown import RailwayUnits, figure_in, railway_units
from models.checks.findings_frame import CONDEMNED, LAXER, NOT_FIT, PAST, UNTOLD, WITHIN


def _tables(version: int, facts_version: int, vehicle: str, as_of: pd.Timestamp) -> dict[str, pd.DataFrame]:
    """The tables of a version; of one vehicle, if one is named, with the readings of what was fitted on a
    day."""
    tables = {name: data.table(name, facts_version if name == "facts" else version) for name in TABLES}
    return shop_checks.of_vehicle(shop_checks.fitted_now(tables, as_of), vehicle) if vehicle else tables


def facts_version(run_id: str) -> int:
    """The version whose facts hold: today's beside the newest forecast, else those of its day."""
    return data.version() if run_id == data.runs("forecast")["run_id"].iloc[0] else data.run_version(run_id)


@st.cache_data(show_spinner="Checking …", max_entries=24)
def _made(
    identity: tuple[str, int],  # noqa: ARG001
    run_id: str,
    what: str,
    vehicle: str,
    only: str,
    facts: int,
    as_of: pd.Timestamp,
) -> pd.DataFrame:
    """A frame of ``dashboard.services.shop_checks``, made once for a forecast.

    From the tables of all vehicles, or of the one named by ``only``.
    """
    tables = _tables(data.run_version(run_id), facts, only, as_of)
    if what == "findings":
        return shop_checks.shop_findings(tables, as_of=as_of)
    if what == "wheels":
        return shop_checks.wheels_ahead(tables, data.store(), run_id)
    if what == "boxes":
        return shop_checks.boxes(tables, as_of=as_of)
    if what == "due":
        return shop_checks.inspections_due(tables, shop_checks.as_of_dates(tables))
    if what == "no inspections":
        without = shop_checks.without_inspections(tables, shop_checks.as_of_dates(tables))
        return pd.DataFrame({"vehicle": list(without), "why": list(without.values())}, dtype=object)
    if what == "condemned":
        return shop_checks.condemned(tables)
    # What a turning takes is learned from the record of all vehicles.
    frame, taken = turnings.tires_ahead(
        _tables(data.run_version(run_id), facts, "", as_of), data.store(), run_id, vehicle
    )
    return taken if what == "assumptions" else frame


def too_many(view: InView) -> bool:
    """Whether the store is so large that this is worked out for one vehicle at a time."""
    return len(data.forecast(view.run_id)) > MOST_POINTS


def made(view: InView, what: str, vehicle: str = "") -> pd.DataFrame:
    """A frame of the shop's knowledge, of the vehicle looked at or of all."""
    only = view.vehicle if too_many(view) else ""
    as_of = data.forecast(view.run_id)["as_of"].max()
    frame = _made(data.identity(), view.run_id, what, vehicle, only, facts_version(view.run_id), as_of)
    if view.vehicle and "vehicle" in frame:
        return frame[frame["vehicle"] == view.vehicle].reset_index(drop=True)
    return frame


def usual(view: InView) -> RailwayUnits:
    """The units chosen; as on the sheet means the unit that most wear points of a vehicle have."""
    return railway_units(view.forecast, view.units)


def checks(view: InView) -> None:
    """What the readings of today say of points that must agree, and the chance that wheels part."""
    _condemned(made(view, "condemned"))
    units, findings = usual(view), made(view, "findings")
    counts(findings["verdict"])
    for verdict, rows in findings.groupby("verdict", sort=False):
        lines = [finding_line(row, units) for row in as_records(rows)]
        if verdict == WITHIN:
            with st.expander(f"{HEADS[WITHIN]}: {len(rows)}"):
                st.markdown("\n".join(lines))
        else:
            st.subheader(f"{HEADS[str(verdict)]}: {len(rows)}")
            st.markdown("\n".join(lines))
    with st.expander("All checks as a table"):
        _findings_table(findings, units)
    st.subheader("How likely is it that wheels come to differ too much?")
    _wheels(made(view, "wheels"))
    st.caption(CHECKS_CAUTION)


def finding_line(row: dict[str, object], units: RailwayUnits) -> str:
    """One finding as a line of a list: the same words as the command's."""
    return line(finding_head(row, units), finding_reasons(row))


def line(head: str, reasons: str) -> str:
    """An entry of a list, which reads on a telephone too: what, and under it why."""
    return f"- **{show.plain(head)}**  \n  {show.plain(reasons)}"


def _findings_table(findings: pd.DataFrame, units: RailwayUnits) -> None:
    shown = findings.assign(
        **{
            name: [
                figure_in(units.of(vehicle))(value, unit)
                for vehicle, value, unit in zip(
                    findings["vehicle"], findings[name], findings["base_unit"], strict=True
                )
            ]
            for name in ("found", "limit")
        }
    )
    words = {
        "vehicle": "Vehicle",
        "check": "Check",
        "position": "Where",
        "verdict": "Verdict",
        "found": "Found",
        "limit": "Limit",
        "remedy": "What would put it right",
        "source": "Source",
        "detail": "How",
    }
    show.table(shown, "checks", words=words, alt_text="Checks across wear points, the worst first")


def _condemned(points: pd.DataFrame) -> None:
    """Wear points of parts that a finding has condemned."""
    if points.empty:
        return
    st.error(f"{len(points)} wear points belong to a part that a finding has condemned and nobody renewed.")
    st.markdown("\n".join(f"- {show.plain(condemned_text(row))}" for row in as_records(points)))


def counts(verdicts: pd.Series) -> None:
    """How many checks have which verdict, the worst first; green only where all are within their limits."""
    total = len(verdicts)
    boxes = {CONDEMNED: st.error, PAST: st.error, LAXER: st.warning, NOT_FIT: st.warning, UNTOLD: st.info}
    for verdict, box in boxes.items():
        count = int(verdicts.eq(verdict).sum())
        if count:
            box(f"**{HEADS[verdict]}**: {count} of {total} checks.")
    within = int(verdicts.eq(WITHIN).sum())
    if total and within == total:
        st.success(f"All {total} checks are within their limits.")
    elif total:
        st.markdown(f"{HEADS[WITHIN]}: {within} of {total} checks.")
    else:
        st.markdown("No check could be made: no two wear points that must agree have a reading.")


def _wheels(ahead: pd.DataFrame) -> None:
    """The chance that wheels which must agree come to differ too much, by date."""
    if ahead.empty:
        st.markdown("Nothing can be told: no pair of wheels has a forecast.")
        return
    wide = ahead.assign(chance=(100 * ahead["chance"]).round()).pivot_table(
        index=["vehicle", "check", "position", "how", "source"], columns="label", values="chance", sort=False
    )
    words = {"vehicle": "Vehicle", "check": "Check", "position": "Where"}
    words |= {str(label): f"by {pd.Timestamp(str(label)):%b %Y}" for label in wide.columns}
    words |= {"how": "How", "source": "Source of the limit"}
    st.markdown("How many times in 100 the difference is past its limit by then:")
    rows = wide.reset_index()
    st.markdown("\n".join(_wheels_line(row, words, list(wide.columns)) for row in rows.to_dict("records")))
    with st.expander("As a table"):
        alt_text = "Chance that wheels differ too much, by date"
        show.table(rows, "wheels-ahead", words=words, alt_text=alt_text)


def _wheels_line(row: dict[Hashable, Any], words: dict[str, str], dates: list[str]) -> str:
    place = str(row["position"]).removeprefix(f"{row['vehicle']} ")
    chances = ", ".join(f"{row[date]:.0f} {words[date]}" for date in dates)
    reasons = "; ".join(str(row[name]) for name in ("how", "source") if row[name])
    return line(f"{row['vehicle']} {place}, {row['check']}: {chances}", reasons)
