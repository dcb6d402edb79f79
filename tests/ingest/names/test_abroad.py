"""Parts and quantities in other languages: the wear point that is meant, or none."""

import pandas as pd
import pytest

from ingest.names.abroad import meanings
from ingest.names.points import resolve_points, spelled

POINTS = pd.DataFrame(
    [
        ("T", "driver tire", "thickness"),
        ("F", "driver tire", "flange thickness"),
        ("H", "driver tire", "tread hollow"),
        ("J", "driving axle journal", "diameter"),
        ("P", "crank pin", "diameter"),
        ("B", "side rod bushing", "clearance"),
    ],
    columns=["point", "component", "quantity"],
).assign(vehicle="410", position="driver 1 left")


@pytest.mark.parametrize(
    ("component", "quantity", "point"),
    [
        ("Treibradreifen", "Dicke", "T"),
        ("Radreifen", "Spurkranzdicke", "F"),
        ("Radreifen", "Hohllauf", "H"),
        ("Kuppelstangenlager", "Spiel", "B"),
        ("Achsschenkel", "Durchmesser", "J"),
        ("bandage de roue motrice", "épaisseur", "T"),
        ("bandage", "épaisseur du boudin", "F"),
        ("bague de bielle d'accouplement", "jeu", "B"),
        ("fusée d'essieu moteur", "diamètre", "J"),
        ("obręcz koła napędowego", "grubość", "T"),
        ("panewka wiązara", "luz", "B"),
        ("czop korbowy", "średnica", "P"),
        ("obruč hnacího kola", "tloušťka okolku", "F"),
        ("ojniční čep", "průměr", "P"),
    ],
)
def test_parts_are_understood(component, quantity, point):
    naming = pd.DataFrame({"component": [component], "quantity": [quantity], "position": ["1L"]})
    assert resolve_points(naming, POINTS)["point"].tolist() == [point]


def test_a_part_that_is_not_on_record_is_none():
    naming = pd.DataFrame({"component": ["Kreuzkopf"], "quantity": ["Dicke"], "position": ["1L"]})
    found = resolve_points(naming, POINTS)
    assert found["point"].tolist() == [""]
    assert "no wear point has the component 'Kreuzkopf'" in found["problem"].iloc[0]


def test_wear_points_in_another_language_are_meant_by_their_own_words_first():
    own = POINTS.assign(component=POINTS["component"].replace("driver tire", "Radreifen"))
    own = pd.concat([own, POINTS[:1].assign(point="X")], ignore_index=True)
    naming = pd.DataFrame({"component": ["Radreifen", "driver tire"], "quantity": ["thickness"] * 2})
    assert resolve_points(naming, own)["point"].tolist() == ["T", "X"]


def test_english_names_are_left_alone():
    assert meanings("driver tire") == ()
    assert spelled("Coupling rod bush") == "side rod bushing"


def test_what_may_be_either_is_tried_as_either():
    assert meanings("Kuppelstangenlager") == ("side rod bearing", "side rod bushing", "side rod brass")
