"""The choice of a limit: conditions, what was not stated, the railway's own, and which rule holds."""

from dataclasses import replace

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest import catalogue
from ingest.catalogue import Chosen, Condition, choose, holds, own_limits, parse_conditions
from ingest.catalogue.choice import Limit
from ingest.catalogue.conditions import in_words
from ingest.errors import UserError, WrongUsage

US = "us-cfr-230"


def own(*rows):
    columns = ["component", "quantity", "bound", "value", "unit", "condemned_when", "tier", "source", "group"]
    return own_limits(pd.DataFrame(rows, columns=columns[: len(rows[0])]), "in")


def test_conditions_are_met_unmet_or_open():
    conditions = parse_conditions("axle_load_lb > 30000; axle_load_lb <= 35000; main_axle = no")
    assert conditions[0] == Condition("axle_load_lb", ">", 30000.0)
    assert holds(conditions, {"axle_load_lb": 35000, "main_axle": "no"}) is True
    assert holds(conditions, {"axle_load_lb": 30000, "main_axle": "no"}) is False
    assert holds(conditions, {"axle_load_lb": 35000}) is None
    assert holds(conditions, {"axle_load_lb": 36000}) is False  # unmet already, whatever is not stated


@settings(deadline=None)
@given(st.floats(0, 1e5), st.floats(0, 1e5), st.sampled_from(["<", "<=", ">", ">=", "="]))
def test_comparisons_are_those_of_numbers(stated, value, operator):
    met = Condition("x", operator, value).met({"x": stated})
    expected = {"<": stated < value, "<=": stated <= value, ">": stated > value, ">=": stated >= value}
    assert met is expected.get(operator, stated == value)


def test_a_word_where_a_number_is_needed_is_refused():
    with pytest.raises(UserError, match="axle_load_lb: 'heavy' is not a number"):
        choose(US, "tire", "thickness", "driver", {"axle_load_lb": "heavy"}, bound="min")


def test_conditions_in_words():
    row = catalogue.limits(US).set_index("id").loc["US-112d-34"]
    words = "axle load over 35,000 to 40,000 lb, wheel center over 56 to 62 in"
    assert in_words(parse_conditions(row["conditions"])) == words


def test_what_is_not_stated_takes_the_strictest_row_and_says_so():
    stated = choose(US, "tire", "thickness", "driver", {"axle_load_lb": 52000, "center_in": 63}, bound="min")
    half = choose(US, "tire", "thickness", "driver", {"axle_load_lb": 52000}, bound="min")
    nothing = choose(US, "tire", "thickness", "driver", {}, bound="min")
    assert stated.limit.value == 1.8125
    assert half.limit.value == 1.9375  # the widest wheel center of that row
    assert half.unstated == ("center_in",)
    assert nothing.limit.value == 2.0
    assert "strictest row taken: axle load, wheel center diameter not stated" in nothing.text


def test_a_journal_of_unknown_original_diameter_gets_no_figure_but_a_reason():
    chosen = choose(US, "journal", "diameter", "engine truck", {}, bound="min")
    assert chosen.limit is None
    assert "loss of 1/2 in from the original dimension, which is not known" in chosen.reason
    assert "230.98(b)" in chosen.reason


def test_the_stricter_of_law_and_own_holds_and_the_text_says_which():
    facts = {"axle_load_lb": 52000, "center_in": 63}
    stricter = choose(
        US,
        "tire",
        "thickness",
        "driver",
        facts,
        bound="min",
        own=own(("tire", "thickness", "min", "2", "in")),
    )
    assert stricter.limit.value == 2.0
    assert stricter.text.startswith("the railway's own limit (stricter than 49 CFR 230.112(d)")
    laxer = choose(
        US,
        "tire",
        "thickness",
        "driver",
        facts,
        bound="min",
        own=own(("tire", "thickness", "min", "1 1/2", "in")),
    )
    assert laxer.limit.value == 1.8125
    assert "the railway's own 1.5 in is laxer and does not hold" in laxer.text


def test_at_the_same_figure_the_limit_that_condemns_at_it_is_stricter():
    mine = own(("tire", "flange height", "max", "1 1/2", "in", "at"))
    chosen = choose(US, "tire", "flange height", "driver", {"tire": "flanged"}, bound="max", own=mine)
    assert (chosen.limit.tier, chosen.limit.condemned_when) == ("own", "at")


