import numpy as np
import pandas as pd
import pytest

from ingest import units


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("in", "in"),
        ("Inches", "in"),
        ("in.", "in"),
        ('"', "in"),
        ("″", "in"),
        ("''", "in"),
        ("(in)", "in"),
        ("mm", "mm"),
        ("Millimetres", "mm"),
        ("thou", "thou"),
        ("thousandths", "thou"),
        (".001 in", "thou"),
        ("64ths", "1/64 in"),
        ("1/64 in", "1/64 in"),
        ("thirty-seconds", "1/32 in"),
        ("µm", "µm"),
        ("μm", "µm"),  # Greek mu instead of the micro sign
        ("KM", "km"),
        ("Miles", "mi"),
        ("%", "%"),
        ("per cent", "%"),
        ("hrs", "hours"),
        ("Blobs", "blobs"),
    ],
)
def test_spellings(written, unit):
    assert units.unit_of(written) == unit


@pytest.mark.parametrize("written", ["", "  ", "12", "1 3/8", "-", "measured twice by lamp, wet", "\x1b[2J"])
def test_what_is_no_unit(written):
    if written == "-":
        assert units.unit_of(written) == "-"  # a unit of its own, which no wear point has
    else:
        assert units.unit_of(written) is None


def test_every_unit_understands_its_own_name():
    for unit in [*units.LENGTH_MM, *units.DISTANCE_MI]:
        assert units.unit_of(unit) == unit


def test_base_units():
    assert units.base_unit("thou") == "mm"
    assert units.base_unit("km") == "mi"
    assert units.base_unit("%") == "%"
    assert units.is_length("1/64 in")
    assert not units.is_length("mi")


def test_to_base_of_a_number_an_array_and_a_column():
    assert units.to_base(2.0, "in") == 50.8
    np.testing.assert_array_equal(units.to_base(np.array([1.0, 2.0]), "thou"), [0.0254, 0.0508])
    column = units.to_base(pd.Series([1.0, 1.0, 7.0, 3.0]), pd.Series(["in", "1/64 in", "%", ""]))
    assert column.tolist() == [25.4, 0.396875, 7.0, 3.0]


@pytest.mark.parametrize("unit", [*units.LENGTH_MM, *units.DISTANCE_MI, "%"])
def test_from_base_is_the_inverse(unit):
    # one multiplication and one division: at most one unit in the last place each
    assert units.from_base(units.to_base(1.37, unit), unit) == pytest.approx(1.37, rel=3e-16)
