"""The drawing: every place can be picked and reads aloud, tells without colour, holds no markup."""

import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from dashboard.pictures.drawing import LOOKS, Label, draw, swatch, to_svg
from dashboard.words.gear_places import Place, wheelsets

SVG = "{http://www.w3.org/2000/svg}"


def labelled(places, state="year", text="340"):
    return {place: Label(state, text, f"{place.words}: 340 mi") for place in places}


def everything(arrangement):
    axles = wheelsets(arrangement)
    places = [Place(w.group, w.number, side) for w in axles for side in ("L", "R", "")]
    return axles, [*places, Place("motion", 0, "L"), Place("motion", 0, "R")]


def buttons(drawing):
    root = ET.fromstring(to_svg(drawing))
    return root, [g for g in root.iter(f"{SVG}g") if g.get("role") == "button"]


@pytest.mark.parametrize("arrangement", ["4-8-2", "2-8-0", "0-6-0T", "2-6-6-2", "4-6-2+2-6-4", "2'D1'"])
def test_every_place_is_a_button_that_says_what_it_is(arrangement):
    axles, places = everything(arrangement)
    drawing = draw(axles, labelled(places), title="Running gear")
    _, found = buttons(drawing)
    assert sorted(b.get("data-place") for b in found) == sorted(p.key for p in places)
    assert all(b.get("tabindex") == "0" and "340 mi" in b.get("aria-label") for b in found)
    assert set(drawing.places) == set(places)


def test_wheels_of_an_axle_stand_one_over_the_other_and_none_overlap():
    axles, places = everything("4-8-2")
    root, found = buttons(draw(axles, labelled(places), title="t"))
    circles = {
        b.get("data-place"): b.find(f"{SVG}circle") for b in found if b.find(f"{SVG}circle") is not None
    }
    centre = {key: (float(c.get("cx")), float(c.get("r"))) for key, c in circles.items()}
    assert centre["driver-2-L"] == centre["driver-2-R"]
    row = sorted(centre[k] for k in centre if k.endswith("-L"))
    assert all(a[0] + a[1] < b[0] - b[1] for a, b in pairwise(row))
    width = float(root.get("width"))
    assert all(x - r > 0 and x + r < width for x, r in row)


def test_states_differ_in_more_than_colour():
    assert len({(look.pattern, look.word) for look in LOOKS.values()}) == len(LOOKS)
    assert len({look.word for look in LOOKS.values()}) == len(LOOKS)


def luminance(colour):
    """Relative luminance, WCAG 2.2 (definition of relative luminance, sRGB)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a, b):
    """Contrast ratio, WCAG 2.2 (definition of contrast ratio)."""
    light, dark = sorted([luminance(a), luminance(b)], reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_its_published_extremes():
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)  # WCAG 2.2: ranges from 1 to 21
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # just short of 4.5, a known trap


@pytest.mark.parametrize("state", sorted(LOOKS))
def test_numbers_are_readable_on_their_plate(state):
    assert contrast(LOOKS[state].fill, LOOKS[state].text) >= 4.5  # WCAG 2.2, 1.4.3, level AA


def test_states_fall_in_lightness_so_that_a_grey_print_shows_the_order():
    order = ["past", "year", "three", "later", "unknown"]
    light = [luminance(LOOKS[state].fill) for state in order]
    assert light == sorted(light)


def test_names_out_of_files_stay_text():
    place = Place("driver", 1, "L")
    evil = '<script>alert("x")</script>" onload="alert(1)'
    drawing = draw(wheelsets("0-4-0"), {place: Label("year", "<b>", evil)}, title=evil)
    root, found = buttons(drawing)
    assert found[0].get("aria-label") == evil
    assert not list(root.iter(f"{SVG}script"))
    assert not [e for e in root.iter() if any(name.lower().startswith("on") for name in e.attrib)]


def test_the_swatch_of_a_state_has_its_pattern():
    tags = [child[0] for child in swatch("year")[2]]
    assert tags.count("circle") == 3  # fill, pattern, ring