def test_an_own_limit_that_cannot_be_held_against_the_law_says_so():
    mine = own(("journal", "diameter", "min", "7", "in", "at", "condemning", "shop order 12"))
    chosen = choose(US, "journal", "diameter", "trailing truck", {}, bound="min", own=mine)
    assert chosen.limit.value == 7.0
    assert "shop order 12" in chosen.text
    assert "not compared with the law" in chosen.text


def test_law_comes_before_practice_and_practice_before_nothing():
    chosen = choose(US, "wheel", "out of round", "tender", {}, bound="max")
    assert (chosen.limit.tier, chosen.limit.value) == ("practice", 3 / 64)
    hollow = choose(US, "wheel", "tread hollow", "tender", {}, bound="max")
    assert hollow.limit.tier == "law"


def test_without_a_set_only_the_own_limits_hold():
    mine = own(("shoe", "thickness", "min", "1/2", "in"))
    assert choose("", "shoe", "thickness", "driver", {}, bound="min", own=mine).limit.value == 0.5
    nothing = choose("", "tire", "thickness", "driver", {}, bound="min", own=mine)
    assert "the railway sets its own limit" in nothing.reason


def test_a_set_that_is_not_known_is_refused():
    with pytest.raises(WrongUsage, match=r"'uk' is not known\. Known are us-cfr-230, de-ebo, at-eisbbbv"):
        choose("uk", "tire", "thickness", "driver", {}, bound="min")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (("tire", "thickness", "least", "2", "in"), "row 1: bound 'least'. Expected min or max"),
        (("tire", "thickness", "min", "two", "in"), "row 1: value 'two' is no figure"),
        (("tire", "thickness", "min", "1/0", "in"), "row 1: value '1/0' is no figure"),
        (("tire", "thickness", "min", "", "in"), "row 1: no value"),
        (("tire", "thickness", "min", "2", ""), "row 1: unit '' cannot be read"),
        (("tire", "thickness", "min", "2", "in", "maybe"), "condemned_when 'maybe'"),
        (("tire", "thickness", "min", "2", "in", "at", "hard"), "tier 'hard'"),
    ],
)
def test_own_limits_that_cannot_be_read_are_refused_in_words(row, words):
    with pytest.raises(WrongUsage, match=words.replace("(", r"\(")):
        own(row)


def test_own_limits_come_into_the_unit_of_the_set():
    table = own(("tire", "thickness", "min", "50.8", "mm"), ("spring", "broken leaves", "max", "2", "count"))
    assert table["value"].tolist() == [2.0, 2.0]
    assert table["unit"].tolist() == ["in", "count"]
    assert own(("tire", "thickness", "min", "1-13/16", "in"))["value"].tolist() == [1.8125]


def test_own_limits_without_a_needed_column_are_refused():
    with pytest.raises(WrongUsage, match="column 'bound' is missing"):
        own_limits(pd.DataFrame({"component": ["tire"], "quantity": ["thickness"]}), "in")


def test_published_life_of_a_bushing():
    # Railway Mechanical Engineer, about 1917-18: 40,000 miles passenger, 44,000 freight.
    lives = catalogue.lives()
    rods = lives[(lives["component"] == "main rod") & (lives["quantity"] == "back end clearance")]
    assert dict(zip(rods["service"], rods["miles"], strict=True)) == {
        "passenger": 40000.0,
        "freight": 44000.0,
    }
    hollow = (lives["component"] == "tire") & (lives["quantity"] == "tread hollow")
    assert not hollow.any()  # no published rate was found: none is given


def test_every_row_names_a_source_that_is_listed():
    known = set(catalogue.sources()["source"])
    for table in (
        catalogue.limits(),
        catalogue.lives(),
        catalogue.fits(),
        catalogue.clocks(),
        catalogue.defects(),
    ):
        assert set(table["source"]) <= known
    assert catalogue.limits()["id"].is_unique


def test_every_row_was_read_and_says_where():
    rows = catalogue.limits()
    assert set(rows["status"]) == {"found"}
    assert (rows["read_in"] != "").all()
    assert set(rows["grade"]) <= {"A", "B"}


def test_a_figure_that_was_not_read_in_its_text_is_marked_wherever_it_is_shown():
    recalled = Limit("x", "max", 1.0, "in", "beyond", "law", "memory", "49 CFR 230.1")
    assert "not read in the text" in Chosen(recalled).text
    assert "not read in the text" not in Chosen(replace(recalled, status="found")).text


