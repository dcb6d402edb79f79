import tomllib
from dataclasses import replace
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.errors import UnknownTable
from ingest.layouts.headings import _names, _plain, known_tables, lacking, match, recognise, split_unit
from ingest.schema import TABLES, Column

OTHER_NAMES = tomllib.loads((files("ingest.layouts") / "headings.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("section", list(OTHER_NAMES))
def test_other_names_are_those_of_a_column_and_are_not_its_own(section):
    tables = list(TABLES.values()) if section == "everywhere" else [TABLES[section]]
    columns = {name for table in tables for name in (*table.public, *table.parts)}
    for column, names in OTHER_NAMES[section].items():
        if column != "needs":
            assert column in columns
            assert _plain(column) not in [_plain(name) for name in names]


@pytest.fixture
def fresh_headings():
    """Headings made again from the schema, before the test and after it."""
    caches = (known_tables, _names)
    for cache in caches:
        cache.cache_clear()
    yield
    for cache in caches:
        cache.cache_clear()


def test_a_new_column_needs_no_entry_of_other_names(monkeypatch, fresh_headings):
    readings = TABLES["readings"]
    grown = replace(
        readings, columns=(*readings.columns, Column("rail_temperature", "number", "new", unit="1"))
    )
    monkeypatch.setitem(TABLES, "readings", grown)
    found = recognise(["Point", "Date", "Reading", "Rail temperature"])
    assert found.renames["Rail temperature"] == "rail_temperature"


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


@pytest.mark.parametrize(
    ("beside", "is_then"),
    [("Bemerkung", "value"), ("Wert", "quantity"), ("Maß", "quantity"), ("Messgröße", "value")],
)
def test_a_word_of_two_meanings_is_what_the_headings_beside_it_leave(beside, is_then):
    found = match(["Lok", "Bauteil", "Stelle", "Größe", beside, "Datum"], "readings").renames
    assert found["Größe"] == is_then
    assert "value" in found.values()
    assert match(["Datum", "Měřicí bod", "Rozměr"], "readings").renames["Rozměr"] == "value"
    assert len(set(found.values())) == len(found)


@pytest.mark.parametrize(
    ("what", "plain", "other"),
    [
        ("Maß", "Wert", "Größe"),
        ("cote", "valeur", "grandeur"),
        ("wymiar", "wartość", "wielkość"),
        ("misura", "valore", "grandezza"),
        ("maat", "waarde", "grootheid"),
        ("size", "reading", "dimension"),
    ],
)
def test_a_word_for_a_size_is_the_figure_unless_a_word_for_a_value_stands_beside_it(what, plain, other):
    for headings in ([what, plain], [plain, what]):
        assert match(["point", "date", *headings], "readings").renames == {
            "point": "point", "date": "date", plain: "value", what: "quantity"
        }  # fmt: skip
    for headings in ([what, other], [other, what]):
        assert match(["point", "date", *headings], "readings").renames[what] == "value"
    assert match(["point", "date", what], "readings").renames[what] == "value"


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
        ("Miles or km", "Miles or km", ""),
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
