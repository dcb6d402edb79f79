"""What of a plan that holds is still ahead of a vehicle, and what is taken as given while tables are read."""

from dataclasses import asdict

import numpy as np
import pandas as pd

from dashboard.services.plan_material import usual_rules
from dashboard.services.plan_state import PlanInForce
from dashboard.words.assumptions import accepted_chances
from models.case.inputs import ChosenBy, PlannedWork
from models.plan.planner import PlanInputs
from models.running.windows import within


def still_planned(
    plan: PlanInForce | None, vehicle: str, as_of: pd.Timestamp, work: pd.DataFrame
) -> PlannedWork:
    """What of a plan is still ahead of a vehicle.

    Work on record is done; a window that is open begins the day after the as-of day, as the planner has it.
    """
    if plan is None:
        return PlannedWork.none()
    lines, windows = (frame[frame["vehicle"] == vehicle] for frame in (plan.work.lines, plan.work.windows))
    done = work[["point", "date"]].dropna()
    done = done[done["point"].isin({point for points in lines["points"] for point in points})]
    last = done.groupby("point")["date"].max()
    is_done = [
        bool(len(points)) and all(last.get(point, pd.Timestamp.min) >= opens for point in points)
        for points, opens in zip(lines["points"], lines["opens"], strict=True)
    ]
    lines = lines[~np.array(is_done, dtype=bool)]
    begins = as_of + pd.Timedelta(days=1)
    lines, windows = (_still_ahead(frame, begins) for frame in (lines, windows))
    days: dict[str, set[pd.Timestamp]] = {}
    for points, opens in zip(lines["points"], lines["opens"], strict=True):
        for point in points:
            days.setdefault(str(point), set()).add(pd.Timestamp(opens))
    return PlannedWork(lines, windows, {point: sorted(of_point) for point, of_point in days.items()})


def _still_ahead(frame: pd.DataFrame, begins: pd.Timestamp) -> pd.DataFrame:
    """Rows whose window is not over on a day; one that is open begins on it."""
    ahead = frame[frame["closes"] >= begins]
    return ahead.assign(opens=ahead["opens"].where(ahead["opens"] > begins, begins))


def chosen_by(plan: PlanInForce | None, run: str) -> ChosenBy | None:
    """The plan that holds for the vehicle, in what a reader must know of it."""
    if plan is None:
        return None
    older = plan.about.get("forecast") != run
    return ChosenBy(
        name=plan.name,
        state=plan.state,
        made_on=pd.Timestamp(plan.made_at).tz_localize(None).normalize(),
        older_as_of=pd.Timestamp(plan.about["as_of"]) if older else None,
    )


def accepted_by(plan: PlanInForce | None) -> pd.DataFrame:
    """The chances that a plan accepts, as its own papers say them: what, value, source."""
    rules = {} if plan is None else plan.about.get("rules", {})
    rows = accepted_chances(rules, asdict(usual_rules()))
    value = rows["value"] + " " + rows["unit"]
    return pd.DataFrame(
        {"what": rows["assumption"] + ": " + value, "value": value, "source": rows["source"]}, dtype=object
    )


def last_until(
    plan: PlanInForce | None, run: str, vehicle: str, ahead: PlanInputs, as_of: pd.Timestamp
) -> pd.Timestamp | None:
    """Day up to which parts must last: that of the plan which chose the work."""
    if plan is None:
        return ahead.ends.get(vehicle)
    from_day = as_of if plan.about.get("forecast") == run else pd.Timestamp(plan.about["as_of"])
    _, ends = within(ahead.windows, pd.Series({vehicle: from_day}), float(plan.about["years"]))
    return ends.get(vehicle, ahead.ends.get(vehicle))


def span(text: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last day of a window that a plan was asked for, as the plan keeps it."""
    opens, closes = (pd.Timestamp(day) for day in text.split(":"))
    return opens, closes


def taken(costs: pd.DataFrame, funds: pd.DataFrame, *, usage: pd.DataFrame, currency: str) -> pd.DataFrame:
    """What had to be taken as given while the tables were read: what, value, source."""
    rows: list[tuple[str, str, str]] = []
    for table, word in ((costs, "prices"), (funds, "amounts of the fund")):
        count = int(table["currency"].fillna("").str.strip().eq("").sum())
        if count:
            rows.append((f"{count} {word} without a currency are in {currency}", currency, "assumption"))
    if (usage["miles_sd"] > usage["season_sd"]).any():
        rows.append(
            (
                "the miles of a planned month vary by the spread stated for it, each month by itself",
                "",
                "planned running",
            )
        )
    if (usage["season_sd"] > 0).any():
        words = "where no spread is planned, the miles of a year vary together, as the seasons on record did"
        rows.append((words, "", "mileage log"))
    return pd.DataFrame(rows, columns=["what", "value", "source"])
