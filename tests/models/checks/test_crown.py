"""Journal, crown and lining together: geometry against points on the arc, and the choice that follows."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.catalogue import assumptions
from ingest.errors import NotPossible
from models.checks.crown import ADVICE, CrownAssumptions, boxes_after_truing, crown_taken

SHOP = CrownAssumptions(bearing_half_angle=60.0, journal_cleanup=1.0, running_clearance=0.4, least_lining=3.0)


def test_the_same_bore_takes_nothing_and_a_wider_one_its_radius():
    assert crown_taken(np.array([254.0]), np.array([254.0]), 60.0) == pytest.approx([0.0], abs=1e-12)
    assert crown_taken(np.array([254.0]), np.array([256.0]), 60.0) == pytest.approx([1.0])


def test_a_case_worked_by_hand():
    # R = 100, r = 96, half angle 60: h = sqrt(100^2 - (96 x 0.866)^2) - 48 = sqrt(3088) - 48 = 7.5698;
    # the crown loses h + r - R = 3.5698.
    expected = np.sqrt(10000 - 96**2 * 0.75) - 48 + 96 - 100
    assert expected == pytest.approx(3.57, abs=0.005)
    assert crown_taken(np.array([200.0]), np.array([192.0]), 60.0) == pytest.approx([expected])


@settings(deadline=None)
@given(bore=st.floats(100, 400), share=st.floats(0.9, 1.0), angle=st.floats(10, 90))
def test_the_new_arc_lies_in_metal_and_touches_it(bore, share, angle):
    old, new = bore / 2, bore * share / 2
    taken = float(crown_taken(np.array([bore]), np.array([bore * share]), angle)[0])
    center = old + taken - new  # how far the new center stands above the old one
    t = np.deg2rad(np.linspace(-angle, angle, 181))
    from_old_center = np.hypot(new * np.sin(t), center + new * np.cos(t))
    assert from_old_center.min() >= old - 1e-9 * old
    assert from_old_center.min() == pytest.approx(old, rel=1e-9)  # not more is taken than needed


def box(journal=250.0, crown=40.0, least=30.0, **more):
    rows = [
        ("journal", "diameter", journal, np.nan),
        ("crown brass", "thickness", crown, least),
        *((*key.split("_"), value, np.nan) for key, value in more.items()),
    ]
    return pd.DataFrame(
        [
            {
                "point": f"{part}-{measure}",
                "vehicle": "M1",
                "position": "driver 2 left",
                "part": part.replace("crown", "crown brass") if part == "crown" else part,
                "measure": measure,
                "group": "driver",
                "axle": 2,
                "side": "left",
                "condemning_limit": limit,
                "value": value,
                "low": value - 0.2,
                "date": pd.Timestamp("2025-01-01"),
            }
            for part, measure, value, limit in rows
        ]
    )


def test_a_thick_crown_is_bored():
    row = boxes_after_truing(box(crown_clearance=0.6), SHOP).iloc[0]
    # The worst reading of the journal is 249.8; trued 248.8; bored 249.2; the bearing 249.8 + 0.6 = 250.4.
    assert (row["journal"], row["journal_after"], row["bore"], row["bore_after"]) == pytest.approx(
        (249.8, 248.8, 250.4, 249.2)
    )
    taken = float(crown_taken(np.array([250.4]), np.array([249.2]), 60.0)[0])
    assert row["crown_bored"] == pytest.approx(40.0 - taken)
    assert row["advice"] == "bore the brass"
    assert row["how_bore"] == "from the clearance"


def test_where_a_journal_was_turned_down_a_lining_keeps_the_crown_from_being_bored_too_thin():
    # Common practice, no source. The journal has lost 12 mm against its brass: boring leaves less than 30.
    row = boxes_after_truing(box(journal=238.2, crown=34.0, crown_bore=250.4), SHOP).iloc[0]
    # Trued 237.0, bored 237.4: the gap is (250.4 - 237.4)/2 = 6.5 mm of lining; no crown is taken for it.
    assert row["crown_bored"] < 30.0
    assert row["advice"] == "line the brass"
    assert row["lining"] == pytest.approx(6.5)
    assert row["crown_lined"] == pytest.approx(34.0)


def test_a_gap_thinner_than_the_thinnest_lining_costs_crown():
    row = boxes_after_truing(box(journal=250.0, crown=30.3, crown_bore=250.4), SHOP).iloc[0]
    # Gap (250.4 - 249.2)/2 = 0.6: the brass is bored out by 3.0 - 0.6 = 2.4 for the lining: 27.9 left.
    assert row["lining"] == 3.0
    assert row["crown_lined"] == pytest.approx(30.3 - 2.4)
    assert row["advice"] == "renew the brass"


def test_without_a_least_crown_nothing_is_advised():
    row = boxes_after_truing(box(least=np.nan), SHOP).iloc[0]
    assert row["advice"] == ADVICE[3]
    assert row["how_bore"] == "running clearance assumed"


def test_eight_boxes_on_four_axles():
    one = box()
    boxes = [
        one.assign(
            axle=axle, side=side, point=one["point"] + f"{axle}{side}", position=f"driver {axle} {side}"
        )
        for axle in range(1, 5)
        for side in ("left", "right")
    ]
    assert len(boxes_after_truing(pd.concat(boxes), SHOP)) == 8


def test_assumptions_come_from_the_catalogue():
    made = CrownAssumptions.of(assumptions("crown"))
    assert made.bearing_half_angle == 60.0
    assert made.least_lining == pytest.approx(25.4 / 8)
    with pytest.raises(NotPossible, match="crown thickness: no value"):
        CrownAssumptions.of(assumptions("crown").iloc[:2])
