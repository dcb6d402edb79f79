"""Which plan holds: the approved one, else the newest proposed; a what-if changes nothing for anybody."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from ingest.store import Store
from models.case.inputs import PlannedWork
from models.plan.planner import renewals_of

WHAT_IF, PROPOSED, APPROVED, WITHDRAWN = "what_if", "proposed", "approved", "withdrawn"
STATE_WORDS = {
    WHAT_IF: "what-if",
    PROPOSED: "proposed",
    APPROVED: "approved",
    WITHDRAWN: "withdrawn",
}


@dataclass(frozen=True)
class PlanInForce:
    """The plan that holds for a vehicle.

    Attributes
    ----------
    run, name, made_at : the run, what people call it, when it was made.
    state : approved, or proposed where none is approved.
    about : what it was asked for, and the forecast that it was made from.
    work : its lines and windows, and the days on which it renews each wear point.
    amounts : what each window may come to, as ``models.case.contingency`` gives it.
    """

    run: str
    name: str
    made_at: pd.Timestamp
    state: str
    about: Mapping[str, Any]
    work: PlannedWork
    amounts: pd.DataFrame

    def stated(self, vehicle: str) -> dict[pd.Timestamp, dict[float, float]]:
        """Amounts of a vehicle's windows by opening day and confidence, as the plan states them. [money]"""
        if self.amounts.empty:
            return {}
        own = self.amounts[self.amounts["vehicle"] == vehicle]
        return {
            pd.Timestamp(row["opens"]): {0.5: float(row["p50"]), 0.8: float(row["p80"])}
            for row in own.to_dict("records")
        }


def states(store: Store) -> pd.DataFrame:
    """Kept plans with their state, newest first: run_id, name, made_at, state, about (as a mapping)."""
    runs = store.runs("plan")
    about = [json.loads(text) if isinstance(text, str) else dict(text or {}) for text in runs["about"]]
    return pd.DataFrame(
        {
            "run_id": runs["run_id"].astype(str),
            "name": [str(said.get("name") or "") for said in about],
            "made_at": runs["made_at"],
            "state": [str(said.get("state") or state_asked_for(said)) for said in about],
            "about": about,
        }
    )


def state_asked_for(about: Mapping[str, Any]) -> str:
    """State of a plan on which nobody has decided: one with work pinned, or with other miles or prices than
    planned, is a what-if."""
    rules = about.get("rules", {})
    pinned = any(rules.get(name) for name in ("now", "skip"))
    other = any(about.get(name, 1.0) != 1.0 for name in ("usage", "cost"))
    return WHAT_IF if pinned or other else PROPOSED


def run_in_force(plans: pd.DataFrame, vehicle: str) -> str | None:
    """Run id of the plan that holds for a vehicle: the approved one, else the newest proposed.

    Parameters
    ----------
    plans : as :func:`states` gives them.
    """
    holds = [vehicle in (said.get("vehicles") or []) for said in plans["about"]]
    own = plans[pd.Series(holds, index=plans.index, dtype=bool)]
    for state in (APPROVED, PROPOSED):
        found = own.loc[own["state"] == state, "run_id"]
        if len(found):
            return str(found.iloc[0])
    return None


def plans_in_force(store: Store, vehicles: list[str]) -> dict[str, PlanInForce]:
    """The plan that holds for each vehicle; none for a vehicle without one."""
    plans = states(store)
    runs = {vehicle: run_in_force(plans, vehicle) for vehicle in vehicles}
    read = {run: _read(store, plans[plans["run_id"] == run].iloc[0]) for run in set(runs.values()) if run}
    return {vehicle: read[run] for vehicle, run in runs.items() if run}


def _read(store: Store, row: pd.Series) -> PlanInForce:
    run = str(row["run_id"])
    lines, windows, points = (store.read_run(run, name) for name in ("scope", "windows", "points"))
    work = PlannedWork(lines, windows, renewals_of(points, windows))
    return PlanInForce(
        run,
        str(row["name"]),
        row["made_at"],
        str(row["state"]),
        row["about"],
        work,
        store.read_run(run, "amounts"),
    )
