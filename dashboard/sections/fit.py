"""The parts of the page about what must agree: checks across points, tires, driving boxes, inspections."""

import pandas as pd
import streamlit as st

from dashboard.screen import address, data, show
from dashboard.screen.components import month
from dashboard.screen.in_view import InView
from dashboard.services import shop_checks, turnings
from dashboard.services.after_add import MOST_POINTS
from dashboard.services.forecasting import TABLES
from dashboard.words.units_shown import Units
from ingest.errors import UserError
from ingest.units import is_length


def _tables(version: int, vehicle: str) -> dict[str, pd.DataFrame]:
    """The tables of a version; of one vehicle, if one is named."""
    tables = {name: data.table(name, version) for name in TABLES}
    return shop_checks.of_vehicle(tables, vehicle) if vehicle else tables


@st.cache_data(show_spinner="Checking …", max_entries=24)
def _made(identity: tuple[str, int], run_id: str, what: str, vehicle: str, only: str) -> pd.DataFrame:  # noqa: ARG001
    """A frame of ``dashboard.services.shop_checks``, made once for a forecast.

    From the tables of all vehicles, or of the one named by ``only``.
    """
    tables = _tables(data.run_version(run_id), only)
    if what == "findings":
        return shop_checks.shop_findings(tables)
    if what == "wheels":
        return shop_checks.wheels_ahead(tables, data.store(), run_id)
    if what == "boxes":
        return shop_checks.boxes(tables)
    if what == "due":
        return shop_checks.inspections_due(tables, shop_checks.as_of_dates(tables))
    if what == "condemned":
        return shop_checks.condemned(tables)
    # What a turning takes is learned from the record of all vehicles.
    frame, taken = turnings.tires_ahead(_tables(data.run_version(run_id), ""), data.store(), run_id, vehicle)
    return taken if what == "assumptions" else frame


def too_many(view: InView) -> bool:
    """Whether the store is so large that this is worked out for one vehicle at a time."""
    return len(data.forecast(view.run_id)) > MOST_POINTS


def made(view: InView, what: str, vehicle: str = "") -> pd.DataFrame:
    """A frame of the shop's knowledge, of the vehicle looked at or of all."""
    only = view.vehicle if too_many(view) else ""
    frame = _made(data.identity(), view.run_id, what, vehicle, only)
    if view.vehicle and "vehicle" in frame:
        return frame[frame["vehicle"] == view.vehicle].reset_index(drop=True)
    return frame


def usual(view: InView) -> Units:
    """The units chosen; as on the sheet means the unit that most wear points have."""
    if view.units.length != "sheet":
        return view.units
    lengths = [unit for unit in view.forecast["unit"] if is_length(str(unit))]
    most = pd.Series(lengths).mode()
    inches = len(most) > 0 and most.iloc[0] != "mm"
    return Units("in" if inches else "mm", view.units.distance)


