"""How the hands of the demo railway write sizes."""

import pytest

from data_demo.notation import HANDS, fraction, written


@pytest.mark.parametrize(
    ("sixty_fourths", "text"),
    [(0, "0"), (88, "1 3/8"), (64, "1"), (12, "3/16"), (1, "1/64"), (127, "1 63/64")],
)
def test_fractions_are_in_lowest_terms(sixty_fourths, text):
    assert fraction(sixty_fourths) == text


@pytest.mark.parametrize(
    ("hand", "value", "step", "expected"),
    [
        ("R.T.", 1.38, 1 / 32, ("1 3/8", "in")),
        ("J.D.", 1.375, 1 / 64, ("88/64", "")),
        ("P.S.", 1.375, 1 / 64, ('1-3/8"', "")),
        ("M.K.", 1.375, 1 / 64, ("1.375", "in")),
        ("A.V.", 1.375, 1 / 64, ("34.9 mm", "")),
        ("E.L.", 1.375, 1 / 64, ("1 3/8 in", "")),
        ("J.D.", 0.0121, 0.001, ("12 thou", "")),
        ("M.K.", 0.0121, 0.001, ("12", "thou")),
        ("P.S.", 0.0121, 0.001, (".012", "")),
        ("R.T.", 0.0121, 0.001, ("0.012", "in")),
        ("A.V.", 0.0121, 0.001, ("0.31 mm", "")),
        ("J.D.", 7.4821, 0.001, ("7.482", "in")),
    ],
)
def test_each_hand_has_its_way(hand, value, step, expected):
    mine = next(h for h in HANDS if h.initials == hand)
    assert written(value, "in", step, mine) == expected
