"""Checks across points, each where it passes, where it fails, and at the figure itself."""

import pandas as pd
import pytest

from ingest.catalogue import families
from models.checks.cross_checks import check_all, latest_readings
from models.checks.findings_frame import COLUMNS, strictest

INCH = 25.4
LIMITS = pd.DataFrame(
    [
        ["same axle diameters", "max", 3 / 32 * INCH, "mm", "beyond", "law", "49 CFR 230.112(a)"],
        ["coupled diameters", "max", 3 / 32 * INCH, "mm", "beyond", "shop", "49 CFR 230.113(k)"],
        ["back to back", "min", 53 * INCH, "mm", "beyond", "law", "49 CFR 230.112(b)"],
        ["back to back", "max", 53.375 * INCH, "mm", "beyond", "law", "49 CFR 230.112(b)"],
        ["back to back around the axle", "max", INCH / 4, "mm", "beyond", "law", "49 CFR 230.112(c)"],
        ["main rod lost motion", "max", 5 / 32 * INCH, "mm", "beyond", "law", "49 CFR 230.96(f)"],
        ["rod bearing clearance", "max", 5 / 32 * INCH, "mm", "beyond", "law", "49 CFR 230.96(g)"],
        ["bearing clearance", "max", 1.0, "mm", "at", "own", "the railway's own limit"],
        ["bushing interference", "min", 0.0005, "1", "at", "own", "the railway's own limit"],
    ],
    columns=["check", "bound", "limit", "base_unit", "condemned_when", "tier", "source"],
)


def point(name, part, measure, position, value, **more):
    words = position.split()
    side = words[-1] if words[-1] in ("left", "right") else ""
    axles = next((word for word in words if word[0].isdigit()), "0").split("-")
    return {
        "point": name,
        "vehicle": "M1",
        "position": position,
        "matched_set": "M1 drivers" if part == "tire" else "",
        "part": part,
        "measure": measure,
        "group": "driver" if words[0] == "driver" else "",
        "axle": int(axles[0]),
        "axle_to": int(axles[1]) if len(axles) > 1 else 0,
        "side": side,
        "new_value": float("nan"),
        "condemning_limit": float("nan"),
        "condemned_when": "at",
        "limit_source": "",
        "base_unit": "mm",
        "value": value,
    } | more


def found(*points, readings=None, limits=LIMITS, **more):
    table = pd.DataFrame(points)
    if readings is None:
        readings = pd.DataFrame(
            {"point": table["point"], "value": table["value"], "date": pd.Timestamp("2025-03-01")}
        )
    return check_all(table.drop(columns="value"), latest_readings(readings), limits, **more)


def one(table, check):
    rows = table[table["check"] == check]
    assert len(rows) == 1, table
    return rows.iloc[0]


@pytest.mark.parametrize(
    ("difference", "verdict"),
    [(3 / 32, "within"), (3 / 32 + 1e-4, "condemned"), (0.0, "within")],
)  # the law: "shall not vary more than 3/32 inch"
def test_diameters_of_one_axle(difference, verdict):
    row = one(
        found(
            point("a", "tire", "diameter", "driver 2 left", 70 * INCH),
            point("b", "tire", "diameter", "driver 2 right", (70 + difference) * INCH),
        ),
        "same axle diameters",
    )
    assert row["verdict"] == verdict
    assert row["found"] == pytest.approx(difference * INCH)
    assert row["source"] == "49 CFR 230.112(a)"
    assert (row["remedy"] == "") == (verdict == "within")


def test_diameters_of_the_coupled_axles_are_a_shop_matter():
    table = found(
        point("a", "tire", "diameter", "driver 1 left", 1778.0),
        point("b", "tire", "diameter", "driver 1 right", 1778.5),
        point("c", "tire", "diameter", "driver 2 left", 1780.0),
        point("d", "tire", "diameter", "driver 2 right", 1780.9),
    )
    row = one(table, "coupled diameters")
    assert row["found"] == pytest.approx(2.9)
    assert row["verdict"] == "not fit to leave the shop"
    assert row["detail"].startswith("largest driver 2 right, smallest driver 1 left")
    assert set(table.loc[table["check"] == "same axle diameters", "verdict"]) == {"within"}


