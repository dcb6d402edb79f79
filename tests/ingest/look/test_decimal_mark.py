"""Whether a comma parts decimals or thousands is read from the whole sheet."""

import pytest

HEAD = "point;date;value;odometer\n"


def rows(*values):
    return HEAD + "".join(f"THICK;2001-0{n}-01;{value};\n" for n, value in enumerate(values, 1))


def values(read):
    return [row["read"].get("value") for _, row in sorted(read.items())]


@pytest.mark.parametrize("texts", [["3,250", "3,125", "3,1", "2,875"], ["3,250", "3,125", "2,875"]])
def test_a_decimal_comma_is_proven_by_another_number_or_by_what_the_part_can_be(look, sheet, known, texts):
    asked, read = look(sheet(rows(*texts)))
    assert asked == {}
    assert values(read) == [float(text.replace(",", ".")) for text in texts]


def test_a_figure_beyond_all_that_is_measured_is_a_decimal(look, sheet, known):
    """2,925 in the unit in would be 74 m."""
    asked, read = look(
        sheet('point,date,value,unit\nTHICK,2001-02-01,"2,925",in\nTHICK,2001-03-01,"2,924",in\n')
    )
    assert asked == {}
    assert [read[row]["read"]["value"] for row in (2, 3)] == [2.925, 2.924]


def test_what_one_column_proves_holds_for_the_others(look, sheet, known):
    asked, read = look(sheet(HEAD + "THICK;2001-02-01;3,25;10.400\n"))
    assert asked == {}
    assert (read[2]["read"]["value"], read[2]["read"]["odometer"]) == (3.25, 10400)


def test_a_column_with_both_marks_is_asked_about(look, sheet, known, milesleft, store):
    path = sheet(rows("3,250", "3.15", "3,1", "2,875"))
    asked, read = look(path)
    assert asked["decimal"]["about"]["rows"] == [2, 5]
    assert values(read) == [None, 3.15, 3.1, None]
    milesleft("add", path, "--answer", f"{asked['decimal']['id']}=comma")
    assert [round(value / 25.4, 6) for value in store.read("readings")["value"]] == [3.25, 3.15, 3.1, 2.875]


def test_an_odometer_to_three_decimals_is_asked_about(look, sheet, known):
    asked, _ = look(sheet("vehicle;date;odometer\n410;2002-02-01;12.345\n410;2002-03-01;12.410\n"))
    reads = {r["answer"]: r["reads"] for r in asked["decimal"]["readings"] if r["row"] == 2}
    assert reads == {"comma": "12345", "point": "12.345"}


def test_a_number_too_large_for_anything_has_a_decimal_comma(look, sheet, known):
    asked, read = look(sheet(rows("3,250 in", "3,125 in")))
    assert asked == {}
    assert values(read) == [3.25, 3.125]


@pytest.mark.parametrize(("answer", "stored"), [("point", [3.1, 3.05, 2.602]), ("comma", [3.1, 3.05])])
def test_a_point_among_decimal_commas_is_asked_about(answer, stored, look, sheet, known, milesleft, store):
    path = sheet(
        HEAD + "THICK;2001-01-01;3,1;10.000,5\nTHICK;2001-02-01;3,05;\nTHICK;2001-03-01;2.602;10.300,5\n"
    )
    asked, read = look(path)
    assert asked["decimal"]["about"]["rows"] == [4]
    assert values(read) == [3.1, 3.05, None]
    reads = {told["answer"]: told["reads"] for told in asked["decimal"]["readings"]}
    assert reads == {"comma": "2602", "point": "2.602"}
    milesleft("add", path, "--answer", f"{asked['decimal']['id']}={answer}")
    rows = store.read("readings")
    assert [round(value / 25.4, 6) for value in rows["value"]] == stored  # 2602 in is beyond all
    assert rows["odometer_text"].iloc[0].startswith("10.000,5")


@pytest.mark.parametrize("texts", [["1.250,5", "1.249"], ["1250,5", "1.249", "1248,5"]])
def test_a_point_that_marks_thousands_among_decimal_commas_is_not_asked_about(texts, look, sheet):
    asked, _ = look(
        sheet("point;date;value;unit\n" + "".join(f"P;2001-0{n}-01;{t};mm\n" for n, t in enumerate(texts, 1)))
    )
    assert "decimal" not in asked
