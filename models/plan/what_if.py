"""What if: plans side by side, and a plan against what was done; a plan kept before as a choice of today's.

Whether a kept plan stands is for the search to say.
"""

from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from models.plan.problem import Bools, Floats

FIGURES = {
    "openings": "windows opened to rods down or deeper",
    "wheels_out": "windows with the wheels out",
    "lines": "lines of work",
    "money": "jobs and openings, today's prices",
    "lost_days": "days beyond the windows",
    "labor_hours": "hours of work",
    "thrown_away_money": "worth of the life left in parts renewed",
    "stop_by_end": "chance to stop in mid-season in the years planned",
    "stop_by_two_seasons": "chance to stop in mid-season in the next two years",
    "late": "wear points not kept within the accepted risk",
}
"""Figures by which plans are compared, and what each is."""


SAME_WINTER = 180
"""Days within which two windows are one winter: one that is open opens later with each day worked in it.
[d]"""


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
    scope : lines of the plan; work : point, date, action, value_after [base unit] of the store; points :
        point, vehicle, unit, per_base.
    until : day up to which the record is complete; windows that close later are not judged yet.

    Returns
    -------
    vehicle, label, job, point, planned (opening day), done (date, NaT), verdict: done in its window / done
    early / done late / not done / not yet due / done, not planned; left : what was measured afterward, in the
    wear point's own unit, empty where nothing was. One row a wear point of a line, and one for each renewal
    or cut on record that no line foresaw since the plan's first window.
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
    table = pd.DataFrame(rows, columns=columns)
    table = table.astype({"planned": "datetime64[us]", "done": "datetime64[us]"})
    return table.assign(left=_left(table, record, points))


def _left(table: pd.DataFrame, record: pd.DataFrame, points: pd.DataFrame) -> list[str]:
    """What each wear point was left at on the day on which it was done."""
    if "value_after" not in record or not {"unit", "per_base"} <= set(points):
        return [""] * len(table)
    measured = record.dropna(subset=["value_after"])
    after = {
        (name, day): value
        for name, day, value in zip(measured["point"], measured["date"], measured["value_after"], strict=True)
    }
    own = points.drop_duplicates("point").set_index("point")
    said = []
    for name, day in zip(table["point"], table["done"], strict=True):
        value = after.get((name, day))
        if value is None or name not in own.index:
            said.append("")
            continue
        about = own.loc[name]
        said.append(f"{float(value) * float(about['per_base']):.5g} {about['unit']}")
    return said


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


CHANGE_COLUMNS = ["vehicle", "job", "component", "action", "position", "was", "now", "change", "why", "cost"]
"""Columns of :func:`changes_since`. was, now : label of the window in each plan, empty where it has none.
change : sooner, later, added, dropped, done. why : in words. cost : of the line, as listed. [money]"""


DONE = ("done in its window", "done early", "done late")
"""Verdicts of :func:`against_done` on lines that are done."""


def changes_since(before: pd.DataFrame, after: pd.DataFrame, done: pd.DataFrame) -> pd.DataFrame:
    """What a new plan changes in one that stands, line by line, and why.

    Parameters
    ----------
    before, after : lines of the two plans, ``plan.scope.LINE_COLUMNS``.
    done : of the plan before, as :func:`against_done` gives it.

    Returns
    -------
    Columns ``CHANGE_COLUMNS``; lines that both plans have in the same winter are left out. A job that is
    planned several times is compared first time with first, second with second.
    """
    old, new = _numbered(before, done), _numbered(after, done.iloc[:0])
    undone = done[done["verdict"] == "not done"]
    missed = set(zip(undone["job"], undone["label"], strict=True))
    old["missed"] = [pair in missed for pair in zip(old["job"], old["label"], strict=True)]
    old = old.assign(left=_done_words(old, done))
    both = old.merge(new, on=["vehicle", "job", "time"], how="outer", suffixes=("_old", "_new"))
    # What touches the next windows comes first.
    both["_first"] = both[["opens_old", "opens_new"]].min(axis=1)
    both = both.sort_values(["vehicle", "_first", "job", "label_old", "label_new"])
    rows = [row for row in (_change(line) for line in both.to_dict("records")) if row]
    return pd.DataFrame(rows, columns=CHANGE_COLUMNS).astype({"cost": float})


