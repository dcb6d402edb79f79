from fractions import Fraction

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.notation.values import parse_values
from ingest.units import LENGTH_MM, to_base


def read(text, unit="", **how):
    row = parse_values(pd.Series([text]), pd.Series([unit]), **how).iloc[0]
    return row["value"], row["unit"], row["problem"]


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("1.375", 1.375, ""),
        ("-0.003", -0.003, ""),
        ("−0.003", -0.003, ""),
        (".5", 0.5, ""),
        ("5.", 5.0, ""),
        ("1e-3", 0.001, ""),
        ("1 3/8", 1.375, ""),
        ("1-3/8", 1.375, ""),
        ('1-3/8"', 1.375, "in"),
        ("1 – 3/8", 1.375, ""),
        ("1⅜", 1.375, ""),
        ("⅞″", 0.875, "in"),
        ("1³⁄₈", 1.375, ""),
        ("-1 3/8", -1.375, ""),
        ("88/64", 1.375, ""),
        ("3/64ths", 0.046875, ""),
        ("5 64ths", 5.0, "1/64 in"),
        ("3 7/64 in", 3.109375, "in"),
        ("12 thou", 12.0, "thou"),
        ('0.012"', 0.012, "in"),
        ("0.5 ''", 0.5, "in"),
        ("34.9 mm", 34.9, "mm"),
        ("34.9mm.", 34.9, "mm"),
        ("2' 3 1/2\"", 27.5, "in"),
        ("2'-3 1/2\"", 27.5, "in"),
        ("2′ 3½″", 27.5, "in"),
        ("2 ft 3 in", 27.0, "in"),
        ("-2' 3\"", -27.0, "in"),
        ("5'", 5.0, "ft"),
        ("2.5 ft", 2.5, "ft"),
        ("1,375", 1375.0, ""),
        ("12,345.5", 12345.5, ""),
        ("1,234,567 mi", 1234567.0, "mi"),
        ("12 %", 12.0, "%"),
        (" 1 3/8 ", 1.375, ""),
        ("\u200e34.9\u00a0mm", 34.9, "mm"),  # a mark and a hard space, as copied from a spreadsheet
        ("１．５", 1.5, ""),
    ],
)
def test_what_is_read(text, value, unit):
    assert read(text) == (value, unit, "")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("   ", "is empty"),
        ("n/a", "no measurement"),
        ("N.A.", "no measurement"),
        ("-", "no measurement"),
        ("#DIV/0!", "no measurement"),
        ("nan", "no measurement"),
        ("OK", "verdict"),
        ("1/0", "divides by 0"),
        ("2 1/0", "divides by 0"),
        ("1 88/64", "not below 1"),
        ("1 8/8", "not below 1"),  # 2, or 1 and a slip of the pen in 7/8?
        ("1.2 1.3", "more than one number"),
        ("1.2 - 1.3", "more than one number"),
        ("1.2/1.3", "more than one number"),
        ("5 in x 3 in", "more than one number"),
        ("=1+1", "more than one number"),
        ("3/4/98", "date"),
        ("2024-03-04", "date"),
        ("4-Mar", "date"),
        ("12:30", "time of day"),
        ("<0.5", "bound"),
        ("about 3", "bound"),
        ("0,012", "marks no thousands"),
        ("1,5", "marks no thousands"),
        ("1.2 worn", "no unit"),
        ("2' 13\"", "below 12"),
        ("2' 12\"", "below 12"),
        ("1'375", "below 12"),
        ("2 ft 3 mm", "feet and another unit"),
        ("1e400", "beyond anything"),
        ("9" * 60, "beyond anything"),
        ("1" * 200, "too long"),
        ("worn", "holds no number"),
        ("(0.003)", "cannot be read"),
        ("٣", "holds no number"),
        ("__import__('os').system('true')", "holds no number"),
    ],
)
def test_what_is_refused(text, words):
    value, unit, problem = read(text)
    assert np.isnan(value)
    assert unit == ""
    assert words in problem


def test_the_reason_shows_no_hostile_characters():
    assert "\u202e" not in read("\u202e21")[2]
    assert "<U+202E>21" in read("\u202e21")[2]


@pytest.mark.parametrize(
    ("text", "beside", "fine"),
    [
        ("34.9 mm", "in", True),  # both lengths: the cell says more
        ("12 %", "%", True),
        ("12 %", "in", False),
        ("5 mm", "hours", False),
        ("5 km", "mi", True),
        ("5 in", "mi", False),
        ("7 blobs", "Blobs", True),
        ("7 blobs", "", False),
        ("5", "1/64 in", True),
        ("5/64", "1/64 in", False),  # five sixty-fourths of an inch, or of a sixty-fourth?
        ('5/64"', "1/64 in", True),
    ],
)
def test_cell_and_unit_column(text, beside, fine):
    value, _, problem = read(text, beside)
    assert (problem == "") == fine
    assert np.isfinite(value) == fine


