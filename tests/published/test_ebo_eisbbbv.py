"""The catalogue against the wheel tables of Germany and Austria, row by row. Millimeters.

Sources: Eisenbahn-Bau- und Betriebsordnung (EBO), Anlage 6 (zu § 21), BGBl. I 1991 Nr. 30, as on
gesetze-im-internet.de; Eisenbahnbau- und -betriebsverordnung (EisbBBV), Anlage 2 (zu § 72), as on
gesetzefinden.at. Both give the least and the greatest dimension: the figure itself passes. Deutsche
Reichsbahn: Handbuch für Werkmeister pp. 4 and 6 (after DV 946) and DV 947/300 Anhang 14 § 4. Figures typed
from those texts; tolerance: none.
"""

import pytest

from ingest import catalogue

BIG, MEDIUM, SMALL = 1600.0, 800.0, 700.0  # wheel diameters over 840; to 840 and over 760; to 760

# part, measure, wheel diameter, other facts, least, greatest (None: none given)
GERMANY = [
    ("wheelset", "over flanges", BIG, {"intermediate": "no"}, 1410, 1426),
    ("wheelset", "over flanges", BIG, {"intermediate": "yes"}, 1395, 1426),
    ("wheelset", "over flanges", MEDIUM, {}, 1415, 1426),
    ("wheelset", "back to back", BIG, {}, 1357, 1363),
    ("wheelset", "back to back", MEDIUM, {}, 1359, 1363),
    ("tire", "width", BIG, {"service": "domestic", "rail_brakes": "no"}, 130, 150),
    ("tire", "width", BIG, {"service": "domestic", "rail_brakes": "yes"}, 133, 150),
    ("tire", "width", BIG, {"service": "cross-border", "rail_brakes": "no"}, 133, 140),
    ("tire", "flange thickness", BIG, {"service": "domestic"}, 20, 33),
    ("tire", "flange thickness", BIG, {"service": "cross-border"}, 22, 33),
    ("tire", "flange thickness", MEDIUM, {}, 27.5, 33),
    ("tire", "flange height", BIG, {}, 26, 36),
    ("tire", "flange height", MEDIUM, {}, 26, 36),
    ("tire", "flange height", SMALL, {}, 32, 38),
    ("tire", "thickness", BIG, {"coach": "no"}, 25, None),
    ("tire", "thickness", BIG, {"coach": "yes", "service": "cross-border"}, 35, None),
    ("tire", "flange gradient", BIG, {}, 6.5, None),
]
AUSTRIA = [
    ("wheelset", "over flanges", BIG, {"intermediate": "no"}, 1410, 1426),
    ("wheelset", "over flanges", MEDIUM, {}, 1415, 1426),
    ("wheelset", "back to back", BIG, {}, 1357, 1363),
    ("wheelset", "back to back", MEDIUM, {}, 1359, 1363),
    ("tire", "width", BIG, {"service": "domestic", "rail_brakes": "no"}, 130, 145),
    ("tire", "width", BIG, {"service": "cross-border", "rail_brakes": "no"}, 133, 145),
    ("tire", "flange thickness", BIG, {"service": "domestic"}, 20, 33),
    ("tire", "flange thickness", BIG, {"service": "cross-border"}, 22, 33),
    ("tire", "flange thickness", MEDIUM, {}, 27.5, 33),
    ("tire", "flange height", BIG, {}, 27.5, 36),
    ("tire", "flange height", SMALL, {}, 30, 36),
    ("tire", "flange height", 600.0, {}, 32, 36),
    ("tire", "thickness", BIG, {"coach": "no"}, 25, None),
    ("tire", "thickness", BIG, {"coach": "yes", "service": "cross-border"}, 35, None),
    ("tire", "flange gradient", BIG, {}, 6.5, None),
]
CASES = [("de-ebo", *row) for row in GERMANY] + [("at-eisbbbv", *row) for row in AUSTRIA]


@pytest.mark.parametrize(("limit_set", "part", "measure", "wheel", "facts", "least", "greatest"), CASES)
def test_every_figure_equals_its_text(limit_set, part, measure, wheel, facts, least, greatest):
    stated = {"wheel_mm": wheel, "tire": "flanged", **facts}
    for bound, figure in (("min", least), ("max", greatest)):
        chosen = catalogue.choose(limit_set, part, measure, "driver", stated, bound=bound)
        if figure is None:
            assert chosen.limit is None
            continue
        assert chosen.limit.value == figure
        assert chosen.limit.condemned_when == "beyond"
        assert chosen.limit.unit == "mm"
        assert not chosen.unstated


