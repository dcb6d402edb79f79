"""Pictures of the brief: bars and marks to scale, nothing written over."""

from dataclasses import replace
from xml.etree import ElementTree

import pandas as pd
import pytest
from briefs.example_case import AS_OF, EN, MADE_ON, OPENS, example

from dashboard.papers.brief import BriefSettings, campaign_of, compose, render_pdf
from dashboard.papers.brief_picture import RemainingPicture, remaining_picture
from dashboard.papers.campaign_picture import campaign_png, campaign_svg
from models.case.fund import FundPosition


def test_picture_tells_the_window_and_each_component(case):
    shown = RemainingPicture(case.seasons, case.remaining, 3_900.0, OPENS)
    picture = remaining_picture(shown, EN)
    texts = [node.text for node in ElementTree.fromstring(picture).iter() if node.tag.endswith("text")]
    assert "work planned: Nov 2027" in texts
    assert "2,500–6,100 mi" in texts
    assert {"2027", "2028", "driver tire", "crown brass"} <= set(texts)


def test_bars_are_as_long_as_the_miles(case):
    shown = RemainingPicture(case.seasons, case.remaining, 3_900.0, OPENS)
    root = ElementTree.fromstring(remaining_picture(shown, EN))
    sure = [
        float(r.get("width")) for r in root.iter() if r.tag.endswith("rect") and r.get("fill") == "#1f5a6e"
    ]
    assert sure[1] / sure[0] == pytest.approx(3_100 / 2_512, rel=1e-3)


def test_picture_of_many_components_counts_those_left_out():
    many = pd.DataFrame({"label": [f"part {i}" for i in range(12)], "note": "one place"})
    many = many.assign(p10=[1000.0 + i for i in range(12)], p50=2000.0, p90=3000.0)
    case = example(remaining=many)
    picture = remaining_picture(RemainingPicture(case.seasons, many, 3_900.0, OPENS), EN)
    assert "and 5 more that last longer" in picture
    assert "part 0" in picture
    assert "part 11" not in picture


def test_progress_picture_is_to_scale(case):
    campaign = campaign_of(case, BriefSettings())
    root = ElementTree.fromstring(campaign_svg(campaign, EN))
    boxes = {r.get("fill"): float(r.get("width")) for r in root.iter() if r.tag.endswith("rect")}
    assert boxes["#ffffff"] == 720  # its own ground, whatever page it stands on
    assert boxes["#1f5a6e"] / boxes["#f1f4f5"] == pytest.approx(52_300 / 148_000, rel=1e-3)
    assert "url(#stripes)" not in boxes  # what is pledged is told in words, never drawn as if it were in hand
    assert "Pledged, not counted: $8,000." in campaign_svg(campaign, EN)
    png = campaign_png(campaign, EN)
    assert png.startswith(b"\x89PNG")


@pytest.mark.parametrize("in_hand", [52_300.0, 148_000.0, 180_000.0, 400_000.0])
def test_marks_of_the_progress_picture_leave_what_is_in_hand_readable(case, in_hand):
    campaign = replace(campaign_of(case, BriefSettings()), in_hand=in_hand, promised=30_000.0)
    root = ElementTree.fromstring(campaign_svg(campaign, EN))
    label = next(t for t in root.iter() if t.tag.endswith("text") and (t.text or "").endswith("in hand"))
    foot = float(label.get("y"))
    marks = [each for each in root.iter() if each.get("stroke") == "#b3541e"]
    assert len(marks) == 2
    for mark in marks:
        top, bottom = float(mark.get("y1")), float(mark.get("y2"))
        assert bottom < foot - 12 or top > foot + 2


@pytest.mark.parametrize("in_hand", [0.0, -500.0, 1_000.0, 148_000.0, 400_000.0])
def test_progress_picture_holds_for_any_fund(in_hand):
    case = example(fund=FundPosition(AS_OF, in_hand, 0.0, 0.0, 0.0))
    brief = compose(case, BriefSettings(), MADE_ON)
    assert render_pdf(brief)[:5] == b"%PDF-"
    assert min(float(r.get("width", 1)) for r in ElementTree.fromstring(brief.progress).iter()) >= 0