def test_thickness_stands_for_a_diameter_that_nobody_measured():
    table = found(
        point("a", "tire", "thickness", "driver 1 left", 60.0),
        point("b", "tire", "thickness", "driver 1 right", 61.5),
    )
    row = one(table, "same axle diameters")
    assert row["found"] == pytest.approx(3.0)
    assert row["verdict"] == "past its limit"  # by way of the thickness: nobody has measured a diameter
    assert row["remedy"] == "Measure the diameters over the tread."
    assert "wheel centers taken alike" in row["detail"]


def test_a_measured_diameter_is_never_held_against_a_thickness():
    table = found(
        point("a", "tire", "diameter", "driver 1 left", 1778.0),
        point("b", "tire", "diameter", "driver 1 right", 1778.0),
        point("c", "tire", "thickness", "driver 1 left", 60.0),
        point("d", "tire", "thickness", "driver 1 right", 69.0),
    )
    assert one(table, "same axle diameters")["found"] == 0.0


@pytest.mark.parametrize(
    ("inches", "verdict"),
    [(52.99, "condemned"), (53.0, "within"), (53.375, "within"), (53.376, "condemned")],
)
def test_back_to_back(inches, verdict):
    table = found(point("a", "wheelset", "back to back", "driver 1", inches * INCH))
    assert len(table) == 2  # one row a bound
    assert table["verdict"].iloc[0] == verdict  # the worst comes first
    assert table["verdict"].iloc[1] == "within"


def test_back_to_back_around_the_axle_takes_all_readings_of_the_day():
    points = point("a", "wheelset", "back to back", "driver 1", 0.0)
    readings = pd.DataFrame(
        {
            "point": "a",
            "value": [53.05 * INCH, 53.31 * INCH, 53.2 * INCH, 60 * INCH],
            "date": pd.to_datetime(["2025-03-01"] * 3 + ["2020-01-01"]),
        }
    )
    row = one(found(points, readings=readings), "back to back around the axle")
    assert row["found"] == pytest.approx(0.26 * INCH)
    assert row["verdict"] == "condemned"


def rod(centers, spacing, front=0.4, back=0.6):
    return [
        point("r", "side rod", "bore centers", "driver 1-2 left", centers),
        point("s", "axle spacing", "axle centers", "driver 1-2 left", spacing),
        point("c1", "side rod", "clearance", "driver 1 left", front),
        point("c2", "side rod", "clearance", "driver 2 left", back),
    ]


@pytest.mark.parametrize(
    ("centers", "verdict"),
    [
        (1700.0, "within"),
        (1700.5, "within"),
        (1700.51, "not fit to leave the shop"),
        (1699.4, "not fit to leave the shop"),
    ],
)
def test_rod_bores_equal_the_axle_spacing_or_the_rods_bind(centers, verdict):
    # Common practice, no source: bores center to center equal the axle spacing of their side; the bearings
    # take up half of their clearances, here (0.4 + 0.6)/2.
    row = one(found(*rod(centers, 1700.0)), "tram")
    assert row["verdict"] == verdict
    assert row["limit"] == pytest.approx(0.5)
    assert "common practice, no source" in row["source"]


def test_a_stated_tolerance_of_the_tram_stands_over_the_take_up():
    own = pd.DataFrame([["tram", "max", 0.1, "mm", "beyond", "own", "shop order 3"]], columns=LIMITS.columns)
    row = one(found(*rod(1700.2, 1700.0), limits=pd.concat([LIMITS, own])), "tram")
    assert (row["verdict"], row["limit"], row["source"]) == ("condemned", 0.1, "shop order 3")


def test_a_tram_without_clearances_or_tolerance_says_that_none_is_stated():
    row = one(found(*rod(1700.2, 1700.0)[:2]), "tram")
    assert row["verdict"] == "cannot be told"
    assert "state one" in row["source"]
    assert "rod longer than the axle spacing" in row["detail"]


def test_the_rod_of_one_side_is_not_held_against_the_spacing_of_the_other():
    table = found(
        point("r", "side rod", "bore centers", "driver 1-2 left", 1700.0),
        point("s", "axle spacing", "axle centers", "driver 1-2 right", 1710.0),
    )
    assert "tram" not in set(table["check"])


def test_axles_stand_square_where_both_sides_agree():
    table = found(
        point("s", "axle spacing", "axle centers", "driver 1-2 left", 1700.0),
        point("t", "axle spacing", "axle centers", "driver 1-2 right", 1700.7),
    )
    row = one(table, "axle spacing, left against right")
    assert row["found"] == pytest.approx(0.7)
    assert row["position"] == "driver 1-2"


