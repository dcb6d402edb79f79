"""Bent scales: they invert, they are straight at the ends, and their slopes are their derivatives."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from models.wear.shapes import KINDS, SHAPES

shapes = st.sampled_from(SHAPES)
wears = st.floats(-0.2, 1.5)


@given(shapes, wears)
def test_wear_scale_inverts(shape, w):
    assert_allclose(shape.straight_wear(shape.wear(np.array([w]))), [w], atol=1e-9)


@given(shapes, st.floats(0, 20))
def test_distance_scale_inverts(shape, m):
    assert_allclose(shape.straight_distance(shape.distance(np.array([m]))), [m], rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: s.name)
def test_ends_stay_where_they_are(shape):
    assert_allclose(shape.wear(np.array([0.0, 1.0])), [0.0, 1.0], atol=1e-12)
    assert_allclose(shape.distance(np.array([0.0, 1.0])), [0.0, 1.0], atol=1e-12)


@given(shapes, st.floats(0.0, 1.2))
def test_slope_is_the_derivative(shape, w):
    step = 1e-5
    numeric = (shape.wear(np.array([w + step])) - shape.wear(np.array([w - step]))) / (2 * step)
    assert_allclose(shape.slope(np.array([w])), numeric, rtol=1e-6)


@given(shapes, st.floats(0.0, 0.9), st.floats(0.05, 0.6))
def test_mean_square_slope_is_the_mean_over_the_distance_run(shape, w0, rise):
    w = np.linspace(w0, w0 + rise, 4001)
    slope = shape.slope(w)
    expected = np.trapezoid(slope**3, w) / np.trapezoid(slope, w)
    assert_allclose(shape.mean_square_slope(w[:1], w[-1:]), [expected], rtol=1e-6)


def test_straight_comes_first_and_every_kind_has_a_shape():
    assert SHAPES[0].kind == KINDS[0] == "straight"
    assert {shape.kind for shape in SHAPES} == set(KINDS)
    assert len({shape.name for shape in SHAPES}) == len(SHAPES)
