"""One pass of the filter against the covariance matrices written out."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from models.wear.family_fit import family_sums
from models.wear.level_filter import level_filter, smoothed_disturbances

K = 5


@pytest.fixture
def lives(rng):
    u = np.sort(rng.random((4, K)), axis=1)
    y = rng.normal(size=(4, K))
    noise = 0.5 + rng.random((4, K))
    y[1, 3:] = np.nan
    y[2, 1:] = np.nan
    return u, y, noise


@pytest.fixture
def rng():
    return np.random.default_rng(7)


def covariance(u, noise, q, clock=None, jump=None):
    """Of W + noise for one life, readings in order."""
    time = u if clock is None else clock
    steps = np.zeros(len(u)) if jump is None else jump
    variance = q * time + np.cumsum(steps)
    return np.diag(noise) + np.minimum.outer(variance, variance)


def written_out(u, y, noise, q, clock=None, jump=None):
    read = np.isfinite(y)
    c = covariance(
        u[read],
        noise[read],
        q,
        None if clock is None else clock[read],
        None if jump is None else jump[read],
    )
    x = np.stack([np.ones(read.sum()), u[read]], axis=1)
    inverse = np.linalg.inv(c)
    return read, c, x, inverse


@pytest.mark.parametrize("bent_clock", [False, True])
@pytest.mark.parametrize("with_jump", [False, True])
def test_sums_equal_the_matrices_written_out(lives, rng, bent_clock, with_jump):
    u, y, noise = lives
    clock = np.cumsum(rng.random(u.shape), axis=1) if bent_clock else None
    jump = np.where(rng.random(u.shape) < 0.4, 2.0, 0.0) if with_jump else None
    q = np.array([[0.3] * 4, [4.0] * 4])
    found = level_filter(u, y, noise, q, clock, jump)
    for g in range(2):
        for i in range(4):
            more = (None if clock is None else clock[i], None if jump is None else jump[i])
            read, c, x, inverse = written_out(u[i], y[i], noise[i], q[g, i], *more)
            a = x.T @ inverse @ x
            assert_allclose([found.a00[g, i], found.a01[g, i], found.a11[g, i]], [a[0, 0], a[0, 1], a[1, 1]])
            assert_allclose([found.c0[g, i], found.c1[g, i]], x.T @ inverse @ y[i, read], atol=1e-12)
            assert_allclose(found.e[g, i], y[i, read] @ inverse @ y[i, read])
            assert_allclose(found.logdet[g, i], np.linalg.slogdet(c)[1])
            last = covariance(u[i, read], 0 * noise[i, read], q[g, i], *_at(more, read))[-1]
            assert_allclose(found.wy[g, i], last @ inverse @ y[i, read], atol=1e-12)
            assert_allclose([found.w1[g, i], found.wu[g, i]], last @ inverse @ x, atol=1e-12)
            assert_allclose(found.wv[g, i], last[-1] - last @ inverse @ last, atol=1e-12)


def _at(more, read):
    return tuple(None if m is None else m[read] for m in more)


def test_smoothed_columns_and_diagonal_equal_the_inverse(lives):
    u, y, noise = lives
    q = np.full(4, 0.8)
    found = smoothed_disturbances(u, y, noise, q)
    for i in range(4):
        read, _, x, inverse = written_out(u[i], y[i], noise[i], 0.8)
        assert_allclose(found.sy[i, read], inverse @ y[i, read], atol=1e-12)
        assert_allclose(np.stack([found.s1[i, read], found.su[i, read]], 1), inverse @ x, atol=1e-12)
        assert_allclose(found.diagonal[i, read], np.diag(inverse))
        assert not found.diagonal[i, ~read].any()


def test_family_sums_integrate_start_and_rate_out(lives):
    u, y, noise = lives
    ra, rb, q = 0.3, 2.0, 0.7
    found = family_sums(
        level_filter(u, y, noise, np.full((1, 4), q)), np.float64(ra), np.float64(rb), np.array([0])
    )
    m, d, quad, logdet = np.zeros((2, 2)), np.zeros(2), 0.0, 0.0
    for i in range(4):
        read, c, x, _ = written_out(u[i], y[i], noise[i], q)
        whole = c + x @ np.diag([ra, rb]) @ x.T
        inverse = np.linalg.inv(whole)
        m += x.T @ inverse @ x
        d += x.T @ inverse @ y[i, read]
        quad += y[i, read] @ inverse @ y[i, read]
        logdet += np.linalg.slogdet(whole)[1]
    assert_allclose([found.info00[0, 0], found.info01[0, 0], found.info11[0, 0]], [m[0, 0], m[0, 1], m[1, 1]])
    assert_allclose([found.cross0[0, 0], found.cross1[0, 0]], d, atol=1e-12)
    assert_allclose([found.quad[0, 0], found.logdet[0, 0]], [quad, logdet])


def test_a_life_without_readings_says_nothing():
    empty = np.full((1, 3), np.nan)
    found = level_filter(empty, empty, np.ones((1, 3)), np.ones((1, 1)))
    assert all(not np.any(part) for part in vars(found).values())
