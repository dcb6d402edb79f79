"""Each page without a browser: it opens, it says what it must, and each widget does what it says."""

import json
from pathlib import Path

import pandas as pd
import pytest

from ingest.store import Store

APP_FILE = str(Path(__file__).parents[2] / "dashboard" / "app.py")
VIEWS = {
    "first": "What will stop us first?",
    "point": "driver tire – tread hollow",
    "engine": "Readings at the engine",
    "batch": "Is this batch right?",
    "window": "When do we open it, and what is in it?",
    "case": "What does it cost, and why now?",
    "record": "How good were our forecasts?",
    "how": "How a forecast is made",
}


def opened(app, view, **address):
    """A page at an address."""
    for key, value in address.items():
        app.query_params[key] = value
    app.run()
    if view != "first":
        app.switch_page(f"views/{view}.py")
        for key, value in address.items():
            app.query_params[key] = value
        app.run()
    assert not app.exception, app.exception
    return app


def said(app):
    """All that stands on the page as text."""
    kinds = (app.title, app.subheader, app.markdown, app.caption, app.error, app.warning, app.info, app.success)
    return "\n".join(element.value for kind in kinds for element in kind).replace("\\", "").replace("\u2060", "")


@pytest.mark.parametrize(("view", "title"), VIEWS.items())
def test_every_page_opens_with_its_question_and_the_caution(app, view, title):
    page = opened(app, view)
    assert page.title[0].value.replace("\\", "") == title
    assert "supports and never replaces inspection by qualified people" in said(page)


@pytest.mark.parametrize("view", VIEWS)
def test_an_empty_store_says_what_to_do_first(tmp_path, monkeypatch, view):
    import streamlit as st
    from streamlit.testing.v1 import AppTest

    monkeypatch.setenv("MILESLEFT_DB", str(tmp_path / "none.duckdb"))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    st.cache_data.clear()
    page = opened(AppTest.from_file(APP_FILE, default_timeout=30), view)
    assert page.title
    assert not page.error
