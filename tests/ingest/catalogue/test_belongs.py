"""What goes with a part and what stays at the place is data; every row of it is reached."""

import pytest

from ingest.catalogue import feature_of, goes_with, kind_of_part, table_of


@pytest.mark.parametrize(
    ("called", "kind", "fitted_to"),
    [
        ("driving wheelset", "wheelset", "axle"),
        ("Wheel set, tender", "wheelset", "axle"),
        ("axle box", "driving box", "side"),
        ("Coupling rod", "side rod", "side"),
        ("valve gear eccentric", "valve gear eccentric", "side"),
    ],
)
def test_a_part_is_known_by_its_last_words(called, kind, fitted_to):
    assert kind_of_part(called) == (kind, fitted_to)


@pytest.mark.parametrize(
    ("kind", "component", "quantity", "belongs"),
    [
        ("wheelset", "driver tire", "tread hollow", "part"),
        ("wheelset", "driving journal", "diameter", "part"),
        ("wheelset", "crank pin", "diameter", "part"),
        ("wheelset", "driving box", "lateral motion", "place"),
        ("wheelset", "crown brass", "thickness", ""),
        ("driving box", "crown brass", "thickness", "part"),
        ("driving box", "wedge", "thickness", "place"),
        ("side rod", "side rod bushing", "clearance", "part"),
        ("side rod", "side rod", "side motion", "place"),
        ("piston rod", "piston rod", "diameter", "part"),
        ("link block", "link block", "clearance", "part"),
        ("link block", "link trunnion", "clearance", ""),
    ],
)
def test_what_belongs_to_the_part(kind, component, quantity, belongs):
    assert goes_with(kind, component, quantity) == belongs


def test_every_row_names_parts_that_the_vocabulary_knows_and_says_where_it_is_from():
    known = {(row["part"], row["measure"]) for row in table_of("vocabulary").to_dict("records")}
    parts = {part for part, _ in known}
    kinds = set(table_of("kinds_of_part")["part"])
    for row in table_of("belongs").to_dict("records"):
        assert row["part"] in kinds
        assert row["goes_with"] in ("part", "place")
        assert row["source"]
        for component in row["component"].split("|"):
            assert component in parts, component
        for quantity in filter(None, row["quantity"].split("|")):
            assert any((part, quantity) in known for part in row["component"].split("|")), quantity


def test_a_quantity_of_two_names_is_one_feature():
    assert feature_of("driver tire", "tread hollow") == feature_of("tyre", "hollow wear")
    assert feature_of("odd thing", "Some  Size") == ("odd thing", "some size")
