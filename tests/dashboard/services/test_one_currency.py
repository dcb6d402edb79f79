"""Prices in two currencies are never added up as one."""

import re

import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.services.forecasting import run_forecast
from dashboard.services.plan_material import PlanChoices, read_plan_material
from dashboard.services.planning import plan_inputs
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.add import add_files


def price(folder, store, text):
    (folder / "prices.csv").write_text(f"component,action,cost,currency,price_date\n{text}\n")
    report = add_files(store, [folder / "prices.csv"])
    assert (report.verdicts["verdict"] == "accepted").all()
    run_forecast(store)


@pytest.fixture
def mixed(small, tmp_path):
    store = Store(small)
    price(tmp_path, store, "crosshead,renewed,900,EUR,2024-01-02")
    return store


def test_a_plan_of_two_currencies_names_the_row_and_says_what_to_do(mixed):
    result = CliRunner().invoke(main, ["plan", "--db", str(mixed.path)])
    assert result.exit_code == 1
    said = " ".join(result.stderr.split())
    assert "knows no rate between USD, EUR. costs: crosshead, renewed is in EUR" in said
    assert "with their amounts in USD" in said


def test_the_price_told_once_more_in_the_one_currency_lets_it_plan(mixed, tmp_path):
    price(tmp_path, mixed, "crosshead,renewed,980,USD,2024-01-03")
    inputs = plan_inputs(read_plan_material(mixed), PlanChoices())
    assert inputs.costs["currency"].nunique() == 2  # the older price is kept, and counts no more


def test_money_of_the_shop_in_another_currency_is_named(small, tmp_path):
    (tmp_path / "capacities.csv").write_text("resource,month,amount,currency\nmoney,2024-01,5000,CAD\n")
    add_files(Store(small), [tmp_path / "capacities.csv"])
    run_forecast(Store(small))
    with pytest.raises(NotPossible, match=re.escape("capacities: money 2024-01 is in CAD")):
        plan_inputs(read_plan_material(Store(small)), PlanChoices())


def test_the_brief_counts_by_the_rate_that_is_told(mixed, tmp_path):
    settings = tmp_path / "told.toml"
    settings.write_text("[rates]\nEUR = 1.1\n")
    words = ["brief", "--db", str(mixed.path), "--settings", str(settings), "--json"]
    told = CliRunner().invoke(main, words)
    assert told.exit_code == 0, told.output
    untold = CliRunner().invoke(main, ["brief", "--db", str(mixed.path), "--json"])
    assert untold.exit_code == 1, untold.output
    assert "costs: amounts in EUR" in untold.stderr


def test_pages_say_it_without_breaking(mixed, app):
    for page in ("views/window.py", "views/case.py", "views/opening.py"):
        app.switch_page(page).run()
        assert not app.exception
