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
PINS = ("now", "skip")
"""Rules of a plan that pin work to a window or leave it out."""
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
    """Kept plans with their state, newest first.

    Returns
    -------
    run_id, name, made_at, state (of ``STATE_WORDS``), decided (number of the decision, 0 where nobody has
    decided), who, note, about (as a mapping).
    """
    return with_state(store.runs("plan"), store.decisions("plan"))


def with_state(runs: pd.DataFrame, decisions: pd.DataFrame) -> pd.DataFrame:
    """The same from what was read: runs of the kind plan, and decisions about them, both newest first."""
    last = decisions.drop_duplicates("run_id").set_index("run_id").astype(object)
    about = [json.loads(text) if isinstance(text, str) else dict(text or {}) for text in runs["about"]]
    run = runs["run_id"].astype(str)
    made_as = [said.get("state") or state_asked_for(said) for said in about]
    asked = pd.Series(made_as, index=runs.index, dtype=object)
    return pd.DataFrame(
        {
            "run_id": run,
            "name": [str(said.get("name") or "") for said in about],
            "made_at": runs["made_at"],
            "state": run.map(last["state"]).astype(object).where(run.isin(last.index), asked),
            "decided": pd.to_numeric(run.map(last["decision_id"])).fillna(0).astype("int64"),
            "who": run.map(last["who"]).astype(object).fillna(""),
            "note": run.map(last["note"]).astype(object).fillna(""),
            "about": about,
        }
    )


def state_asked_for(about: Mapping[str, Any]) -> str:
    """State of a plan that says none: one with work pinned, or with other miles or prices than
    planned, is a what-if."""
    rules = about.get("rules", {})
    pinned = any(rules.get(name) for name in PINS)
    other = any(about.get(name, 1.0) != 1.0 for name in ("usage", "cost"))
    return WHAT_IF if pinned or other else PROPOSED


def state_of_new(about: Mapping[str, Any], plans: pd.DataFrame) -> str:
    """State of a plan just made, where it is not said: a what-if too where a plan that holds for one of its
    vehicles was asked for otherwise, by another risk for example.

    Parameters
    ----------
    about : what the new plan was asked for. plans : those kept before, as :func:`states` gives them.
    """
    for vehicle in about.get("vehicles", []):
        run = run_in_force(plans, str(vehicle))
        if run is None:
            continue
        held = plans.loc[plans["run_id"] == run, "about"].iloc[0]
        if _followed(about) != _followed(held):
            return WHAT_IF
    return state_asked_for(about)


def _followed(about: Mapping[str, Any]) -> dict[str, Any]:
    """What two plans must have been asked for alike for one to take the other's place."""
    said = json.loads(json.dumps(about, default=str))
    rules = {name: value for name, value in said.get("rules", {}).items() if name not in PINS}
    return {"rules": rules, "turning": said.get("turning"), "assumptions": said.get("assumptions")}


def decide(store: Store, run: str, state: str, *, who: str = "", note: str = "") -> None:
    """Propose, approve or withdraw a kept plan, or make it a what-if.

    Raises
    ------
    NotPossible : there is no such plan.
    """
    plans = states(store)
    named = plans.loc[plans["run_id"] == run, "name"]
    store.decide_on("plan", (named.iloc[0] if len(named) else "") or run, state, run, who=who, note=note)


def run_in_force(plans: pd.DataFrame, vehicle: str) -> str | None:
    """Run id of the plan that holds for a vehicle: the one approved last, else the newest proposed.

    Parameters
    ----------
    plans : as :func:`states` gives them.
    """
    holds = [vehicle in (said.get("vehicles") or []) for said in plans["about"]]
    own = plans[pd.Series(holds, index=plans.index, dtype=bool)]
    for state in (APPROVED, PROPOSED):
        found = own[own["state"] == state]
        if state == APPROVED:
            found = found.sort_values("decided", ascending=False, kind="stable")
        if len(found):
            return str(found["run_id"].iloc[0])
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
