"""What is told of the end of a life, and which of many lives are learned from."""

from dataclasses import replace

import pytest

from models.lives.build import build_lives
from models.wear.relative import relative

READINGS = [("A", 300, 1.0, 3000), ("A", 800, 0.5, 8000)]


def lives_of(tables, work, why=None, readings=READINGS):
    made = tables(readings, work, log=((0, 0), (1000, 10_000)))
    if why is not None:
        made["work"]["why"] = why
    return build_lives(made, as_written=True).lives


def test_a_renewal_without_a_measurement_is_kept_with_its_miles_and_its_reason(tables):
    work = [("A", 50, "renewed", None, None)]
    lives = build_lives(tables(READINGS, work, log=((0, 0), (1000, 10_000))), as_written=True).lives
    assert lives.end_miles[0] == pytest.approx(500)
    assert relative(lives).worn is not None
    unknown = lives.unknown_step.copy()
    unknown[0, 0] = True
    assert relative(replace(lives, unknown_step=unknown)).worn is None
