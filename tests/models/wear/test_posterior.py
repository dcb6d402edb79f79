"""Posteriors put together: nothing of the others changes, and nodes that are added weigh nothing."""

import numpy as np
from numpy.testing import assert_array_equal

from models.wear.posterior import Posterior, arrays_of, put_families


def posterior(nodes, families, seed):
    rng = np.random.default_rng(seed)
    weight = rng.dirichlet(np.ones(nodes), families).T
    q, ra, rb, sigma2 = rng.random((4, nodes, families))
    centre, step = rng.random((2, 3, families))
    mean, cov = rng.random((2, nodes, families)), rng.random((3, nodes, families))
    return Posterior(q, ra, rb, sigma2, weight, mean, cov, rng.random(families), centre, step)


def test_a_fit_of_more_nodes_goes_among_looks_of_few_and_the_other_way_round():
    for few, many in ((9, 75), (75, 9)):
        old, new = posterior(few, 5, 1), posterior(many, 2, 2)
        both = put_families(old, new, np.array([1, 3]))
        assert both.weight.shape == (75, 5)
        np.testing.assert_allclose(both.weight.sum(axis=0), 1.0)
        for name in arrays_of(both):
            found, before, put = (getattr(part, name) for part in (both, old, new))
            if name not in ("evidence", "centre", "step"):
                found_old, found_new = found[..., :few, :], found[..., :many, :]
                assert_array_equal(found_old[..., [0, 2, 4]], before[..., [0, 2, 4]])
                assert_array_equal(found_new[..., [1, 3]], put)
            else:
                assert_array_equal(found[..., [0, 2, 4]], before[..., [0, 2, 4]])
                assert_array_equal(found[..., [1, 3]], put)
