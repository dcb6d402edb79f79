"""Tenths and hundredths of a millimetre over a column: counted, or how finely was read."""

import pytest

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,gauge_sd\n"


@pytest.fixture
def play(known, milesleft, sheet):
    """A clearance of the small store's engine, 0.4 mm new, 2.4 mm at the limit."""
    point = "PLAY,410,side rod bushing,driver 2 left,clearance,mm,0.4,2.4,0.03\n"
    milesleft("add", sheet(POINTS + point, "points.csv"))


def _sheet(heading, *values):
    rows = (f'PLAY,2001-{month:02}-14,"{value}"\n' for month, value in enumerate(values, start=2))
    return f'point,date,"{heading}"\n' + "".join(rows)


@pytest.mark.parametrize(
    ("heading", "figures"),
    [
        ("value (1/10 mm)", (8, 9, 11)),
        ("Messwert [0,1 mm]", (8, 9, 11)),
        ("Wert in 1/10 mm", (8, 9, 11)),
        ("value (Zehntel)", (8, 9, 11)),
        ("value (1/100 mm)", (80, 90, 110)),
    ],
)
def test_whole_numbers_that_fit_as_a_count_are_counted(play, look, sheet, heading, figures):
    asked, read = look(sheet(_sheet(heading, *figures)))
    assert asked == {}
    assert [read[row]["state"] for row in (2, 3, 4)] == ["accepted"] * 3


@pytest.mark.parametrize("figures", [(0.8, 0.9, 1.1), (1, 2, 2)])
def test_what_may_be_millimetres_read_finely_is_asked(play, look, sheet, milesleft, store, figures):
    path = sheet(_sheet("value (0.1 mm)", *figures))
    asked, _ = look(path)
    assert asked["unit"]["answers"] == ["mm", "1/10mm"]
    milesleft("add", path, "--answer", f"{asked['unit']['id']}=mm")
    assert store.read("readings")["value"].tolist() == list(figures)


def test_a_count_that_only_a_title_tells_is_asked(play, look, sheet, milesleft, store):
    path = sheet("Spiel in Zehntel mm,,\n" + _sheet("value", 8, 9, 11))
    asked, _ = look(path)
    assert "1/10mm" in asked["unit"]["answers"]
    milesleft("add", path, "--answer", f"{asked['unit']['id']}=1/10mm")
    assert store.read("readings")["value"].tolist() == pytest.approx([0.8, 0.9, 1.1])