@pytest.mark.parametrize(
    ("wheel", "least"), [(840.0, 27.5), (840.1, 20.0), (330.0, 27.5)]
)  # ">840" and "840-330": 840 itself is of the smaller wheels
def test_edges_of_the_diameter_bands(wheel, least):
    facts = {"wheel_mm": wheel, "service": "domestic", "tire": "flanged"}
    assert (
        catalogue.choose("de-ebo", "tire", "flange thickness", "driver", facts, bound="min").limit.value
        == least
    )


def test_at_an_edge_that_two_bands_share_the_stricter_holds():
    # EisbBBV: ">= 760" and "760-630" both hold at 760.
    facts = {"wheel_mm": 760.0, "tire": "flanged"}
    assert (
        catalogue.choose("at-eisbbbv", "tire", "flange height", "driver", facts, bound="min").limit.value
        == 30
    )


def test_the_austrian_and_german_height_differ():
    german, austrian = (
        catalogue.choose(
            name, "wheel", "flange height", "tender", {"carrying_wheel_mm": 1000.0}, bound="min"
        ).limit.value
        for name in ("de-ebo", "at-eisbbbv")
    )
    assert (german, austrian) == (26, 27.5)


# Handbuch für Werkmeister: item, Werkgrenzmaß (shop), Betriebsgrenzmaß (operating).
REICHSBAHN = [
    ("valve crosshead", "guide clearance", {}, 1.0, 1.5),  # 1.3
    ("valve crosshead", "packing thickness", {}, 3.0, 5.0),  # 1.4
    ("valve liner", "out of round", {"valve_mm": 200}, 0.4, 1.1),  # 1.5
    ("valve liner", "out of round", {"valve_mm": 220}, 0.4, 1.1),
    ("valve liner", "out of round", {"valve_mm": 250}, 0.4, 1.3),
    ("valve liner", "out of round", {"valve_mm": 300}, 0.4, 1.5),
    ("eccentric rod pin", "clearance", {}, 0.4, 1.5),  # 2.7
    ("expansion link", "side play", {}, 2.0, 3.0),  # 2.6
    ("eccentric rod pin", "side play", {}, 0.5, 2.0),  # 2.8
    ("reversing shaft", "side play", {}, 3.0, 5.0),  # 2.9
    ("reversing shaft", "bearing clearance", {}, 0.5, 2.0),  # 2.9.1
    ("cylinder", "out of round", {"duty": "fast"}, 0.6, 2.0),  # B 1.1
    ("cylinder", "out of round", {"duty": "other"}, 1.2, 2.5),
    ("cylinder", "out of round", {"duty": "shunting"}, 1.5, 3.0),
]


@pytest.mark.parametrize(("part", "measure", "facts", "shop", "operating"), REICHSBAHN)
def test_shop_and_operating_limits_of_the_reichsbahn(part, measure, facts, shop, operating):
    for tier, figure in (("shop", shop), ("condemning", operating)):
        chosen = catalogue.choose("de-ebo", part, measure, "", facts, bound="max", tier=tier)
        assert chosen.limit.value == figure


def test_axle_spacing_and_box_fit_when_resetting():
    rows = catalogue.limits("de-ebo").set_index("id")
    assert (rows.loc["DR-15", "number"], rows.loc["DR-14", "number"]) == (0.5, 0.2)


def test_no_row_of_the_two_countries_is_left_without_a_check():
    rows = catalogue.limits()
    metric = rows[rows["limit_set"] != "us-cfr-230"]
    checked = {(name, part, measure) for name, part, measure, *_ in CASES} | {
        ("de-ebo", part, measure) for part, measure, *_ in REICHSBAHN
    }
    checked |= {("de-ebo", "axle spacing", "axle centers"), ("de-ebo", "driving box", "pedestal fit")}
    there = {
        (row.limit_set, part, row.quantity)
        for row in metric.itertuples()
        for part in row.component.split("|")
        if not (part == "wheel" and "tire" in row.component)  # a row for both is checked on the tire
    }
    assert there == checked


def test_a_wheelset_right_under_one_family_is_wrong_under_the_other():
    # 230.112(b): 53 to 53 3/8 in is 1346.2 to 1355.7 mm; EBO: from 1357 mm on.
    american = catalogue.choose(
        "us-cfr-230", "wheelset", "back to back", "", {"gauge": "standard"}, bound="max"
    )
    german = catalogue.choose("de-ebo", "wheelset", "back to back", "", {"wheel_mm": BIG}, bound="min")
    assert american.limit.value * 25.4 < german.limit.value
