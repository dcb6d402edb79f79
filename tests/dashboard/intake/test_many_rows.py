"""Work on many rows on the page: corrected alike, settled by their reason, followed to their sheets."""

import shutil

import pytest
from pages.without_browser import opened, said, version, widget

from ingest.store import Store
from ingest.verdicts.add import add_files

GAUGED = "point,date,value,unit,gauge,observer\n" + "".join(
    f"N-D1L-HOLLOW,2022-{month:02d}-10,0.15{month},in,G7,J.D.\n" for month in range(4, 8)
)
WAITING = "point,date,value,unit\n" + "".join(f"N-D9L,2022-{month:02d}-12,0.2,in\n" for month in range(4, 9))


@pytest.fixture(scope="module")
def store_of_many(made_store, tmp_path_factory):
    """The small railway with four readings of a gauge and five rows that wait for one reason."""
    folder = tmp_path_factory.mktemp("many")
    store = Store(folder / "small.duckdb")
    shutil.copy(made_store, store.path)
    for name, text in {"gauged": GAUGED, "waiting": WAITING}.items():
        (folder / f"{name}.csv").write_text(text)
        add_files(store, [folder / f"{name}.csv"], who="R. T.")
    return store.path


@pytest.fixture
def many(app, small, store_of_many):
    shutil.copy(store_of_many, small)
    return app


def chosen(page, key, value):
    page.selectbox(key=key).select(value).run()
    assert not page.exception, page.exception


def test_all_readings_of_a_gauge_are_put_right_as_one_batch(many, small):
    page = opened(many, "batch", part="many")
    assert "Say which rows" in said(page)
    chosen(page, "many-gauge", "G7")
    page.text_input(key="many-amount").set_value("4 thou").run()
    assert "4 rows of readings (gauge G7): they read 4 thou too high." in said(page).replace("*", "")
    first = page.dataframe[0].value.iloc[0]
    assert (first["Before"], first["After"], first["From"]) == ("0.154 in", "0.15 in", "gauged.csv, row 2")
    assert version(small) == 3
    page.text_input(key="many-why").set_value("certificate 12")
    widget(page.button, "Correct 4 rows as one batch").click().run()
    assert not page.exception, page.exception
    assert "4 rows are corrected, as batch 4." in said(page)
    page = opened(page, "batch", part="batches")
    listed = page.dataframe[0].value
    assert listed["Rows"].iloc[0] == "4 rows stored; 4 rows taken back"
    assert "they read 4 thou too high" in listed["About"].iloc[0]


def test_rows_that_wait_for_one_reason_are_settled_together(many, small):
    page = opened(many, "batch", part="held")
    assert page.dataframe[0].value["Rows"].tolist() == [5]
    page.session_state["held-group"] = {"selection": {"rows": [0], "columns": [], "cells": []}}
    page.run()
    assert "5 rows that wait alike" in said(page)
    page.selectbox(key="group-column").select("point")
    page.text_input(key="group-text").set_value("N-D1R-HOLLOW")
    page.text_input(key="group-why").set_value("misspelled")
    widget(page.button, "Correct all").click().run()
    assert not page.exception, page.exception
    assert "5 rows settled, as batch 4." in said(page)
    assert len(Store(small).read("readings").query("batch == 4")) == 5


def test_a_batch_shows_its_rows_and_says_that_it_was_undone(many, small):
    page = opened(many, "batch", part="batches")
    assert page.dataframe[0].value["Rows"].tolist()[:2] == ["5 rows held back", "4 rows stored"]
    page.session_state["batch-picked"] = {"selection": {"rows": [1], "columns": [], "cells": []}}
    page.run()
    assert "Batch 2: 4 rows of readings" in said(page)
    rows = page.dataframe[1].value
    assert rows[["gauge", "file", "row"]].iloc[0].tolist() == ["G7", "gauged.csv", 2]
    page.selectbox(key="undo-batch").select(2)
    page.text_input(key="undo-why").set_value("not ours")
    widget(page.button, "Undo the batch").click().run()
    page = opened(page, "batch", part="batches")
    assert "4 rows stored; undone by batch 4" in page.dataframe[0].value["Rows"].tolist()
    assert 2 not in [int(option) for option in page.selectbox(key="undo-batch").options]