def test_fits_are_those_of_their_sources():
    fits = catalogue.fits().set_index("id")["number"]
    # Ahrons 1921 pp. 60, 64, 128; Railway and Locomotive Engineering, article on rod brasses.
    expected = {
        "F1": 1.5,
        "F2a": 1 / 32,
        "F2b": 1 / 64,
        "F4": 0.021,
        "F5a": 60,
        "F5b": 90,
        "F5c": 120,
        "F7": 0.05,
    }
    expected |= {"GB-1": 3, "GB-2": 1.5, "GB-3": 1.75}
    assert fits.to_dict() == expected


def test_a_set_is_recognised_by_what_its_limits_cite():
    assert catalogue.set_of_source("49 CFR 230.113(h)") == US
    assert catalogue.set_of_source("EBO Anlage 6") == "de-ebo"
    assert catalogue.set_of_source("the railway's own limit") == ""


def test_assumptions_are_replaced_by_the_class_first_then_by_the_railway():
    mine = pd.DataFrame(
        {
            "assumption": ["clean_up", "clean_up"],
            "value": ["1/8", "1/32"],
            "class": ["", "K"],
            "source": ["a", ""],
        }
    )
    for vehicle_class, value in (("", 0.125), ("K", 0.03125), ("L", 0.125)):
        table = catalogue.assumptions("turning", vehicle_class, mine).set_index("assumption")
        assert table.loc["clean_up", "value"] == value
    assert catalogue.assumptions("turning").set_index("assumption").loc["clean_up", "value"] == 1 / 16
    with pytest.raises(WrongUsage, match="'cleanup' is not known"):
        catalogue.assumptions("turning", "", pd.DataFrame({"assumption": ["cleanup"], "value": ["1"]}))


def test_every_assumption_says_where_it_comes_from():
    for topic in ("turning", "crown", "lifetimes"):
        table = catalogue.assumptions(topic)
        assert (table["source"] != "").all()
        assert (table["meaning"] != "").all()


@pytest.mark.parametrize(
    ("component", "quantity", "expected"),
    [
        ("Driver tire", "Thickness", ("tire", "thickness")),
        ("tyre", "thickness", ("tire", "thickness")),
        ("driving journal", "diameter", ("journal", "diameter")),
        ("tender wheel", "flange height", ("wheel", "flange height")),
        ("connecting rod big end", "clearance", ("main rod", "back end clearance")),
        ("brake hanger pin", "clearance", ("", "")),
        ("spring hanger pin", "clearance", ("spring rigging pin", "clearance")),
        ("boiler", "thickness", ("", "")),
    ],
)
def test_parts_are_known_by_their_words(component, quantity, expected):
    assert catalogue.part_and_measure(component, quantity) == expected


def test_positions_give_group_axle_and_side():
    points = pd.DataFrame(
        {
            "component": ["driver tire", "side rod", "wrist pin", "driver wheelset", "tire"],
            "quantity": ["thickness", "bore centers", "diameter", "back to back", "thickness"],
            "position": ["driver 2 left", "driver 1-2 right", "left", "driver 3", "somewhere"],
        }
    )
    got = catalogue.classify(points)[["group", "axle", "axle_to", "side"]].to_numpy().tolist()
    assert got == [
        ["driver", 2, 0, "left"],
        ["driver", 1, 2, "right"],
        ["", 0, 0, "left"],
        ["driver", 3, 0, ""],
        ["", 0, 0, ""],
    ]


def test_the_laws_limit_beside_the_sheets_own():
    points = pd.DataFrame(
        {
            "point": ["a", "b", "c"],
            "vehicle": "Alder",
            "component": ["driver tire", "driving journal", "shoe"],
            "quantity": ["tread hollow", "diameter", "thickness"],
            "position": ["driver 1 left", "driver 2 left", "driver 1 left"],
            "new_value": [0.0, 10 * 25.4, float("nan")],
            "condemning_limit": [9.0, 9.5 * 25.4, float("nan")],
            "base_unit": "mm",
        }
    )
    law = catalogue.law_limits_of(points, US, {"main_axle": 3}).set_index("point")
    assert law.loc["a", "law_limit"] == pytest.approx(5 / 16 * 25.4)
    assert law.loc["b", "law_limit"] == pytest.approx(9.25 * 25.4)  # driver 2 is not the main one
    assert law.loc["c", "law_reason"].startswith("49 CFR 230.104")


