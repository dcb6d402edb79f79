"""A spare that the plan fits is told alike by the plan (JSON, print) and by the rack (command, page)."""

import json

import pandas as pd
import pytest
from relations.two_engines import APP, PLAN, command, sheets
from streamlit.testing.v1 import AppTest

from dashboard.services.forecasting import run_forecast
from ingest.store import Store
from ingest.verdicts.add import add_files

PARTS = {"RB-9": ("rod bushing", 3), "WS-9": ("driving wheelset", 4)}
"""New parts, what they are, and the seed of the railway that has them: a bushing fits six places of two
engines, a wheelset eight, with the tires on it."""


@pytest.fixture(scope="module", params=PARTS)
def railway(tmp_path_factory, request):
    """A drawn railway with a new part on its rack."""
    part = request.param
    component, seed = PARTS[part]
    folder = tmp_path_factory.mktemp("rack")
    files = sheets(folder / "sheets", seed)
    pd.DataFrame([(part, component, "0")], columns=["part_no", "component", "miles_before"]).to_csv(
        files / "parts.csv", index=False
    )
    pd.DataFrame([(part, "", "", "2026-01-10")], columns=["part_no", "vehicle", "position", "since"]).to_csv(
        files / "fittings.csv", index=False
    )
    store = Store(folder / "railway.duckdb")
    add_files(store, [files], who="R. T.")
    run_forecast(store)
    made = json.loads(command(store.path, *PLAN, "--name", "first", "--json"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MILESLEFT_DB", str(store.path))
        patch.delenv("MILESLEFT_ROLES", raising=False)
        yield store.path, made, part


def test_plan_and_rack_tell_the_same_fitting(railway):
    db, made, part = railway
    (told,) = made["fitted"]
    assert told["part_no"] == part
    lines = [line for line in made["scope"] if line["action"] == f"spare {part} fitted"]
    assert [(line["vehicle"], line["window"], line["cost"]) for line in lines] == [
        (told["vehicle"], told["window"], 0.0)
    ]
    assert f"about {told['saves']:,.0f} cheaper" in lines[0]["reason"]

    printed = " ".join(command(db, *PLAN, "--name", "second", "--all").split())
    assert f"{part} is fitted from the rack instead of " in printed
    assert (
        f"about {told['saves']:,.0f} cheaper over the years planned than without it; what comes off"
        in printed
    )
    assert "fitting a part of the spares rack, which has no price" in printed

    where = f"{told['vehicle']} {told['position']}, {told['label']}"
    (left,) = json.loads(command(db, "parts", "--json"))["left"]
    assert left["planned"] == where
    assert f"the plan fits it: {where}" in command(db, "parts")
    app = AppTest.from_file(APP, default_timeout=120).run()
    app.switch_page("views/parts.py").run()
    assert not app.exception, app.exception
    (rack,) = [each.proto.body for each in app.get("html") if "The plan fits it" in each.proto.body]
    assert f">{where}</td>" in rack


def test_the_amount_of_the_window_holds_the_fitting_at_no_price(railway):
    _, made, _ = railway
    (told,) = made["fitted"]
    window = (told["vehicle"], told["window"])
    (amount,) = [row for row in made["amounts"] if (row["vehicle"], row["window"]) == window]
    (planned,) = [row for row in made["windows"] if (row["vehicle"], row["window"]) == window]
    assert amount["planned_today"] == pytest.approx(planned["cost"] + planned["opening_cost"], abs=0.01)
    assert not [row for row in made["unpriced"] if (row["vehicle"], row["window"]) == window]


def test_the_same_plan_comes_again(railway):
    db, made, _ = railway
    again = json.loads(command(db, *PLAN, "--name", "third", "--json"))
    assert again["scope"] == made["scope"]
    assert again["fitted"] == made["fitted"]


def test_a_spare_that_the_plan_of_another_engine_fits_is_taken(railway):
    """The plan in force of one engine fits it; a plan of the other alone may not count on it."""
    db, made, part = railway
    (told,) = made["fitted"]
    (other,) = {line["vehicle"] for line in made["scope"]} - {told["vehicle"]}
    alone = json.loads(command(db, *PLAN, "--vehicle", other, "--name", "alone", "--json"))
    assert alone["fitted"] == []
    (left,) = json.loads(command(db, "parts", "--json"))["left"]
    assert left["planned"] == f"{told['vehicle']} {told['position']}, {told['label']}"
    again = json.loads(command(db, *PLAN, "--vehicle", told["vehicle"], "--name", "again", "--json"))
    assert [each["part_no"] for each in again["fitted"]] == [part]
