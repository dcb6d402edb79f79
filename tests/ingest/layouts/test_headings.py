import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.errors import UnknownTable
from ingest.layouts.headings import known_tables, lacking, match, recognise, split_unit
from ingest.schema import TABLES

BY_WORDS = {"vehicle", "component", "position", "quantity"}
"""Columns by which readings and work may name a wear point instead of by its point."""


@pytest.mark.parametrize("table", list(TABLES))
def test_headings_are_those_of_the_contract(table):
    assert set(known_tables()[table].columns) - BY_WORDS == set(TABLES[table].public) - BY_WORDS


@pytest.mark.parametrize("table", list(TABLES))
def test_every_table_by_its_own_columns(table):
    found = recognise(TABLES[table].public)
    assert found.table == table
    assert found.renames == {name: name for name in TABLES[table].public}
    assert found.unknown == []


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(list(TABLES)), st.randoms(use_true_random=False), st.sampled_from([str.upper, str.title])
)
def test_order_case_and_spacing_do_not_matter(table, random, case):
    columns = [case(name.replace("_", " ")) + " " for name in TABLES[table].public]
    random.shuffle(columns)
    assert recognise(columns).table == table
    assert sorted(recognise(columns).renames.values()) == sorted(TABLES[table].public)


@pytest.mark.parametrize(
    ("columns", "table"),
    [
        (["point", "date", "value"], "readings"),
        (["Wear point", "Date measured", "Reading", "Units", "Mileage", "Gage", "By", "Remarks"], "readings"),
        (["Engine", "Position", "Quantity", "Date", "Reading"], "readings"),
        (["Loco", "Date", "Miles"], "mileage"),
        (["vehicle", "date", "distance"], "mileage"),
        (["Point", "Date", "Work done"], "work"),
        (["Loco", "Wheel arrangement"], "vehicles"),
        (["component", "action", "cost"], "costs"),
        (["date", "amount", "kind"], "funds"),
        (["Engine", "Month", "Planned miles"], "usage"),
        (["Engine", "Part", "Examined", "Defective"], "findings"),
    ],
)
def test_tables_with_empty_columns_left_out(columns, table):
    assert recognise(columns).table == table


def test_a_columns_own_name_outranks_its_other_names():
    found = recognise(["Reading", "Point", "Date", "Value"])
    assert found.renames == {"Point": "point", "Date": "date", "Value": "value"}
    assert found.unknown == ["Reading"]


def test_units_in_headings():
    found = recognise(["Point", "Date", "Reading (in)", "Mileage [km]"])
    assert found.units == {"value": "in", "odometer": "km"}
    assert recognise(["Loco", "Date", "Kilometres"]).units == {"odometer": "km"}
    assert recognise(["vehicle", "date", "odometer", "service_days"]).units == {}


@pytest.mark.parametrize(
    ("heading", "base", "unit"),
    [
        ("Value (1/64 in)", "Value", "1/64 in"),
        ("Hollow, mm", "Hollow", "mm"),
        ("value_mm", "value", "mm"),
        ("Flange [thou]", "Flange", "thou"),
        ("Value (worn)", "Value (worn)", ""),
        ("Before/after", "Before/after", ""),
        ("", "", ""),
    ],
)
def test_split_unit(heading, base, unit):
    assert split_unit(heading) == (base, unit)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (["a", "b"], "none of a known table"),
        (["Point", "Date"], "needs value"),
        (["vehicle", "date"], "needs odometer or distance or service_days"),
        ([], "none of a known table"),
    ],
)
def test_what_is_no_table_names_the_nearest_and_what_it_lacks(columns, words):
    with pytest.raises(UnknownTable, match=words):
        recognise(columns)


def test_the_message_shows_no_hostile_heading():
    with pytest.raises(UnknownTable) as caught:
        recognise(["\x1b[2Jpoint\u202e", "x" * 500])
    assert "\x1b" not in str(caught.value)
    assert len(str(caught.value)) < 400


@settings(deadline=None, max_examples=100)
@given(st.lists(st.text(max_size=30) | st.sampled_from(["point", "date", "value", "Vehicle"]), max_size=10))
def test_any_headings_are_a_table_or_a_user_error(columns):
    try:
        found = recognise(columns)
    except UnknownTable:
        return
    assert lacking(match(columns, found.table)) == []