def test_a_length_beyond_anything_is_refused_in_the_unit_beside_it():
    assert read("1,375", "mm")[0] == 1375.0
    assert "decimal mark" in read("1,375", "in")[2]


def test_decimal_comma_only_where_stated():
    assert read("1,375", decimal=",") == (1.375, "", "")
    assert read("1.375,5 mm", decimal=",") == (1375.5, "mm", "")
    assert "marks no thousands" in read("1.37", decimal=",")[2]


def test_the_index_and_the_order_are_kept():
    text = pd.Series(["2", "x", "2"], index=[7, 7, 3])
    out = parse_values(text)
    assert out.index.tolist() == [7, 7, 3]
    assert out["value"].tolist()[::2] == [2.0, 2.0]
    assert out.dtypes.astype(str).tolist() == ["float64", "str", "str"]
    assert parse_values(pd.Series([], dtype="str")).empty


# A call costs more than a cell, so an example is a column of cells.
COLUMNS = settings(deadline=None, max_examples=15)


def column(cells):
    return st.lists(cells, min_size=1, max_size=60)


@COLUMNS
@given(
    column(st.tuples(st.integers(0, 400), st.integers(1, 63))),
    st.sampled_from(["{w} {n}/{d}", "{w}-{n}/{d}", "{w} {n}⁄{d}", "{w} - {n}/{d} in"]),
)
def test_mixed_fractions_come_back_exactly(sizes, form):
    parts = [(w, Fraction(n, 64)) for w, n in sizes]
    texts = [form.format(w=w, n=part.numerator, d=part.denominator) for w, part in parts]
    expected = [float(w + part) for w, part in parts]  # sixty-fourths are exact in binary
    assert parse_values(pd.Series(texts))["value"].tolist() == expected


@COLUMNS
@given(
    column(st.floats(-9e5, 9e5).map(lambda x: round(x, 4))), st.sampled_from(["mm", "thou", "%", "in", ""])
)
def test_decimals_come_back_exactly(values, unit):
    out = parse_values(pd.Series([f"{value:.4f} {unit}" for value in values]))
    absurd = np.array([unit in LENGTH_MM and abs(to_base(value, unit)) > 20_000 for value in values])
    assert (out["problem"].str.contains("beyond anything") == absurd).all()
    assert out["value"][~absurd].tolist() == list(np.array(values)[~absurd])
    assert (out["unit"][~absurd] == unit).all()


@COLUMNS
@given(column(st.tuples(st.integers(0, 60), st.integers(0, 11), st.integers(0, 63))))
def test_feet_and_inches_come_back_exactly(sizes):
    texts = [f"{ft}' {inch} {Fraction(n, 64)}\"" if n else f"{ft}' {inch}\"" for ft, inch, n in sizes]
    out = parse_values(pd.Series(texts))
    assert out["value"].tolist() == [12 * ft + inch + n / 64 for ft, inch, n in sizes]
    assert (out["unit"] == "in").all()


@COLUMNS
@given(column(st.tuples(st.integers(0, 999_999_999), st.integers(0, 99))))
def test_marked_thousands_come_back_exactly(numbers):
    expected = [float(f"{number}.{cents:02d}") for number, cents in numbers]
    texts = [f"{number:,}.{cents:02d}" for number, cents in numbers]
    assert parse_values(pd.Series(texts))["value"].tolist() == expected
    swapped = [text.translate(str.maketrans(",.", ".,")) for text in texts]
    assert parse_values(pd.Series(swapped), decimal=",")["value"].tolist() == expected


ANY = st.text() | st.text("0123456789/.,-+'\"½⅞ emin%e", max_size=12)


@settings(deadline=None, max_examples=60)
@given(st.lists(ANY, max_size=60), st.sampled_from(["", "in", "%", "mi", "?"]), st.sampled_from([".", ","]))
def test_any_text_ends_as_a_number_or_a_reason(texts, unit, decimal):
    out = parse_values(pd.Series(texts, dtype="str"), unit, decimal=decimal)
    assert (np.isfinite(out["value"]) == (out["problem"] == "")).all()
    assert (out["unit"][out["problem"] != ""] == "").all()


@COLUMNS
@given(column(st.text("0123456789/. -'\"", max_size=10)))
def test_reading_is_the_same_alone_and_among_others(texts):
    among = parse_values(pd.Series(texts))
    alone = parse_values(pd.Series(texts[:1]))
    pd.testing.assert_frame_equal(among.iloc[:1], alone)
