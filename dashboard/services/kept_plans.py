"""Plans kept in the store: found again, set side by side, held against the work done since."""

import json
from collections.abc import Sequence
from contextlib import suppress

import pandas as pd

from dashboard.services.plan_material import (
    PlanChoices,
    PlanMaterial,
    asked_for,
    vehicles_planned,
)
from dashboard.services.plan_state import APPROVED, WITHDRAWN, run_in_force, states, with_state
from ingest.errors import NotPossible, StoreProblem, WrongUsage
from ingest.store import Store
from models.plan.planner import FITTED_COLUMNS
from models.plan.what_if import CHANGE_COLUMNS, against_done, changes_since, compare_plans


def newest_kept(store: Store, material: PlanMaterial, choices: PlanChoices) -> pd.DataFrame | None:
    """Lines of the kept plan that a new one stays with where the search finds no better, None where there is
    none: asked for by the same choices, the approved one, else the newest.

    A withdrawn plan is never taken: whoever took it back does not want its work again only because it stood
    before. An older plan that still stands is begun from then, or nothing. A plan asked for otherwise,
    somebody's what-if, is not taken either. The forecast may be another: that is how a plan lasts from one
    forecast to the next.
    """
    wanted = json.loads(json.dumps(asked_for(choices, vehicles_planned(material, choices)), default=str))
    plans = states(store)
    plans = plans[plans["state"] != WITHDRAWN]
    alike = plans[[{name: about.get(name) for name in wanted} == wanted for about in plans["about"]]]
    if alike.empty:
        return None
    approved = alike[alike["state"] == APPROVED]
    chosen = approved if len(approved) else alike
    return store.read_run(str(chosen["run_id"].iloc[0]), "scope")


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
            f"Plan {wanted!r}: the store holds no such plan. Expected its id or one of: {known}."
        )
    return str(matching["run_id"].iloc[0])


def first_lines(scope: pd.DataFrame) -> pd.DataFrame:
    """The first window in which a plan works on each wear point: vehicle, window, label, action, by point."""
    lines = scope.sort_values("window", kind="stable").explode("points").dropna(subset=["points"])
    first = lines.drop_duplicates("points").set_index("points")
    return first[["vehicle", "window", "label", "action"]].rename_axis("point")


def runs_in_force(store: Store, vehicles: Sequence[str] | None = None) -> list[str]:
    """Run ids of the plans that hold for the vehicles, each once; for all that are planned where none is
    named."""
    return list(dict.fromkeys(_held(store, vehicles).values()))


def fitted_in_force(store: Store, beside: Sequence[str] = ()) -> pd.DataFrame:
    """Spares that the plans in force fit, each by the plan of its own vehicle: ``FITTED_COLUMNS`` of
    ``models.plan.planner``. ``beside``: vehicles whose plans are left out."""
    rows = [pd.DataFrame(columns=FITTED_COLUMNS)]
    for vehicle, run in _held(store).items():
        if vehicle not in beside:
            with suppress(StoreProblem):  # a plan of an earlier version
                fitted = store.read_run(run, "fitted")
                rows.append(fitted[fitted["vehicle"] == vehicle])
    return pd.concat([each for each in rows if len(each)] or rows[:1], ignore_index=True)


def _held(store: Store, vehicles: Sequence[str] | None = None) -> dict[str, str]:
    """Run of the plan that holds for each vehicle, in the order given, else by name."""
    plans = states(store)
    planned = {str(name) for about in plans["about"] for name in about.get("vehicles", [])}
    held = {name: run_in_force(plans, name) for name in (sorted(planned) if vehicles is None else vehicles)}
    return {name: run for name, run in held.items() if run}


def measure_first_of(store: Store, runs: Sequence[str]) -> pd.DataFrame:
    """What plans say to measure first, columns ``models.measure.first.COLUMNS``; a wear point once.

    Raises
    ------
    NotPossible : a plan was made before plans said it.
    """
    try:
        tables = [store.read_run(run, "measure_first") for run in runs]
    except StoreProblem:
        raise NotPossible(
            "The plan was made before it said what to measure first. Make one anew: `milesleft plan`."
        ) from None
    return pd.concat(tables, ignore_index=True).drop_duplicates("point")


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


def approved_lines(store: Store, vehicles: list[str]) -> pd.DataFrame | None:
    """Lines of the plans approved for the vehicles, None where there are none."""
    plans = states(store)
    plans = plans[plans["state"] == APPROVED]
    held = {vehicle: run_in_force(plans, vehicle) for vehicle in vehicles}
    scopes = []
    for run in dict.fromkeys(run for run in held.values() if run):
        scope = store.read_run(run, "scope")
        scopes.append(scope[scope["vehicle"].isin([name for name, of in held.items() if of == run])])
    return pd.concat(scopes, ignore_index=True) if scopes else None


def changes_from_approved(store: Store, vehicles: list[str], scope: pd.DataFrame) -> tuple[str, pd.DataFrame]:
    """What a new plan changes in the approved one, and what that is called; no rows where none is approved.

    Parameters
    ----------
    vehicles : of the new plan. scope : its lines.
    """
    plans = states(store)
    runs = {vehicle: run_in_force(plans[plans["state"] == APPROVED], vehicle) for vehicle in vehicles}
    tables, names = [], []
    for run in dict.fromkeys(run for run in runs.values() if run):
        own = [vehicle for vehicle, held in runs.items() if held == run]
        before = store.read_run(run, "scope")
        before = before[before["vehicle"].isin(own)]
        done = plan_against_done(store, run)
        tables.append(changes_since(before, scope[scope["vehicle"].isin(own)], done))
        names.append(str(plans.loc[plans["run_id"] == run, "name"].iloc[0]) or run)
    if not tables:
        return "", pd.DataFrame(columns=CHANGE_COLUMNS)
    return ", ".join(names), pd.concat(tables, ignore_index=True)


def _parsed(about: object) -> object:
    return json.loads(about) if isinstance(about, str) else about
