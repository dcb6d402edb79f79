"""Plan, brief (print, JSON, HTML) and pages never contradict each other about the money of one railway."""

import re

import pandas as pd
import pytest
from relations.two_engines import ENGINES, PLAN, command, kept_plan, page, railway, said_of

from dashboard.services.plan_state import run_in_force, states
from dashboard.words.numbers import month_short, month_words, numbers
from ingest.store import Store
from models.case.money import rounding_step

EN = numbers("en", "USD")


@pytest.fixture(scope="module", params=[3, pytest.param(8, marks=pytest.mark.long)])
def told(request, tmp_path_factory):
    """A drawn railway and all that is said of both its engines; 3 has prices without a currency."""
    folder = tmp_path_factory.mktemp(f"two{request.param}")
    with pytest.MonkeyPatch.context() as patch:
        db = railway(folder, request.param)
        patch.setenv("MILESLEFT_DB", str(db))
        patch.delenv("MILESLEFT_ROLES", raising=False)
        patch.chdir(folder)
        yield db, everything(db, folder)


def everything(db, folder, vehicles=ENGINES):
    known = states(Store(db))
    plans = {vehicle: kept_plan(db, run_in_force(known, vehicle)) for vehicle in vehicles}
    return {vehicle: said_of(db, vehicle, folder, plans[vehicle]) for vehicle in vehicles}


def check_one_engine(vehicle, said):
    """Window, amounts, scope, fund and what is still to come, wherever they are told."""
    windows = pd.DataFrame(said.plan["windows"])
    own = windows[(windows["vehicle"] == vehicle) & (windows["cost"] + windows["opening_cost"] > 0)]
    first = own.sort_values("opens").iloc[0]
    amounts = pd.DataFrame(said.plan["amounts"])
    amount = amounts[(amounts["vehicle"] == vehicle) & (amounts["window"] == first["window"])].iloc[0]
    opens, brief = pd.Timestamp(first["opens"]), said.brief

    assert brief["opens"] == f"{opens:%Y-%m-%d}"
    assert f"work to begin in {month_words(opens)}" in said.printed
    assert said.cards["Work begins"] == month_short(opens)
    assert f"Open it in **{first['label']}**" in said.window_page

    assert brief["ask"] == pytest.approx(amount["p80"], abs=0.01)
    assert brief["amount"]["p50"] == pytest.approx(amount["p50"], abs=0.01)
    step = rounding_step(amount["p80"])
    ask, half = (round(amount[name] / step) * step for name in ("p80", "p50"))
    assert said.cards["What it takes"] == EN.money(ask)
    assert f"{'enough 8 times in 10':<26}{EN.money(ask)}" in said.printed
    assert f"{'enough 5 times in 10':<26}{EN.money(half)}" in said.printed
    assert f"USD {ask:,} is enough 8 times in 10 ({half:,} 5 times in 10)" in said.window_page

    planned = {line["line"]: line["parts"] for line in brief["lines"] if line["kind"] == "planned"}
    assert planned == said.lines(first["window"], vehicle)

    for label, words in (("In hand for it", "in hand for it"), ("Still to come in", "still to come in")):
        assert f"{words:<26}{said.cards[label]}" in said.printed
        assert said.cards[label] in said.html
    mile = next(row for row in brief["mile"] if row["component"] == "all")["mean"]
    assert EN.small_money(mile) in said.printed
    assert f"Each mile uses up about {EN.small_money(mile)}" in said.html


def check_assumptions(said):
    """The brief says the chances that the plan accepts, and one pace of giving."""
    assumed = [f"{row['what']} ({row['source']})" for row in said.brief["assumptions"]]
    accepted = [
        f"{row['assumption']}: {row['value']} {row['unit']} ({row['source']})"
        for row in said.plan["assumed"]
        if row["unit"] == "times in 100"
    ]
    assert len(accepted) == 2
    assert set(accepted) <= set(assumed)
    assert all(words in said.html for words in accepted)
    assert "more often than" not in said.html  # the chance of a brief that no plan stands behind
    months = re.findall(r"[Ll]ast (\d+) months", said.html)
    assert months == [str(said.brief["rate"]["months"])] * 2


def check_one_fund(said):
    """Both engines' briefs share out the same fund alike, and no coin of it twice."""
    tables = {
        name: pd.DataFrame(each.brief["claims"]).set_index(["vehicle", "opens"])
        for name, each in said.items()
    }
    one, other = (table.drop(columns="own") for table in tables.values())
    both = one.index.intersection(other.index)
    assert len(both)
    pd.testing.assert_frame_equal(one.loc[both], other.loc[both], rtol=1e-6)
    for name, each in said.items():
        own = tables[name][tables[name]["own"]].iloc[0]
        assert own["amount"] == pytest.approx(each.brief["ask"])
        assert own["to_raise"] == pytest.approx(each.brief["to_raise"])
    counted = sum(float(table[table["own"]]["from_fund"].iloc[0]) for table in tables.values())
    funds = {each.brief["fund"]["in_hand"] for each in said.values()}
    assert len(funds) == 1
    assert counted <= max(funds.pop(), 0.0) + 0.01


def test_every_part_tells_the_same_money(told):
    _, said = told
    for vehicle, each in said.items():
        check_one_engine(vehicle, each)
        check_assumptions(each)
    check_one_fund(said)


def test_a_what_if_changes_no_figure_and_an_approved_plan_is_followed_and_named(told, tmp_path):
    db, said = told
    vehicle = ENGINES[0]
    before = said[vehicle]
    pinned = pd.DataFrame(before.plan["scope"])
    point = pinned.loc[(pinned["vehicle"] == vehicle) & pinned["point"].ne(""), "point"].iloc[-1]
    command(db, *PLAN, "--now", point, "--name", "what if")
    command(db, *PLAN, "--risk", "0.3", "--name", "bolder")
    named = states(Store(db)).set_index("name")["state"]
    assert named[["what if", "bolder", "first"]].tolist() == ["what_if", "what_if", "proposed"]
    assert page(db, "case", vehicle)[1] == before.cards
    command(db, "plan", "--approve", "bolder", "--note", "the board")
    after = everything(db, tmp_path, [vehicle])[vehicle]
    assert "the approved plan “bolder”" in after.printed
    check_one_engine(vehicle, after)
    check_assumptions(after)
    command(db, "plan", "--withdraw", "bolder")
    assert page(db, "case", vehicle)[1] == before.cards


@pytest.mark.long
def test_every_part_tells_the_same_money_of_the_demo(demo_store, tmp_path, monkeypatch):
    import shutil

    db = tmp_path / "demo.duckdb"
    shutil.copy(demo_store, db)
    command(db, "plan", "--gap", "0.03")
    monkeypatch.setenv("MILESLEFT_DB", str(db))
    monkeypatch.chdir(tmp_path)
    said = everything(db, tmp_path, ["Quillon", "Hobnail"])
    for vehicle, each in said.items():
        check_one_engine(vehicle, each)
        check_assumptions(each)
    check_one_fund(said)
