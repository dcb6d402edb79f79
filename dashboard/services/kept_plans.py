"""Plans kept in the store: found again, set side by side, held against the work done since."""

import json

import pandas as pd

from dashboard.services.plan_material import (
    PlanChoices,
    PlanMaterial,
    asked_for,
    vehicles_planned,
)
from dashboard.services.plan_state import with_state
from ingest.errors import WrongUsage
from ingest.store import Store
from models.plan.what_if import against_done, compare_plans


def newest_kept(store: Store, material: PlanMaterial, choices: PlanChoices) -> pd.DataFrame | None:
    """Lines of the newest kept plan that was asked for by the same choices, None where there is none.

    A plan asked for otherwise, somebody's what-if, is never taken. The forecast may be another: that is how a
    plan lasts from one forecast to the next.
    """
    wanted = json.loads(json.dumps(asked_for(choices, vehicles_planned(material, choices)), default=str))
    for row in store.runs("plan").itertuples():
        about = _parsed(row.about)
        if isinstance(about, dict) and {name: about.get(name) for name in wanted} == wanted:
            return store.read_run(str(row.run_id), "scope")
    return None


def kept_plans(store: Store) -> pd.DataFrame:
    """Plans kept, newest first: run_id, name, state, made_at, data_version, as_of, about."""
    runs = store.runs("plan")
    names = [
        str(about.get("name", "")) if isinstance(about, dict) else "" for about in map(_parsed, runs["about"])
    ]
    runs.insert(1, "name", names)
    runs.insert(2, "state", with_state(runs, store.decisions("plan"))["state"])
    return runs


def find_plan(store: Store, wanted: str) -> str:
    """Run id of a plan by its name or id; of several with one name the newest.

    Raises
    ------
    WrongUsage : there is no such plan.
    """
    runs = kept_plans(store)
    matching = runs[(runs["run_id"] == wanted) | (runs["name"] == wanted)]
    if matching.empty:
        names = [name for name in dict.fromkeys(runs["name"]) if name]
        known = ", ".join(names[:20]) or "none with a name yet"
        raise WrongUsage(
            f"Plan {wanted!r}: the store holds no such plan. Expected a run id or one of: {known}."
        )
    return str(matching["run_id"].iloc[0])


def first_lines(scope: pd.DataFrame) -> pd.DataFrame:
    """The first window in which a plan works on each wear point: vehicle, window, label, action, by point."""
    lines = scope.sort_values("window", kind="stable").explode("points").dropna(subset=["points"])
    first = lines.drop_duplicates("points").set_index("points")
    return first[["vehicle", "window", "label", "action"]].rename_axis("point")


def compare_kept(store: Store, first: str, second: str) -> pd.DataFrame:
    """Two kept plans side by side, by name or run id."""
    frames = {
        wanted: {
            part: store.read_run(find_plan(store, wanted), part)
            for part in ("windows", "scope", "late", "risk")
        }
        for wanted in (first, second)
    }
    return compare_plans(frames)


def plan_against_done(store: Store, wanted: str) -> pd.DataFrame:
    """A kept plan against the work that the store now has on record."""
    scope = store.read_run(find_plan(store, wanted), "scope")
    tables = store.read_all("work", "wear_points", "mileage")
    return against_done(scope, tables["work"], tables["wear_points"], tables["mileage"]["date"].max())


def _parsed(about: object) -> object:
    return json.loads(about) if isinstance(about, str) else about
