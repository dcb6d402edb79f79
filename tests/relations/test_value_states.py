"""A value has one state: adding it, reading it at the engine, the forecast's words, pages and list agree."""

import shutil

import numpy as np
import pytest

from dashboard.papers.plan_text import as_text
from dashboard.papers.shortest_lived import shortest_lived
from dashboard.pictures.places import drawings, miles_label
from dashboard.services.brief_settings import load_settings
from dashboard.services.casework import case_of, read_material
from dashboard.services.forecasting import run_forecast
from dashboard.services.plan_material import PlanChoices, read_plan_material
from dashboard.services.planning import plan_from
from dashboard.services.states import state_of, with_careful_date, with_state
from dashboard.words.gear_places import place_from
from dashboard.words.plan_words import past_words
from dashboard.words.units_shown import Units
from dashboard.words.walking import with_place
from ingest.store import Store
from ingest.value_state import IMPLAUSIBLE, LAST_READING, PAST
from ingest.verdicts.add import add_files
from ingest.verdicts.corrections import accept, held_rows

HOPEFUL = ("three", "later")


def generated(seed, folder):
    """A store of forty wear points of all directions and limits; some read past their limit, some absurdly,
    which is held back and then accepted as it is."""
    rng = np.random.default_rng(seed)
    points, readings = [], []
    for n in range(40):
        new, way = rng.uniform(0.0, 4.0) * rng.integers(0, 2), rng.uniform(0.05, 1.0)
        condemning = new + way if new < 1.5 or rng.random() < 0.5 else new - way
        when = ["at", "beyond", ""][n % 3]
        place = f"driver {n % 4 + 1} {'left' if n % 2 else 'right'}"
        points.append(f"P{n},V,bushing {n},{place},clearance,in,{new},{condemning},{when}")
        last = rng.choice([0.4, 0.9, 1.0, 1.2, 9.0, -9.0])
        for year, share in enumerate([0.1, 0.2, 0.3, last]):
            readings.append(f"P{n},{2015 + year}-09-01,{new + share * (condemning - new):.9f}")
    files = {
        "vehicles": "vehicle,arrangement\nV,0-8-0\n",
        "wear_points": "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,"
        "condemned_when\n" + "\n".join(points),
        "mileage": "vehicle,date,odometer\n" + "\n".join(f"V,{2014 + n}-10-01,{3000 * n}" for n in range(6)),
        "readings": "point,date,value\n" + "\n".join(readings),
    }
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text)
    store = Store(folder / "store.duckdb")
    add_files(store, [folder / f"{name}.csv" for name in files])
    held = held_rows(store)
    held_readings = set()
    for row in held.to_dict("records"):
        held_readings.add((row["cells"]["point"], row["cells"]["date"]))
        accept(store, row["held_id"], reason="to see what is made of it")
    planned = [
        f"V,{year}-{month:02},{500 * (5 <= month <= 10)}"
        for year in range(2020, 2026)
        for month in range(1, 13)
    ]
    office = {
        "costs": "component,action,cost,currency\n"
        + "".join(f"bushing {n},renewed,100,USD\n" for n in range(40)),
        "usage": "vehicle,month,miles_planned\n" + "\n".join(planned),
    }
    for name, text in office.items():
        (folder / f"{name}.csv").write_text(text)
    add_files(store, [folder / f"{name}.csv" for name in office])
    return store, run_forecast(store), held_readings


@pytest.fixture(scope="module", params=["demo", 1, 2])
def told(request, tmp_path_factory):
    """Forecast with states, wear points, vehicles; and the readings held back, where that is known."""
    if request.param == "demo":
        path = request.getfixturevalue("demo_store")
        store, held = Store(path), None
        run = str(store.runs("forecast")["run_id"].iloc[0])
    else:
        store, run, held = generated(request.param, tmp_path_factory.mktemp("generated"))
    tables = store.read_all("wear_points", "usage", "mileage", "vehicles")
    made = with_careful_date(store.read_run(run, "forecast"), tables["usage"], tables["mileage"])
    return with_place(with_state(made, tables["wear_points"])), tables, held, store.path


