"""Ten years of simulated railways, planned anew each year: how often engines stop, and what it costs.

Against rules of thumb at the same stop rate: renewing what is read past a share of its limit, and renewing by
age, each with the share at which it stops as seldom. Run with ``pytest -m long``.
"""

import numpy as np
import pytest
from fleets.planned_years import at_share, by_age, lived, planned

ACCEPTED = 0.05
RAILWAYS = 6
"""Of two engines, ten years each: 120 seasons."""
RULES = 20
"""Railways by which the rules of thumb are weighed; they cost no planning."""


def cheapest_as_safe(rule, shares, most):
    """Money of a rule at the share that stops engines as seldom, between the shares tried."""
    tried = [np.mean([lived(seed, rule(share))[:2] for seed in range(RULES)], axis=0) for share in shares]
    money, stops = np.array(tried).T
    safe = stops <= most
    assert safe.any()
    return float(money[safe].min())


@pytest.mark.long
def test_plans_stop_engines_as_seldom_as_accepted_and_cost_less_than_rules_of_thumb():
    told: list[float] = []
    lives = [lived(seed, planned(ACCEPTED, told=told)) for seed in range(RAILWAYS)]
    money, stops = np.mean([each[:2] for each in lives], axis=0)
    print(f"plans: money {money:,.0f}, stopped seasons {stops:.3f}, told {np.mean(told):.3f}")
    assert stops <= ACCEPTED + 0.03
    for name, rule, shares in (
        ("at a share of the limit", at_share, (0.95, 0.9, 0.85, 0.8, 0.75, 0.7)),
        ("by age", by_age, (0.8, 0.7, 0.6, 0.5, 0.45)),
    ):
        rival = cheapest_as_safe(rule, shares, max(stops, ACCEPTED))
        print(f"{name}: money {rival:,.0f}")
        assert money <= 0.85 * rival