def test_lost_motion_is_both_ends_together():
    table = found(
        point("f", "main rod", "front end clearance", "left", 1.5),
        point("b", "main rod", "back end clearance", "left", 2.5),
        point("g", "main rod", "front end clearance", "right", 1.5),
        point("h", "main rod", "back end clearance", "right", 2.4),
    )
    rows = table[table["check"] == "main rod lost motion"].set_index("position")
    assert rows["found"].to_dict() == {"left": pytest.approx(4.0), "right": pytest.approx(3.9)}
    assert rows["verdict"].to_dict() == {"left": "condemned", "right": "within"}


def test_clearance_of_bores_and_pins_measured_apart():
    table = found(
        point("b", "side rod bushing", "bore", "driver 3 left", 154.0),
        point("p", "crank pin", "diameter", "driver 3 left", 149.9),
        point("x", "crown brass", "bore", "driver 3 left", 255.0),
        point("j", "journal", "diameter", "driver 3 left", 254.0),
    )
    assert one(table, "rod bearing clearance")["verdict"] == "condemned"
    at = one(table, "bearing clearance")
    assert at["found"] == pytest.approx(1.0)
    assert at["verdict"] == "condemned"  # the railway's own limit condemns at 1.0


@pytest.mark.parametrize(
    ("outside", "verdict"), [(180.2, "within"), (180.08, "condemned"), (179.9, "condemned")]
)
def test_bushings_are_a_press_fit(outside, verdict):
    # Common practice, no source: a bushing is pressed in and renews the hole instead of the forging.
    table = found(
        point("o", "side rod bushing", "outside diameter", "driver 1 left", outside),
        point("b", "side rod", "bore", "driver 1 left", 180.0),
    )
    assert one(table, "bushing interference")["verdict"] == verdict


def law(**rows):
    columns = [
        "bound",
        "law_limit",
        "law_condemned_when",
        "law_source",
        "law_tier",
        "law_unstated",
        "law_laxest",
    ]
    table = pd.DataFrame.from_dict(rows, orient="index", columns=columns).rename_axis("point").reset_index()
    return table.assign(law_laxest=table["law_laxest"].astype(float).fillna(table["law_limit"]))


def test_a_limit_laxer_than_the_law_is_found():
    text = "49 CFR 230.113(h)"
    table = found(
        point("lax", "tire", "tread hollow", "driver 1 left", 1.0, condemning_limit=9.0),
        point("same", "tire", "tread hollow", "driver 1 right", 1.0, condemning_limit=7.9375),
        point(
            "edge",
            "tire",
            "tread hollow",
            "driver 2 left",
            1.0,
            condemning_limit=7.9375,
            condemned_when="beyond",
        ),
        point("none", "tire", "tread hollow", "driver 2 right", 1.0),
        point("strict", "tire", "tread hollow", "driver 3 left", 1.0, condemning_limit=5.0),
        law=law(
            **{
                name: ["max", 7.9375, "at", text, "law", "", None]
                for name in ("lax", "same", "edge", "none", "strict")
            }
        ),
    )
    rows = table[table["check"] == "limit against the law"].set_index("points")
    assert rows["position"].to_dict() == {
        "lax": "driver 1 left",
        "edge": "driver 2 left",
        "none": "driver 2 right",
    }
    assert rows["verdict"].to_dict() == {
        "lax": "limit laxer than the law",
        "edge": "limit laxer than the law",
        "none": "cannot be told",
    }
    assert rows.loc["edge", "detail"].startswith("the same figure, but the law condemns a part that is at it")
    assert rows.loc["lax", "detail"] == "the sheet's limit is laxer"


def test_what_hangs_on_a_fact_not_stated_is_laxer_only_below_the_laxest_row():
    text = ["min", 50.8, "beyond", "49 CFR 230.112(d)", "law", "axle_load_lb", 31.75]
    table = found(
        point("thin", "tire", "thickness", "driver 1 left", 60.0, condemning_limit=30.0),
        point("open", "tire", "thickness", "driver 1 right", 60.0, condemning_limit=40.0),
        point("open too", "tire", "thickness", "driver 2 right", 60.0, condemning_limit=40.0),
        point("thick", "tire", "thickness", "driver 2 left", 60.0, condemning_limit=51.0),
        law=law(**dict.fromkeys(("thin", "open", "open too", "thick"), text)),
    )
    rows = table[table["check"] == "limit against the law"].set_index("points")
    assert rows["verdict"].to_dict() == {
        "thin": "limit laxer than the law",
        "open, open too": "cannot be told",
    }
    assert rows.loc["open, open too", "remedy"] == "State axle_load_lb: the law's limit depends on it."


