"""The accuracy table: every forecaster against simulated fleets and published data whose outcome is known.

python tests/benchmarks/accuracy.py [--fleets 1] [--seed 1] [--only straight] [--slow]
"""

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1]))

from fleets.accuracy_table import KnownTruth, accuracy_table
from fleets.simulate import FleetPlan, draw_families, simulate_fleet

from models.lives.table import Lives
from models.rivals.gaussian_process import GaussianProcess
from models.rivals.last_two import LastTwoReadings
from models.rivals.least_squares import LeastSquares
from models.rivals.mixed import MixedModel

DATA = Path(__file__).parents[1] / "published" / "data"

PLANS = {
    "straight": FleetPlan(),
    "wild 5 %": FleetPlan(wild=0.05),
    "accelerating": FleetPlan(shape="accelerating"),
    "decelerating": FleetPlan(shape="decelerating"),
    "many lives": FleetPlan(stop=(1.0, 2.5)),
    "uneven start": FleetPlan(start=(0.01, 0.05)),
    "no Brownian part": FleetPlan(brownian=(0.0, 0.005)),
    "strong Brownian part": FleetPlan(brownian=(0.15, 0.4)),
    "four lives": FleetPlan(n_lives=4),
    "few families": FleetPlan(n_families=4),
    "every shape": FleetPlan(shape="mixed"),
}
"""What is simulated, by the name in the table."""


def simulated(name, n_fleets=1, seed=1):
    """A kind of PLANS as a case; further fleets are further families."""
    plan = PLANS[name]
    plan = FleetPlan(**{**vars(plan), "n_families": plan.n_families * n_fleets})
    fleet = simulate_fleet(np.random.default_rng(seed), plan)
    return KnownTruth(name, Lives(**fleet.arrays), fleet.remaining, fleet.mean_life)


def replicated(name, times, seed=1):
    """The same families of a kind of PLANS, each time with other lives."""
    plan = PLANS[name]
    families = draw_families(np.random.default_rng(seed), plan)
    for i in range(times):
        fleet = simulate_fleet(np.random.default_rng([seed, i]), plan, families)
        yield KnownTruth(name, Lives(**fleet.arrays), fleet.remaining, fleet.mean_life)


def laser(as_of=2000.0, limit=6.0):
    """GaAs lasers, 15 units, current increase [%] read every 250 h to 4,000 h (Meeker & Escobar 1998, C.17).

    What came true is the first reading at the limit, interpolated from the one before.
    """
    table = pd.read_csv(DATA / "gaas_laser.csv", comment="#")
    table = table.pivot_table(index="unit", columns="hours", values="increase")
    hours, wear = np.array(table.columns, dtype=float), table.to_numpy()
    return published("laser", np.tile(hours, (len(wear), 1)), wear, as_of, limit)


def published(name, miles, wear, as_of, limit):
    """Paths read on beyond the limit, known up to a distance; one that never gets there is not scored."""
    beyond = wear >= limit
    i = np.maximum(beyond.argmax(axis=1), 1)
    rows = np.arange(len(wear))
    w0, w1, m0, m1 = wear[rows, i - 1], wear[rows, i], miles[rows, i - 1], miles[rows, i]
    crossing = np.where(beyond.any(axis=1), m0 + (limit - w0) / (w1 - w0) * (m1 - m0), np.nan)
    known = miles <= as_of
    width = known.sum(axis=1).max()
    n = len(wear)
    lives = Lives(
        family=np.zeros(n, dtype=int),
        miles=np.where(known, miles, np.nan)[:, :width],
        wear=np.where(known, wear, np.nan)[:, :width],
        limit=np.full(n, limit),
        gauge_sd=np.full((n, width), np.nan),
        as_of_miles=np.full(n, as_of),
        ended=np.zeros(n, dtype=bool),
        day=np.where(known, miles, np.nan)[:, :width],
    )
    remaining = np.where(crossing > as_of, crossing - as_of, np.nan)
    return KnownTruth(name, lives, remaining, np.full(n, np.nanmean(crossing)))


def rivals(slow=False):
    """The rivals by name; the slow ones take seconds a fleet."""
    quick = {"last two readings": LastTwoReadings(), "least squares": LeastSquares()}
    return quick | ({"mixed model": MixedModel(), "Gaussian process": GaussianProcess()} if slow else {})


def ours():
    """The wear model."""
    from models.wear.model import PooledWear

    return {"milesleft": PooledWear()}


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fleets", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", action="append", help="A kind of wear; may be given several times.")
    parser.add_argument("--slow", action="store_true", help="With the mixed model and the Gaussian process.")
    options = parser.parse_args()
    kinds = options.only or [*PLANS, "laser"]
    cases = [laser() if k == "laser" else simulated(k, options.fleets, options.seed) for k in kinds]
    table = accuracy_table(ours() | rivals(options.slow), cases)
    print(table.round(3).to_string(index=False))


if __name__ == "__main__":
    main()
