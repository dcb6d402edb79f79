"""Every part says the same of a matched set: ``tires``, plan, cost of a mile, brief; and no plan spends more
metal than there is."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fleets.wheel_sheets import write_wheels
from relations.sets_told import FIGURES, figures, in_pdf, in_workbook, printed, shown

from dashboard.papers.plan_text import as_text
from dashboard.services.brief_settings import load_settings
from dashboard.services.casework import prepare, read_material, turned
from dashboard.services.forecasting import run_forecast
from dashboard.services.plan_material import PlanChoices, read_plan_material
from dashboard.services.planning import plan_and_store, plan_from
from dashboard.services.turnings import TABLES, tires_ahead
from dashboard.words.checks_text import RECORD_DECIDES
from dashboard.words.units_shown import Units
from ingest import catalogue
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.add import add_files
from models.distribution import PROBABILITIES
from models.plan.jobs import kind_of_action
from models.plan.rules import Rules
from models.tires.outlook import PATHS

SAME = ["turnings_p10", "turnings_p50", "turnings_p90", "miles_p05", "miles_p50", "miles_p95"]
SAME += ["next_life_p10", "next_life_p50", "next_life_p90", "next_turnings_p50"]
MIDDLE = len(PROBABILITIES) // 2
QUICK = {"effort": 0.05, "gap": 0.05}

KINDS = [(1, 1, 1, 1), (1, 0, 0, 0), (0, 1, 0, 1), (0, 0, 1, 0)]
"""Solid, priced, recorded, inches: each pair of them once both ways or more."""


@pytest.fixture(
    scope="module", params=range(len(KINDS)), ids=lambda k: "-".join(map(str, map(int, KINDS[k])))
)
def railway(request, tmp_path_factory):
    """A small railway of each kind, its wheels by a seed of its own; plan of five years."""
    solid, priced, recorded, inches = KINDS[request.param]
    folder = tmp_path_factory.mktemp("wheels")
    write_wheels(
        folder / "sheets", 100 + request.param, solid=solid, priced=priced, recorded=recorded, inches=inches
    )
    store = Store(folder / "wheels.duckdb")
    add_files(store, [folder / "sheets"])
    run_forecast(store)
    _, result = plan_and_store(store, PlanChoices(years=5.0, **QUICK))
    return store, result, priced


def told_by_tires(store, vehicle, paths=PATHS):
    run = store.runs("forecast").iloc[0]
    tables = store.read_all(*TABLES, version=int(run["data_version"]))
    table, taken = tires_ahead(tables, store, str(run["run_id"]), vehicle, paths=paths)
    early = table[table["policy"] == PlanChoices().turning]
    return early.set_index("matched_set"), taken


def check_plan(store, result):
    """Plan and ``tires`` say the same of every set, and the plan keeps to it."""
    assert len(result.turnings)
    told = {name: told_by_tires(store, name)[0] for name in result.turnings["vehicle"].unique()}
    for row in result.turnings.to_dict("records"):
        tires = told[row["vehicle"]]
        name = row["matched_set"]
        assert {column: row[column] for column in SAME} == tires.loc[name, SAME].to_dict()
        scope = result.plan.scope
        own = scope[(scope["matched_set"] == name) & (scope["component"] == row["component"])]
        able = row["turnings_p50"]
        for action in own.sort_values("window")["action"]:
            if kind_of_action(action) == "machined":
                able -= 1
                assert able >= 0, f"{name} is turned beyond its metal"
            else:
                able = row["next_turnings_p50"]


def check_case(store, turnings):
    """The case counts with the same turnings and the same next life."""
    material = read_material(store)
    for vehicle, sets in turnings.groupby("vehicle"):
        settings = load_settings(None, {"vehicle": vehicle})
        given = prepare(material, settings)
        points = given.simulation.points
        for row in sets.to_dict("records"):
            metal = (points["matched_set"] == row["matched_set"]) & (points["role"] == "metal")
            assert set(points.loc[metal, "turnings_left"]) == {row["turnings_p50"]}
            assert set(points.loc[metal, "turnings_next"]) == {row["next_turnings_p50"]}
            lives = given.simulation.next_life[:, np.flatnonzero(metal), 0]
            assert (lives == lives[:, :1]).all()  # one set, one fate
            assert np.median(lives) == pytest.approx(row["next_life_p50"], rel=0.02)
        try:
            mile = turned(given, settings).mile.set_index(["component", "action"])
        except NotPossible:
            continue  # no work in sight, so no case to compare with
        for component, alike in sets.groupby("component"):
            if len(alike) > 1 or (component, "renewed") not in mile.index:
                continue
            quotes = given.simulation.quotes.set_index(["component", "action"])["cost"]
            new = mile.loc[(component, "renewed"), "mean"] / quotes[component, "renewed"]
            count = float(alike["next_turnings_mean"].iloc[0])
            cut = mile["mean"].get((component, "cut"), 0.0) / quotes[component, "cut"]
            assert cut == pytest.approx(count * new, rel=0.05)


def test_small_railways_say_the_same_of_every_set(railway):
    store, result, priced = railway
    check_plan(store, result)
    if priced:
        check_case(store, result.turnings)


# The other two are past their limit from the start: nothing of them is told to be near it.
@pytest.mark.parametrize("railway", [1, 2], indirect=True)
def test_the_end_of_a_set_is_said_of_the_set_and_not_of_the_limit_of_one_tire(railway):
    store, result, _ = railway
    forecast = store.read_run(str(store.runs("forecast")["run_id"].iloc[0]), "forecast").set_index("point")
    bodies = forecast[forecast["quantity"].isin(["thickness", "rim thickness"])]
    sets = {
        (row["vehicle"], row["component"], position): row["matched_set"]
        for row in result.turnings.to_dict("records")
        for position in row["positions"].split(", ")
    }
    places = bodies[["vehicle", "component", "position"]].apply(tuple, axis=1)
    of = {point: sets[place] for point, place in places.items() if place in sets}
    pressing = result.plan.scope[result.plan.scope["kind"].isin(["late", "limit"])]
    ended = pressing[pressing["point"].isin(of)]
    carriers = result.plan.carriers.set_index("point")["scrap_of"]
    assert len(carriers)
    for line in ended.to_dict("records"):
        assert f" one {line['component']} of {of[line['point']]} is scrap " in line["reason"]
    for line in pressing[~pressing["point"].isin(of)].to_dict("records"):
        assert "is scrap" not in line["reason"]
    assert carriers.to_dict() == {point: of.get(point, "") for point in carriers.index}


@pytest.mark.parametrize("railway", [0, 2], indirect=True)
def test_print_workbook_and_pdf_of_a_plan_say_it_too(railway):
    _, result, _ = railway
    told, book, pdf = printed(result), in_workbook(result), in_pdf(result)
    for row in result.turnings.to_dict("records"):
        name, mine = row["matched_set"], figures(row)
        assert told[name] == mine
        for head, column in FIGURES.items():
            assert book[name][head] == (pytest.approx(row[column]) if np.isfinite(row[column]) else None)
        done = book[name]["in this plan"]
        assert f"in this plan: {done}" in as_text(result)
        assert " ".join([name, done, *mine]) in pdf


@pytest.mark.parametrize("railway", [0], indirect=True)
def test_the_pages_of_plan_and_tires_say_it_too(railway, monkeypatch):
    store, result, _ = railway
    rows, _ = shown(store.path, "window", monkeypatch, engine="Alder")
    _, text = shown(store.path, "fit", monkeypatch, engine="Alder", part="tires")
    book = in_workbook(result)
    for row in result.turnings.to_dict("records"):
        name = row["matched_set"]
        far = [
            Units().within_text(row[column]) if np.isfinite(row[column]) else "beyond"
            for column in ("miles_p50", "next_life_p50")
        ]
        left, new = (f"{row[column]:.0f}" for column in ("turnings_p50", "next_turnings_p50"))
        assert [name, book[name]["in this plan"], left, far[0], new, far[1]] in rows
        line = text.split(f"{name}, {row['policy']}**")[1].splitlines()[1]
        assert f"half after {far[0]}; turnings left {left}, " in line
        assert f"a new set: turnings {new}, scrap: half after {far[1]}" in line
    assert RECORD_DECIDES in text
    record, assumed = text.split("From the railway's own record of turnings:")[1].split(
        "Assumed, or from the text named:"
    )
    assert record.count("the railway's own record, 2 turnings") == 2
    assert "no source" in assumed


@pytest.mark.parametrize(
    ("vehicles", "years", "sets"),
    [(("Quillon",), 4.0, 4), pytest.param((), 10.0, 7, marks=pytest.mark.long)],
)
def test_the_demo_says_the_same_of_every_set(demo_store, vehicles, years, sets):
    store = Store(demo_store)
    choices = PlanChoices(vehicles=vehicles, years=years, **QUICK)
    result = plan_from(read_plan_material(store), choices)
    assert len(result.turnings) == sets
    check_plan(store, result)
    check_case(store, result.turnings)


def test_a_rim_asked_for_now_is_renewed_and_a_flange_cut_while_there_is_metal(railway):
    store, result, _ = railway
    material = read_plan_material(store)
    points = catalogue.classify(material.tables["wear_points"])
    row = result.turnings.iloc[-1]
    of_set = points[points["matched_set"] == row["matched_set"]]
    for role in ("metal", "profile"):
        asked = str(of_set.loc[of_set["role"] == role, "point"].iloc[0])
        plan = plan_from(material, PlanChoices(years=2.0, rules=Rules(now=(asked,)), **QUICK)).plan
        first = plan.scope[(plan.scope["window"] == 1) & (plan.scope["matched_set"] == row["matched_set"])]
        turned_now = [kind_of_action(action) == "machined" for action in first["action"]]
        assert turned_now == [role == "profile" and row["turnings_p50"] >= 1]


def test_the_record_decides_what_a_turning_takes(railway):
    store, _, _ = railway
    _, taken = told_by_tires(store, "Alder", paths=100)
    slope = taken.set_index("assumption").loc["flange_slope"]
    if len(store.read("work")):
        assert slope["value"] == pytest.approx(0.9, abs=0.35)  # two turnings on record, gauges of 0.1 mm
        assert "the railway's own record, 2 turnings" in slope["source"]
    else:
        assert slope["value"] == 2.75
        assert slope["source"].startswith("assumption, no source")


def test_millimeters_and_inches_give_the_same_turnings(tmp_path):
    tables = []
    for inches in (False, True):
        write_wheels(tmp_path / str(inches), 7, solid=True, priced=False, recorded=True, inches=inches)
        store = Store(tmp_path / f"{inches}.duckdb")
        add_files(store, [tmp_path / str(inches)])
        run_forecast(store)
        tables.append(told_by_tires(store, "Alder", paths=1000)[0])
    for column in ("turnings_p50", "next_turnings_p50"):
        assert tables[0][column].tolist() == tables[1][column].tolist()
    miles = ["miles_p50", "next_life_p50"]
    pd.testing.assert_frame_equal(tables[0][miles], tables[1][miles], rtol=0.02)


@pytest.mark.parametrize("faster", [1.2, 2.0])
def test_a_tire_that_wears_faster_lasts_shorter(demo_store, faster):
    from dashboard.services.turnings import tires_of_all
    from models.tires.outlook import turning_outlook

    store = Store(demo_store)
    run = str(store.runs("forecast")["run_id"].iloc[0])
    stored = store.read_run(run, "distribution")
    never = [np.full(len(PROBABILITIES), 1e9)] * len(stored)
    stored = stored.assign(remaining=never, new_life=never)
    for tires in tires_of_all(store.read_all(*TABLES), store, run, ["Hobnail", "Quillon"]):
        slow = turning_outlook(tires.states, tires.assumptions, tires.lay_ups, stored, paths=1000)
        states = replace(tires.states, rate=tires.states.rate * faster, tau=tires.states.tau * faster**0.5)
        fast = turning_outlook(states, tires.assumptions, tires.lay_ups, stored, paths=1000)
        assert (fast.remaining[:, MIDDLE] <= slow.remaining[:, MIDDLE]).all()
        assert (fast.next_life[:, MIDDLE] < slow.next_life[:, MIDDLE]).all()