def test_the_engine_the_words_and_the_page_say_the_same_of_every_last_reading(told):
    forecast, tables, *_ = told
    points = tables["wear_points"].set_index("point", drop=False)
    for row in forecast[forecast["last_value"].notna()].to_dict("records"):
        state = state_of(row["last_value"], points.loc[row["point"]])
        for name, words in LAST_READING.items():
            assert (words in row["flags"]) == (state == name), row
        assert state != PAST or row["state"] == "past", row
        assert state != IMPLAUSIBLE or row["state"] not in HOPEFUL, row


def test_what_cannot_be_right_was_held_back_when_it_was_added(told):
    forecast, tables, held, _ = told
    if held is None:
        return
    points = tables["wear_points"].set_index("point", drop=False)
    absurd = [
        row["point"]
        for row in forecast.to_dict("records")
        if state_of(row["last_value"], points.loc[row["point"]]) == IMPLAUSIBLE
    ]
    assert absurd
    assert {(point, "2018-09-01") for point in absurd} == held


def test_the_list_and_the_drawing_show_every_wear_point_that_is_past(told):
    forecast, tables, *_ = told
    past = forecast[(forecast["state"] == "past") & forecast["miles_p50"].notna()]
    listed = shortest_lived(forecast, past=len(forecast), others=0)
    assert sorted(listed["point"]) == sorted(past["point"])
    drawn = drawings(forecast, tables["vehicles"], miles_label(Units()))
    for (vehicle, _), drawing in drawn.items():
        for place in drawing.places:
            here = forecast[(forecast["vehicle"] == vehicle) & (forecast["place"] == place.key)]
            text = repr(drawing.scene)
            assert not (here["state"] == "past").any() or "past its limit" in text


def test_no_place_with_an_absurd_last_reading_looks_as_if_there_were_time(told):
    forecast = told[0]
    labels = miles_label(Units())
    for _, here in forecast[forecast["place"] != ""].groupby(["vehicle", "place"]):
        if (here["state"] == "implausible").any():
            label = labels(place_from(str(here["place"].iloc[0])), here.to_dict("records"))
            assert label.state not in HOPEFUL


@pytest.fixture(scope="module")
def planned(told):
    choices = PlanChoices(years=1.5, effort=0.01, gap=1.0)
    return plan_from(read_plan_material(Store(told[3])), choices)


def test_no_chance_of_later_is_smaller_than_that_of_now(told, planned):
    plan, now = planned.plan, told[0].set_index("point")["p_beyond_now"]
    in_service = plan.points[plan.points["life"] == 0]
    later = (
        *(in_service.set_index("point")[name] for name in ("chance_by_window", "chance_by_next")),
        plan.late[plan.late["window"] == 1].set_index("point")["chance"],
    )
    for chance in later:
        # Chances are rounded to the sixth decimal; the stored grid ends at 0.999.
        assert (chance >= now[chance.index].clip(upper=0.999) - 1e-6).all()
    assert (now[in_service["point"]] > 0.01).any()
    at_limit = plan.at_limit.dropna().set_index("point")["chance"]
    assert (at_limit >= now[at_limit.index].clip(upper=0.999) - 1e-6).all()


def test_the_plan_names_as_at_their_limit_what_the_first_page_names(told, planned):
    forecast, plan = told[0], planned.plan
    past = forecast[forecast["state"] == "past"]
    assert sorted(plan.at_limit["point"]) == sorted(past["point"])
    assert len(past)
    # What has stopped the engine already says nothing of the months ahead.
    assert not set(plan.carriers["point"]) & set(past["point"])
    printed = " ".join(as_text(planned).split())
    for _, own in plan.at_limit.groupby("vehicle"):
        assert past_words(own["point"].tolist()) in printed


def test_the_brief_counts_as_at_their_limit_what_the_first_page_names(told, tmp_path):
    forecast, _, _, path = told
    shutil.copy(path, tmp_path / "store.duckdb")
    material = read_material(Store(tmp_path / "store.duckdb"))
    counted = 0
    for vehicle in sorted(forecast["vehicle"].unique()):
        past = forecast[(forecast["state"] == "past") & (forecast["vehicle"] == vehicle)]
        settings = load_settings(None, {"vehicle": vehicle})
        assert sorted(case_of(material, settings).at_limit) == sorted(past["point"])
        counted += len(past)
    assert counted
