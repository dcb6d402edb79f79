"""Several invented railways that run the same kinds of parts: alike, and everywhere a little different."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from fleets.simulate import LAST_DAY, Families, Fleet, FleetPlan, draw_families, simulate_fleet

BETWEEN = {"mean_life": 0.25, "spread": 0.2, "gauge": 0.3, "brownian": 0.25}
"""Spread of the logs between railways."""


def simulate_railways(
    rng: np.random.Generator, plans: list[FleetPlan], between: dict[str, float] | None = None
) -> list[Fleet]:
    """One fleet a plan, all with the same families but for their differences between railways.

    Parameters
    ----------
    plans : all of the same number of families; the first draws what the families have in common.
    between : ``BETWEEN`` if not given.
    """
    common = draw_families(rng, plans[0])
    spread = BETWEEN if between is None else between
    return [simulate_fleet(rng, plan, _at_a_railway(rng, common, plan, spread)) for plan in plans]


def _at_a_railway(
    rng: np.random.Generator, common: Families, plan: FleetPlan, spread: dict[str, float]
) -> Families:
    n = len(common.limit)
    own = {name: getattr(common, name) * np.exp(s * rng.standard_normal(n)) for name, s in spread.items()}
    stop = rng.uniform(*plan.stop, n)
    days = LAST_DAY - common.first_day
    mean_life = own.get("mean_life", common.mean_life)
    return replace(common, **own, stop=stop, miles_per_day=stop * mean_life / days)
