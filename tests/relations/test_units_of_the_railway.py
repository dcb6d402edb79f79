"""Commands and pages write lengths in the unit of the railway's own sheets."""

import re
from pathlib import Path

import pandas as pd
import pytest
from pages.without_browser import opened, said
from relations.two_engines import command, sheets
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard.services.forecasting import run_forecast
from dashboard.services.scoring import run_score
from ingest.store import Store
from ingest.verdicts.add import add_files

LENGTHS = ("new_value", "condemning_limit", "value")
TIRES = [
    ("Alder", "driver tire", f"driver 1 {side}", "diameter", "in", "", "", "wheels_out")
    for side in ("left", "right")
]
WORN = [
    ("Alder", "driver tire", f"driver 1 {side}", quantity, "in", new, limit, "wheels_out")
    for side in ("left", "right")
    for quantity, new, limit in (("thickness", "3", "1.5"), ("tread hollow", "0", "0.3125"))
]
READ = {"thickness": (2.9, 2.8, 2.7), "tread hollow": (0.05, 0.1, 0.16)}
ALIEN = {
    "in": re.compile(r"\d\s?mm\b|\[mm\]"),
    "mm": re.compile(r"\d\s?(?:thou\b|\"|in(?=[,.;)\]]|\n(?!\d)|\Z))|\[(?:in|thou)\]"),
}
"""Lengths in the other unit. ``12 in 80`` counts; ``0.2 in)`` measures."""


@pytest.fixture(scope="module", params=["in", "mm"])
def railway(request, tmp_path_factory):
    """A store whose sheets are all in one unit, wheels of one axle apart in diameter; and the unit."""
    folder = sheets(tmp_path_factory.mktemp(request.param) / "sheets", 4)
    points, readings = (
        pd.read_csv(folder / f"{name}.csv", dtype=str) for name in ("wear_points", "readings")
    )
    names = [f"Alder-diameter-{side}" for side in ("left", "right")]
    more = pd.DataFrame(TIRES, columns=list(points.columns[1:])).assign(point=names)
    worn = pd.DataFrame(WORN, columns=list(points.columns[1:]))
    worn["point"] = worn["position"].str.replace(" ", "-") + "-" + worn["quantity"].str.replace(" ", "-")
    points = pd.concat([points, more[points.columns], worn[points.columns]], ignore_index=True)
    read = pd.DataFrame({"point": names, "date": "2026-10-01", "value": ["50.2", "50.0"], "unit": "in"})
    seen = [
        (row.point, f"{year}-10-01", str(value), "in")
        for row in worn.itertuples()
        for year, value in zip((2022, 2023, 2024), READ[row.quantity], strict=True)
    ]
    readings = pd.concat([readings, read, pd.DataFrame(seen, columns=read.columns)], ignore_index=True)
    for name, frame in (("wear_points", points), ("readings", readings)):
        if request.param == "mm":
            for column in frame.columns.intersection(LENGTHS):
                figures = pd.to_numeric(frame[column]) * 25.4
                frame[column] = figures.map("{:.3f}".format).where(figures.notna(), "")
            frame["unit"] = "mm"
        frame.to_csv(folder / f"{name}.csv", index=False)
    log = pd.read_csv(folder / "mileage.csv", dtype=str)
    log.assign(unit="mi").to_csv(
        folder / "mileage.csv", index=False
    )  # beside millimetres it is asked otherwise
    store = Store(folder / "railway.duckdb")
    add_files(store, [folder])
    run_forecast(store)
    run_score(store, 2, slow=False)
    return store.path, request.param


def lengths_of_the_other(text, unit):
    """Places where a text writes a length in the other unit."""
    return [text[max(0, hit.start() - 40) : hit.end() + 20] for hit in ALIEN[unit].finditer(text)]


@pytest.mark.parametrize(
    "words",
    [
        ("forecast",),
        ("checks", "--all"),
        ("tires", "--vehicle", "Alder"),
        ("score", "--quick", "--origins", "2"),
    ],
)
def test_commands_write_the_unit_of_the_sheets(railway, words):
    path, unit = railway
    text = re.sub(
        r"as \w+ \[in\]$", "", command(path, *words), flags=re.MULTILINE
    )  # for a figure of one's own
    assert lengths_of_the_other(text, unit) == []
    if words[0] == "checks":
        assert {"in": "0.200 in", "mm": "5.08 mm"}[unit] in text


@pytest.mark.parametrize("view", ["first", "fit", "record", "how"])
def test_pages_write_the_unit_of_the_sheets(railway, view, monkeypatch):
    path, unit = railway
    monkeypatch.setenv("MILESLEFT_DB", str(path))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    app = AppTest.from_file(Path(dashboard.__file__).with_name("app.py"), default_timeout=120)
    page = opened(app, view)
    tables = "\n".join(frame.value.to_csv(index=False) for frame in page.dataframe)
    assert lengths_of_the_other(said(page), unit) == []
    assert lengths_of_the_other(re.sub('[,"\n]', ";", tables), unit) == []