def _done_words(lines: pd.DataFrame, done: pd.DataFrame) -> list[str]:
    """When each line was done and what it was left at, empty where it was not."""
    served = done[done["verdict"].isin(DONE)]
    said = {}
    for (job, label), own in served.groupby(["job", "label"]):
        left = ", ".join(dict.fromkeys(text for text in own.get("left", pd.Series(dtype=object)) if text))
        late = "" if own["verdict"].ne("done late").all() else ", late"
        said[(job, label)] = f"done on {max(own['done']):%-d %b %Y}{late}" + (
            f", left at {left}" if left else ""
        )
    return [said.get(pair, "") for pair in zip(lines["job"], lines["label"], strict=True)]


def _numbered(scope: pd.DataFrame, done: pd.DataFrame) -> pd.DataFrame:
    """Lines of wear points with how often their job came before, those done on record told apart."""
    lines = scope[scope["kind"] != "inspection"].sort_values("opens", kind="stable").reset_index(drop=True)
    served = done[done["verdict"].isin(DONE)]
    is_done = set(zip(served["job"], served["label"], strict=True))
    finished = np.array([pair in is_done for pair in zip(lines["job"], lines["label"], strict=True)], bool)
    lines = lines.assign(finished=finished)
    lines["time"] = lines.groupby(["vehicle", "job", "finished"]).cumcount().where(~finished, -1)
    columns = ["vehicle", "job", "time", "finished", "component", "action", "position", "label", "opens"]
    return lines[[*columns, "reason", "cost"]]


def _change(line: Mapping[Hashable, Any]) -> dict[str, Any] | None:
    """A changed line; None where both plans have it in the same winter."""
    was, now = pd.notna(line["label_old"]), pd.notna(line["label_new"])
    side = "_new" if now else "_old"
    row = {name: line[f"{name}{side}"] for name in ("component", "action", "position", "cost")}
    row |= {"vehicle": line["vehicle"], "job": line["job"]}
    row |= {"was": line["label_old"] if was else "", "now": line["label_new"] if now else ""}
    if was and bool(line["finished_old"]):
        return row | {"change": "done", "now": "", "why": str(line["left"])}
    if was and now:
        missed = f"not done in {line['label_old']}; " if bool(line["missed"]) else ""
        apart = (line["opens_new"] - line["opens_old"]).days
        if abs(apart) < SAME_WINTER:
            return None
        return row | {"change": "later" if apart > 0 else "sooner", "why": missed + str(line["reason_new"])}
    if now:
        return row | {"change": "added", "why": str(line["reason_new"])}
    return row | {"change": "dropped", "why": "the years planned do not need it any more"}


def jobs_approved(
    approved: pd.DataFrame | None, vehicle: str, jobs: pd.DataFrame, windows: pd.DataFrame
) -> Bools:
    """Jobs by window as the approved plan has them, as far as today's jobs and windows know them.

    Parameters are those of :func:`jobs_kept`; shape (jobs, windows), all false without an approved plan.
    """
    out = np.zeros((len(jobs), len(windows)), bool)
    if approved is None or windows["closes"].duplicated().any() or jobs["job"].duplicated().any():
        return out
    lines = approved[approved["vehicle"] == vehicle]
    row = pd.Index(jobs["job"]).get_indexer(pd.Index(lines["job"]))
    column = pd.Index(windows["closes"]).get_indexer(pd.Index(lines["closes"]))
    known = (row >= 0) & (column >= 0)
    out[row[known], column[known]] = True
    return out


def jobs_kept(
    kept: pd.DataFrame | None, vehicle: str, jobs: pd.DataFrame, windows: pd.DataFrame
) -> Bools | None:
    """Jobs by window as the kept plan has them.

    Parameters
    ----------
    kept : lines of the kept plan: vehicle, job, closes (last day of its window). None for none.
    vehicle : whose lines count.
    jobs : jobs of today's programme: job, each once.
    windows : today's windows in order: opens, closes.

    Returns
    -------
    Shape (jobs, windows); None without a plan, and where a line fits no job or no window of today. Windows
    are known by their last day: the first one opens later with every day that it is worked in. Lines of
    windows that are past are left out.
    """
    if kept is None:
        return None
    lines = kept[kept["vehicle"] == vehicle]
    past = windows["closes"].min() if len(windows) else pd.Timestamp.max
    lines = lines[lines["closes"] >= past]
    if jobs["job"].duplicated().any() or windows["closes"].duplicated().any():
        return None
    row = pd.Index(jobs["job"]).get_indexer(pd.Index(lines["job"]))
    column = pd.Index(windows["closes"]).get_indexer(pd.Index(lines["closes"]))
    if (row < 0).any() or (column < 0).any():
        return None
    out = np.zeros((len(jobs), len(windows)), bool)
    out[row, column] = True
    return out