def test_the_other_bound_is_held_too():
    other = law(a=["min", 25.4, "beyond", "49 CFR 230.113(i)", "law", "", None])
    low = found(point("a", "tire", "flange height", "driver 1 left", 25.3), other=other)
    assert one(low, "other bound of the law")["verdict"] == "condemned"
    fine = found(point("a", "tire", "flange height", "driver 1 left", 25.4), other=other)
    assert "other bound of the law" not in set(fine["check"])


def test_sets_are_never_mixed_on_one_vehicle():
    american = point("a", "tire", "tread hollow", "driver 1 left", 1.0, limit_source="49 CFR 230.113(h)")
    german = point("b", "tire", "width", "driver 1 left", 130.0, limit_source="EBO Anlage 6 (zu § 21)")
    own = point("c", "tire", "thickness", "driver 1 left", 60.0, limit_source="the railway's own limit")
    mixed = one(found(american, german, own, families=families()), "limit sets mixed")
    assert mixed["verdict"] == "condemned"
    assert "American and Central European" in mixed["detail"]
    for points, governs in (([american], ""), ([american, own], "us"), ([german], "ce"), ([own], "us")):
        pure = found(*points, families=families(), governs=governs)
        assert "limit sets mixed" not in set(pure["check"])
    one(found(american, families=families(), governs="ce"), "limit sets mixed")


def test_the_last_reading_counts_and_later_ones_than_as_of_do_not():
    readings = pd.DataFrame(
        {"point": "a", "value": [1.0, 2.0, 4.0, 9.0, float("nan")]}
        | {"date": pd.to_datetime(["2020-01-01", "2024-05-01", "2024-05-01", "2025-01-01", "2025-06-01"])}
    )
    last = latest_readings(readings, pd.Timestamp("2024-12-31")).iloc[0]
    assert last[["value", "low", "high", "places"]].tolist() == [3.0, 2.0, 4.0, 2]
    assert latest_readings(readings).iloc[0]["value"] == 9.0


def test_the_strictest_of_several_limits_holds():
    rows = pd.DataFrame(
        [
            ["x", "max", 2.0, "beyond", "law", "a"],
            ["x", "max", 1.0, "beyond", "own", "b"],
            ["x", "max", 1.0, "at", "own", "c"],
            ["x", "min", 0.1, "at", "law", "d"],
            ["x", "min", 0.2, "at", "own", "e"],
        ],
        columns=["check", "bound", "limit", "condemned_when", "tier", "source"],
    )
    assert sorted(strictest(rows)["source"]) == ["c", "e"]


def test_nothing_measured_nothing_found():
    table = check_all(
        pd.DataFrame([point("a", "tire", "diameter", "driver 1 left", 1.0)]).drop(columns="value"),
        latest_readings(pd.DataFrame({"point": [], "date": pd.to_datetime([]), "value": []})),
        LIMITS,
    )
    assert table.empty
    assert table.columns.tolist() == COLUMNS


def test_vehicles_checked_together_are_checked_as_each_alone():
    kinds = [
        ("tire", "diameter", "driver 1 left", 70 * INCH),
        ("tire", "diameter", "driver 1 right", 70.2 * INCH),
        ("tire", "thickness", "driver 2 left", 75.0),
        ("tire", "thickness", "driver 2 right", 76.0),
        ("wheelset", "back to back", "driver 1", 1300.0),
        ("side rod bushing", "bore", "driver 1 left", 152.0),
        ("crank pin", "diameter", "driver 1 left", 150.0),
        ("main rod", "back end clearance", "left", 3.0),
        ("main rod", "front end clearance", "left", 2.0),
    ]
    fleet = {
        name: [
            point(f"{name}-{at}", part, measure, place, value + more, vehicle=name, matched_set=f"{name} set")
            for at, (part, measure, place, value) in enumerate(kinds)
        ]
        for name, more in (("M2", 0.0), ("M1", 0.3))
    }
    together = found(*(row for rows in fleet.values() for row in rows))
    for name, rows in fleet.items():
        mine = together[together["vehicle"] == name].reset_index(drop=True)
        pd.testing.assert_frame_equal(mine, found(*rows))
        assert len(mine) >= 6