@pytest.mark.parametrize(
    ("center", "new_tire", "limit", "unstated"),
    [
        (55.0, 75.0, 20.0, ""),  # 55 in and two tires of 75 mm: 1547 mm
        (28.0, 75.0, 20.0, ""),  # 861.2 mm, the center alone 711.2: over 840 by its tire
        (26.0, 75.0, 27.5, ""),  # 810.4 mm: a small wheel
        (55.0, float("nan"), 27.5, "wheel diameter"),
        (None, 75.0, 27.5, "wheel diameter"),
    ],
)
def test_a_flange_is_judged_by_the_wheel_that_center_and_new_tire_make(center, new_tire, limit, unstated):
    points = pd.DataFrame(
        {
            "point": ["flange", "tire", "of another axle", "of the tender"],
            "vehicle": "Alder",
            "component": ["driver tire", "driver tire", "driver tire", "tender wheel"],
            "quantity": ["flange thickness", "thickness", "flange thickness", "flange thickness"],
            "position": ["driver 1 left", "driver 1 right", "driver 2 left", "tender 1 left"],
            "new_value": [32.0, new_tire, 32.0, 32.0],
            "condemning_limit": [22.0, 35.0, 22.0, 22.0],
            "base_unit": "mm",
        }
    )
    facts = {"service": "domestic"} | ({} if center is None else {"center_in": center})
    law = catalogue.law_limits_of(points, "de-ebo", facts).set_index("point")
    asked = ["law_limit", "law_unstated"]
    assert law.loc["flange", asked].tolist() == [limit, unstated]
    assert law.loc["of another axle", asked].tolist() == [27.5, "wheel diameter"]
    assert law.loc["of the tender", asked].tolist() == [27.5, "carrying wheel diameter"]
    stated = catalogue.law_limits_of(points, "de-ebo", facts | {"wheel_mm": 700.0}).set_index("point")
    assert stated.loc["flange", "law_limit"] == 27.5  # what is stated comes first


def test_the_driving_wheels_diameter_says_nothing_of_the_carrying_wheels():
    ask = {"bound": "min", "component": "wheel", "quantity": "flange thickness", "group": "tender"}
    driving = {"wheel_mm": 1500.0, "service": "domestic", "tire": "flanged"}
    # EBO Anlage 6, Sd: at least 20 mm on wheels over 840 mm in domestic service, 27.5 mm on smaller ones.
    taken = choose("de-ebo", facts=driving, **ask)
    assert (taken.limit.value, taken.unstated) == (27.5, ("carrying_wheel_mm",))
    assert choose("de-ebo", facts=driving | {"carrying_wheel_mm": 1000.0}, **ask).limit.value == 20
    assert choose("de-ebo", facts=driving | {"carrying_wheel_mm": 800.0}, **ask).limit.value == 27.5
    assert choose("de-ebo", facts=driving | {"kind": "coach"}, **ask).limit.value == 20
    assert choose("de-ebo", facts=driving, **ask | {"group": "driver"}).limit.value == 20


def test_a_new_diameter_on_the_sheet_is_the_wheels():
    points = pd.DataFrame(
        {
            "point": ["flange", "wheel"],
            "vehicle": "Alder",
            "component": "tender wheel",
            "quantity": ["flange thickness", "diameter"],
            "position": ["tender 1 left", "tender 1 right"],
            "new_value": [32.0, 1000.0],
            "condemning_limit": [22.0, float("nan")],
            "base_unit": "mm",
        }
    )
    law = catalogue.law_limits_of(points, "de-ebo", {"service": "domestic"}).set_index("point")
    assert law.loc["flange", ["law_limit", "law_unstated"]].tolist() == [20.0, ""]


def test_differences_come_in_millimeters_with_the_own_ones():
    mine = own(
        ("check", "tram", "max", "0.01", "in"), ("check", "bushing interference", "min", "0.0005", "1")
    )
    table = catalogue.difference_limits(US, {"gauge": "standard"}, mine).set_index("check")
    assert table.loc["same axle diameters", "limit"] == pytest.approx(3 / 32 * 25.4)
    assert table.loc["tram", ["limit", "base_unit", "tier"]].tolist() == [pytest.approx(0.254), "mm", "own"]
    assert table.loc["bushing interference", ["limit", "base_unit"]].tolist() == [0.0005, "1"]
    assert table.loc["back to back", "limit"].tolist() == [pytest.approx(1346.2), pytest.approx(1355.725)]
    narrow = catalogue.difference_limits(US, {"gauge": "narrow", "track_gage_in": 36.0}).set_index("check")
    assert narrow.loc["back to back", "limit"].tolist() == [pytest.approx(825.5), pytest.approx(835.025)]
