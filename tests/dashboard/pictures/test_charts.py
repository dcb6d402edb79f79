"""Pictures are built from frames alone, and can be saved as files that stand alone."""

import json
import xml.etree.ElementTree as ET

import numpy as np
import pandas as pd
import pytest

from dashboard.pictures import charts, charts_plan, charts_record
from dashboard.pictures.drawing import LOOKS
from dashboard.screen.show import picture_bytes
from dashboard.sections.wear_story import events, picture
from dashboard.words.units_shown import Units
from models.distribution import PROBABILITIES


def point():
    return pd.Series(
        {
            "quantity": "tread hollow",
            "unit": "in",
            "per_base": 1 / 25.4,
            "condemning_limit": 0.3125 * 25.4,
            "shop_limit": float("nan"),
        }
    )


def path():
    odometer = np.array([0.0, 1000.0, 2000.0])
    middle = odometer / 10_000
    frame = pd.DataFrame({"odometer": odometer, "p10": middle - 0.01, "p50": middle, "p90": middle + 0.01})
    return frame.assign(kind=["fitted", "fitted", "ahead"])


def readings():
    return pd.DataFrame(
        {
            "date": pd.to_datetime(["2020-05-01", "2021-05-01"]),
            "odometer": [500.0, 900.0],
            "value": [0.05, 0.4],
            "expected": [0.05, 0.09],
            "expected_sd": [0.01, 0.01],
            "weight": [1.0, 0.1],
            "verdict": ["sound", "odd: measure again"],
            "life": [1, 1],
        }
    )


def work():
    return pd.DataFrame(
        {
            "date": pd.to_datetime(["2019-01-01", "2021-06-01"]),
            "odometer": [0.0, 950.0],
            "action": ["renewed", "cut"],
            "value_after": [0.0, 0.02],
            "source_file": "shop.xlsx",
            "source_sheet": "2021",
            "source_row": [2, 3],
            "batch": 4,
        }
    )


def test_one_story_in_the_units_chosen():
    story = picture(point(), path(), readings(), work(), Units("mm", "km"))
    assert story.value_title == "tread hollow [mm]"
    assert story.distance_title == "run in all [km]"
    assert story.readings["value"].tolist() == pytest.approx([1.27, 10.16])  # × 25.4
    assert story.path["distance"].tolist() == pytest.approx([0, 1609.344, 3218.688])
    assert story.readings["verdict"].tolist() == ["taken", "odd"]
    assert story.limits["value"].tolist() == pytest.approx([7.9375])
    assert story.limits["name"].tolist() == ["condemning limit 7.94 mm"]
    assert story.renewals["name"].tolist() == ["renewed Jan 2019"]  # a cut begins no life


def test_events_are_listed_newest_first_with_what_was_expected():
    measured = readings().assign(row_id=[1, 2], gauge="G7", observer="J.D.", note="", source="a.csv, row 2")
    table = events(measured, work(), "in", Units())
    assert table["source"].tolist()[:2] == ["shop.xlsx, sheet 2021, row 3 (batch 4)", "a.csv, row 2"]
    assert table["what"].tolist() == ["cut", "reading", "reading", "renewed"]
    assert table["value"].tolist() == ["0.020 in", "0.400 in", "0.050 in", "0.000 in"]
    assert table["verdict"].tolist() == ["", "odd: measure again", "", ""]
    assert table["expected"][2] == "0.050 in ± 0.013 in"  # 1.28 standard deviations: 8 in 10


def texts(svg):
    return [element.text for element in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_the_wear_picture_saved_as_a_file_names_its_limit():
    chart = charts.wear(picture(point(), path(), readings(), work(), Units()))
    assert "condemning limit 0.3125 in" in texts(picture_bytes(chart, "svg"))
    assert picture_bytes(chart, "png").startswith(b"\x89PNG")


def test_the_curve_of_remaining_miles_is_drawn_even_where_some_are_past():
    quantiles = np.maximum(np.linspace(-500, 3000, len(PROBABILITIES)), 0.0)
    marks = pd.DataFrame({"distance": [0.0, 1200.0], "cases": [5.0, 50.0], "name": ["5 of 100: now", "half"]})
    chart = charts.remaining(quantiles, PROBABILITIES, "mi", marks)
    first = chart.to_dict()["datasets"]
    area = next(rows for rows in first.values() if "cases" in rows[0] and "name" not in rows[0])
    assert area[0]["distance"] == 0.0
    assert area[0]["cases"] == pytest.approx(100 * PROBABILITIES[quantiles <= 0].max())
    assert "5 of 100: now" in texts(picture_bytes(chart, "svg"))


def test_pictures_of_the_record():
    cover = pd.DataFrame({"promised": [50, 80, 90], "held": [51.0, 77.0, 86.0]})
    assert "range for 80 of 100" in texts(picture_bytes(charts_record.kept_promises(cover), "svg"))
    ratios = pd.DataFrame(
        {"forecaster": ["ours", "straight line"], "ratio": [0.88, 1.0], "own": [True, False]}
    )
    assert "0.88" in texts(picture_bytes(charts_record.against_the_line(ratios), "svg"))
    pit = pd.DataFrame({"bin": range(10), "share": [0.1] * 10})
    assert "readings of 100" in texts(picture_bytes(charts_record.where_they_fell(pit), "svg"))


def test_pictures_of_a_plan():
    frame = pd.DataFrame({"label": ["Nov 2026"], "depth": ["rods down"], "p50": [36.0], "p80": [41.0]})
    assert texts(picture_bytes(charts_plan.windows(frame, "USD"), "svg")).count("rods down") == 2
    months = pd.date_range("2026-11-01", periods=24, freq="MS")
    risk = pd.DataFrame({"month": months, "without_work": np.linspace(0, 1, 24), "with_plan": 0.1})
    named = texts(picture_bytes(charts_plan.waiting(risk), "svg"))
    assert {"without any work", "with this plan"} <= set(named)


def test_how_far_an_engine_is_opened_has_no_colour_of_urgency():
    frame = pd.DataFrame({"label": ["a"], "order": [0], "depth": ["in place"], "p50": [1.0], "p80": [2.0]})
    drawn = json.dumps(charts_plan.windows(frame, "USD").to_dict())
    assert [look.fill for look in LOOKS.values() if look.fill in drawn and look.fill != "#ffffff"] == []
