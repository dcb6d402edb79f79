"""What a round of readings saves is said in the plan's currency."""

import pandas as pd
import pytest

from dashboard.papers.measure_text import measure_text
from dashboard.words.measure_words import carried_words, round_of, round_words

LIST = pd.DataFrame(
    {
        "vehicle": "Alder",
        "component": ["bushing", "pin"],
        "position": ["driver 1 left", "left"],
        "quantity": ["clearance", "diameter"],
        "last_date": [pd.Timestamp("2017-03-04"), pd.NaT],
        "minutes": [20.0, 5.0],
        "saves": [1234.4, 65.0],
        "carries": [14_800.0, None],
        "rank": [1, 2],
        "stop": [2, 1],
    }
)


@pytest.mark.parametrize(
    ("currency", "saved", "carried"),
    [
        ("EUR", "may save EUR 1,299 of the 1,299", "carries EUR 14,800 of"),
        ("", "may save 1,299", "carries 14,800"),
    ],
)
def test_money_names_its_currency(currency, saved, carried):
    walk = round_of(LIST, minutes=60.0)
    assert saved in round_words(LIST, walk, currency)
    assert [carried in said for said in carried_words(walk, currency)] == [True]
    text = measure_text(LIST, 60.0, currency)
    assert saved in " ".join(text.split())
    assert carried in text