def checks(view: InView) -> None:
    """What the readings of today say of points that must agree, and the chance that wheels part."""
    _condemned(made(view, "condemned"))
    units, findings = usual(view), made(view, "findings")
    _met_or_not(findings["verdict"])
    shown = findings.assign(
        **{name: [units.text(value, "mm") for value in findings[name]] for name in ("found", "limit")}
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
    st.subheader("Will wheels that must agree part?")
    _wheels(made(view, "wheels"))


def _condemned(points: pd.DataFrame) -> None:
    """Wear points of parts that a finding has condemned."""
    if points.empty:
        return
    st.error(f"{len(points)} wear points belong to a part that a finding has condemned and nobody renewed.")
    words = {
        "vehicle": "Vehicle",
        "point": "Wear point",
        "component": "Component",
        "kind": "Finding",
        "date": "Found",
    }
    show.table(points, "condemned", words=words, alt_text="Parts condemned by a finding")


def _met_or_not(verdicts: pd.Series) -> None:
    """How many checks are met, how many are not, and how many cannot be told."""
    total, untold = len(verdicts), int(verdicts.eq("cannot be told").sum())
    unmet = total - untold - int(verdicts.eq("within").sum())
    if unmet:
        st.warning(f"Not met: {unmet} of {total} checks. What would put each right stands beside it.")
    elif total > untold:
        st.success(f"Met: {total - untold} of {total} checks.")
    if untold:
        st.info(
            f"Cannot be told: {untold} of {total} checks. What is missing stands beside each: a "
            "measurement, or a fact about the engine, which *milesleft checks --facts* takes."
        )


def _wheels(ahead: pd.DataFrame) -> None:
    """The chance that wheels which must agree part, by date."""
    if ahead.empty:
        st.markdown("Nothing can be told: no pair of wheels has a forecast.")
        return
    wide = ahead.assign(chance=(100 * ahead["chance"]).round()).pivot_table(
        index=["vehicle", "check", "position"], columns="label", values="chance", sort=False
    )
    words = {"vehicle": "Vehicle", "check": "Check", "position": "Where"} | {
        str(label): f"by {pd.Timestamp(str(label)):%b %Y}" for label in wide.columns
    }
    st.markdown("Of 100 cases, in how many the difference is past its limit by then:")
    show.table(wide.reset_index(), "wheels-ahead", words=words, alt_text="Chance that wheels part, by date")


def tires(view: InView) -> None:
    """Turning policies compared, and what they take as given."""
    vehicles = sorted(view.forecast["vehicle"].unique())
    vehicle = view.vehicle or address.pick(st.selectbox, "Engine", vehicles, "engine")
    try:
        frame, taken = (made(view, what, vehicle) for what in ("tires", "assumptions"))
    except UserError as error:
        st.info(show.plain(error))
        return
    shown = frame.assign(
        **{
            name: [_far(view, miles) for miles in frame[name]]
            for name in ("miles_p05", "miles_p50", "next_turning_p50")
        },
        stop=(100 * frame["out_of_season"]).round(),
    )
    words = {
        "matched_set": "Set",
        "tires": "Tires",
        "policy": "Turned",
        "miles_p05": "Scrap, 1 in 20 within",
        "miles_p50": "Scrap, half within",
        "turnings_p50": "Turnings left",
        "next_turning_p50": "Next turning, half within",
        "stop": "Of 100, turned in mid-season",
    }
    st.markdown("How far the tires go until they are scrap, by when they are turned:")
    show.table(shown, f"tires-{vehicle}", words=words, alt_text="Turning policies compared")
    with st.expander("Taken as given"):
        words = {
            "assumption": "What",
            "value": "Value",
            "unit": "Unit",
            "meaning": "Meaning",
            "source": "Source",
        }
        show.table(taken, "turning-assumptions", words=words, alt_text="Assumptions of the turnings")


def _far(view: InView, miles: float) -> str:
    return "no more" if miles == float("inf") else view.units.within_text(miles)


def boxes(view: InView) -> None:
    """What each driving box would need if its journal were trued today."""
    units, frame = usual(view), made(view, "boxes")
    if frame.empty:
        st.info("No driving box has readings of both journal and crown brass.")
        return
    lengths = ("journal", "journal_after", "bore_after", "crown", "crown_bored", "crown_least")
    shown = frame.assign(**{name: [units.text(value, "mm") for value in frame[name]] for name in lengths})
    words = {
        "vehicle": "Vehicle",
        "position": "Box",
        "advice": "Advice",
        "journal": "Journal",
        "journal_after": "after truing",
        "bore_after": "Bore then",
        "crown": "Crown",
        "crown_bored": "Crown bored",
        "crown_least": "Least crown",
    }
    st.markdown("If the journal were trued today: is there crown enough to bore, or is a lining needed?")
    show.table(shown, "boxes", words=words, alt_text="Driving boxes after truing the journals")


def inspections(view: InView) -> None:
    """Inspections that fall due by service days or by the calendar."""
    frame = made(view, "due")
    unknown = frame["due"].isna().sum()
    if unknown:
        st.info(
            f"{unknown} inspections have no last date on record. Add each as a finding whose component is "
            "the inspection's name, and its due date is told."
        )
    shown = frame.assign(
        when=[month(day) or "cannot be told" for day in frame["due"]],
        service_days_left=[f"{days:,.0f}" if pd.notna(days) else "–" for days in frame["service_days_left"]],
    )
    words = {
        "vehicle": "Vehicle",
        "title": "Inspection",
        "when": "Due",
        "state": "State",
        "last_done": "Last done",
        "service_days_left": "Service days left",
        "decided_by": "Decided by",
        "source": "Source",
    }
    show.table(shown, "inspections", words=words, alt_text="Inspections and when they fall due")
