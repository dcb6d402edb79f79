"""A store whose parts were never measured: renewals alone, through the commands and onto the pages."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from pages.without_browser import opened, said

from dashboard.cli import main

APP_FILE = str(Path(__file__).parents[3] / "dashboard" / "app.py")
SEASONS = range(1990, 2026)
POINTS = [f"pin {axle}{side}" for axle in (1, 2, 3, 4) for side in "LR"]


@pytest.fixture(scope="module")
def renewed_only(tmp_path_factory):
    """Eight hanger pins of an engine that runs 5,000 miles a year, each renewed every eight years."""
    folder = tmp_path_factory.mktemp("renewed")
    sheets = {
        "vehicles": "vehicle,arrangement,class\nQuill,2-6-0,K\n",
        "wear_points": "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
        + "".join(f"{p},Quill,spring hanger pin,{p[-2:]},clearance,in,,\n" for p in POINTS),
        "mileage": "vehicle,date,odometer\n"
        + "".join(
            f"Quill,{year}-{month:02d}-01,{(year - 1990) * 5000 + max(month - 4, 0) * 625}\n"
            for year in SEASONS
            for month in range(1, 13)
        ),
        "work": "point,date,action,why\n"
        + "".join(f"{p},{year}-01-15,renewed,worn\n" for p in POINTS for year in (1998, 2006, 2014)),
    }
    for name, text in sheets.items():
        (folder / f"{name}.csv").write_text(text)
    store = str(folder / "s.duckdb")
    for command in (["add", str(folder), "--quiet", "--db", store], ["forecast", "--quiet", "--db", store]):
        done = CliRunner().invoke(main, command)
        assert done.exit_code == 0, done.output
    return store


@pytest.mark.parametrize("view", ["first", "point", "engine", "window"])
def test_every_page_speaks_of_parts_that_nobody_measured(renewed_only, monkeypatch, view):
    import streamlit as st
    from streamlit.testing.v1 import AppTest

    monkeypatch.setenv("MILESLEFT_DB", renewed_only)
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    st.cache_data.clear()
    page = opened(AppTest.from_file(APP_FILE, default_timeout=30), view)
    assert "Cannot be told" not in said(page)
    if view == "point":
        assert "forecast from the miles between renewals (24 lives of such parts)" in said(page)
