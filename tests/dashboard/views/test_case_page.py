"""The case: its choices, what its figures are made of, the excursion, what is kept for donors."""

import pytest
from pages.without_browser import counts, opened, said, widget

from ingest.store import Store


def test_the_case_turns_with_its_knobs(reader):
    page = opened(reader, "case")
    asked = counts(page)["What it takes"]
    widget(page.selectbox, "The sum is enough").set_value("95").run()
    assert not page.exception, page.exception
    surer = counts(page)["What it takes"]

    def money(text):
        return float(text.strip("$").replace(",", ""))

    assert money(surer) > money(asked)
    assert page.query_params["sure"] == "95"


def test_the_lines_of_the_case_add_up_and_lead_to_wear_points(reader):
    page = opened(reader, "case")
    lines = page.dataframe[0].value
    total = float(counts(page)["What it takes"].strip("$").replace(",", ""))
    asked = lines["Enough 8 times in 10 [USD]"]
    assert lines["Work"].iloc[0] == "All together"
    assert asked.iloc[0] == total
    assert asked.iloc[1:].sum() == total
    assert asked.iloc[1:].is_monotonic_decreasing  # the dearest first


@pytest.mark.parametrize(
    ("under", "column"),
    [
        ("gifts", "Costs about [USD]"),
        ("mile", "Used up by one km [USD]"),
        ("miles", "Half after [km]"),
    ],
)
def test_other_figures_of_the_case_lead_to_wear_points_too(reader, under, column):
    page = opened(reader, "case", under=under, distance="km")
    figures = page.dataframe[0].value
    assert (figures["From"] <= figures[column]).all()
    assert (figures[column] <= figures["To"]).all()
    if under == "mile":
        whole, parts = figures[column].iloc[0], figures[column].iloc[1:]
        assert parts.sum() == pytest.approx(whole)
    page.session_state[f"case-{under}-line"] = {"selection": {"rows": [0], "columns": [], "cells": []}}
    page.run()
    assert not page.exception, page.exception
    assert f"get-case-{under}-points.csv" in [button.key for button in page.get("download_button")]


def test_an_excursion_is_typed_in_the_chosen_unit_and_its_parts_add_up(reader):
    page = opened(reader, "case", trip="62.1371", distance="km")
    assert widget(page.number_input, "Distance of a running day [km]").value == 100.0
    widget(page.number_input, "Running days").set_value(3).run()
    widget(page.number_input, "Seats sold each day").set_value(100).run()
    assert not page.exception, page.exception
    assert (page.query_params["trip-days"], page.query_params["trip-seats"]) == ("3", "100")
    assert "3 running days, 300 kilometres in all" in said(page)
    assert "Each of the 300 seats sold must carry" in said(page)
    parts = page.dataframe[1].value["Uses up about [USD]"]
    assert parts.iloc[1:].sum() == parts.iloc[0] > 0
    widget(page.number_input, "Running days").set_value(6).run()
    assert page.dataframe[1].value["Uses up about [USD]"].iloc[0] == pytest.approx(
        2 * parts.iloc[0], rel=0.01
    )


def test_a_distance_that_is_none_in_the_address_counts_as_the_usual_day(reader):
    page = opened(reader, "case", trip="far")
    assert widget(page.number_input, "Distance of a running day [mi]").value >= 1
    assert not page.exception


def test_the_page_takes_currency_and_words_of_the_settings_file(app, small):
    settings = small.parent / "brief.toml"
    settings.write_text('[brief]\ntitle = "Keep Nettle"\ncurrency = "EUR"\n[rates]\nUSD = 0.5\n')
    page = opened(app, "case")
    assert counts(page)["What it takes"].startswith("€")
    settings.write_text("[brief]\npaper = 4\n")
    page.run()
    assert "paper is 4. Expected a4 or letter" in page.error[0].value.replace("\\", "")


def test_a_brief_is_kept_and_shown_to_donors_by_a_step_of_its_own(app, small):
    page = opened(app, "case")
    widget(page.button, "Keep this brief").click().run()
    assert not page.exception, page.exception
    store = Store(small)
    run = store.runs("case")["run_id"].iloc[0]
    assert store.decisions("case").empty
    page = opened(app, "case")
    assert "see none of them" in said(page)
    widget(page.button, "Show it to donors").click().run()
    assert store.decisions("case")[["run_id", "state"]].to_numpy().tolist() == [[run, "shown"]]
    assert "Donors with a link see" in said(page)
    widget(page.button, "Take back what donors see").click().run()
    assert store.decisions("case")["state"].tolist() == ["withdrawn", "shown"]
    assert "see none of them" in said(page)
