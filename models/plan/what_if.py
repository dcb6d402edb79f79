"""What if: plans side by side, and a plan against what was done."""

from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from models.plan.problem import Floats

FIGURES = {
    "openings": "windows opened to rods down or deeper",
    "wheels_out": "windows with the wheels out",
    "lines": "lines of work",
    "money": "jobs and openings, today's prices",
    "lost_days": "days beyond the windows",
    "labor_hours": "hours of work",
    "thrown_away_money": "worth of the life left in parts renewed",
    "stop_by_end": "chance to stop in mid-season within the years planned",
    "stop_by_two_seasons": "chance to stop in mid-season within two years",
    "late": "wear points not kept within the accepted risk",
}
"""Figures by which plans are compared, and what each is."""


def compare_plans(plans: Mapping[str, Mapping[str, pd.DataFrame]]) -> pd.DataFrame:
    """Figures of several plans side by side.

    Parameters
    ----------
    plans : frames of each plan by name of the plan: windows, scope, late, risk (``planner.Plan.frames``).

    Returns
    -------
    vehicle, figure, what, one column a plan; the figures of ``FIGURES``. A vehicle that a plan does not hold
    has NaN there.
    """
    tables = {name: _figures(frames) for name, frames in plans.items()}
    out = pd.DataFrame(tables)
    out.index.names = ["vehicle", "figure"]
    vehicles = list(dict.fromkeys(out.index.get_level_values("vehicle")))
    order = pd.MultiIndex.from_product([vehicles, FIGURES], names=out.index.names)
    out = out.reindex(order).reset_index()
    out.insert(2, "what", out["figure"].map(FIGURES))
    return out


def against_done(
    scope: pd.DataFrame, work: pd.DataFrame, points: pd.DataFrame, until: pd.Timestamp
) -> pd.DataFrame:
    """A plan against the work on record.

    Parameters
    ----------
    scope : lines of the plan; work : point, date, action of the store; points : point, vehicle.
    until : day up to which the record is complete; windows that close later are not judged yet.

    Returns
    -------
    vehicle, label, job, point, planned (opening day), done (date, NaT), verdict: done in its window / done
    early / done late / not done / not yet due / done, not planned. One row a wear point of a line, and one
    for each renewal or cut on record that no line foresaw since the plan's first window.
    """
    lines = scope[["vehicle", "label", "job", "opens", "closes", "points"]].explode("points")
    lines = lines.rename(columns={"points": "point", "opens": "planned"}).dropna(subset=["point"])
    lines = lines.sort_values(["point", "planned"], ignore_index=True)
    record = work.dropna(subset=["date"]).sort_values("date")
    since = lines["planned"].min() if len(lines) else until
    dates = {str(name): done["date"].tolist() for name, done in record.groupby("point")}
    rows: list[dict[Hashable, Any]] = []
    used: set[tuple[str, pd.Timestamp]] = set()
    for line in lines.to_dict("records"):
        name = str(line["point"])
        free = [day for day in dates.get(name, []) if (name, day) not in used]
        done, verdict = _verdict(line["planned"], line["closes"], free, until)
        if done is not None:
            used.add((name, done))
        rows.append(line | {"done": done, "verdict": verdict})
    vehicle_of = points.set_index("point")["vehicle"]
    planned_for = set(scope["vehicle"])
    for name, days in dates.items():
        for day in days:
            if (
                day >= since - pd.Timedelta(days=90)
                and (name, day) not in used
                and vehicle_of.get(name) in planned_for
            ):
                more: dict[Hashable, Any] = {"vehicle": vehicle_of[name], "point": name, "planned": pd.NaT}
                rows.append(more | {"label": "", "job": "", "done": day, "verdict": "done, not planned"})
    columns = ["vehicle", "label", "job", "point", "planned", "done", "verdict"]
    return pd.DataFrame(rows, columns=columns).astype({"planned": "datetime64[us]", "done": "datetime64[us]"})


def _verdict(
    opens: pd.Timestamp, closes: pd.Timestamp, days: Sequence[pd.Timestamp], until: pd.Timestamp
) -> tuple[pd.Timestamp | None, str]:
    """The day that serves a line (the one nearest to its window, half a year around it) and how that is to be
    read."""
    near = [day for day in days if opens - pd.Timedelta(days=180) <= day <= closes + pd.Timedelta(days=180)]
    if not near:
        return None, "not done" if closes <= until else "not yet due"
    day = min(near, key=lambda done: abs((done - opens).days))
    if day < opens:
        return day, "done early"
    return day, "done in its window" if day <= closes else "done late"


def _figures(frames: Mapping[str, pd.DataFrame]) -> pd.Series:
    out: dict[tuple[str, str], float] = {}
    for vehicle, windows in frames["windows"].groupby("vehicle"):
        scope = frames["scope"][frames["scope"]["vehicle"] == vehicle]
        used = windows[windows["lines"] > 0]
        stop = _stop(frames["risk"], str(vehicle))
        figures = {
            "openings": float(used["depth"].isin(["rods_down", "wheels_out"]).sum()),
            "wheels_out": float((used["depth"] == "wheels_out").sum()),
            "lines": float(len(scope)),
            "money": float(windows["cost"].sum() + windows["opening_cost"].sum()),
            "lost_days": float(windows["lost_days"].sum()),
            "labor_hours": float(windows["labor_hours"].sum()),
            "thrown_away_money": float(scope["unused_value"].sum()),
            "stop_by_end": float(stop[-1]) if len(stop) else np.nan,
            "stop_by_two_seasons": float(stop[min(24, len(stop) - 1)]) if len(stop) else np.nan,
            "late": float(frames["late"].loc[frames["late"]["vehicle"] == vehicle, "point"].nunique()),
        }
        out |= {(str(vehicle), name): value for name, value in figures.items()}
    return pd.Series(out)


def _stop(risk: pd.DataFrame, vehicle: str) -> Floats:
    months = risk[risk["vehicle"] == vehicle].sort_values("month")
    return months["with_plan"].to_numpy(dtype=np.float64)
