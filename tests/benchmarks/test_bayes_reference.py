"""Beside a hierarchical Bayesian model of the right structure, sampled for minutes a fleet: loss and width.

    pytest -m long tests/benchmarks/test_bayes_reference.py -s

Paired over fleets; the standard error of the ratio is printed beside it. Two to three minutes of processor a
fleet of 40 families, half an hour a world.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fleets.accuracy_table import CAP, PINBALL_AT
from fleets.bayes_reference import HierarchicalBayes
from fleets.engine_seasons import EnginePlan, simulate_engines
from fleets.gauge_worlds import World, simulated
from fleets.reference_lives import lives_of
from fleets.simulate import FleetPlan, simulate_fleet

from models.forecast.run import make_forecast
from models.lives.table import Lives
from models.score.scoring_rules import pinball
from models.wear.model import PooledWear

STATED = ["miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95"]
FLEETS = 4


def of_a_fleet(plan, reference, seed):
    """What both say of the lives in service, and the truth, in mean lives."""
    fleet = simulate_fleet(np.random.default_rng(seed), plan)
    lives, kept = Lives(**fleet.arrays), ~np.isnan(fleet.remaining)
    both = [
        model.fit(lives).predict_remaining(PINBALL_AT)[kept] / fleet.mean_life[kept, None]
        for model in (PooledWear(), reference)
    ]
    return *both, (fleet.remaining / fleet.mean_life)[kept]


def of_tables(tables, truth, reference, second=""):
    """The same, ours by ``make_forecast``; truth: a row a point with remaining and life."""
    lives, beside, points = lives_of(tables, second)
    used = replace(beside, **dict.fromkeys(reference.pop("without")))
    said = HierarchicalBayes(beside=used, **reference).fit(lives).predict_remaining(PINBALL_AT)
    ours = make_forecast(tables).frames["forecast"].set_index("point")
    row = {point: i for i, point in enumerate(points) if point}
    truth = truth[truth["point"].isin(list(row))]
    scale = truth["life"].to_numpy()
    theirs = said[[row[p] for p in truth["point"]]] / scale[:, None]
    return (
        ours.loc[truth["point"], STATED].to_numpy(float) / scale[:, None],
        theirs,
        truth["remaining"].to_numpy() / scale,
    )


def of_gauges(seed):
    made = simulated(World(engines=10, off=0.05), seed)
    return of_tables(made.tables, made.truth, {"without": ("season_miles", "a_season")}, second="-B")


def of_wild(seed):
    made = simulated(World(engines=10, wild=0.15), seed)
    nothing = ("second", "engine", "season_miles", "a_season")
    return of_tables(made.tables, made.truth, {"wild": True, "without": nothing})


def of_seasons(seed):
    made = simulate_engines(np.random.default_rng(seed), EnginePlan(shock=0.4, engines=10))
    truth = made.truth.rename(columns={"remaining_miles": "remaining", "mean_life": "life"})
    return of_tables(normalised(made.tables), truth, {"without": ("second",)})


def normalised(tables):
    """Tables of engines as ``make_forecast`` takes them."""
    readings = tables["readings"].assign(odometer_sd=0.0, gauge="")
    readings["row_id"] = np.arange(len(readings))
    points = tables["wear_points"].assign(
        shop_limit=np.nan, condemned_when="", gauge_sd=np.nan, base_unit="mm", per_base=1.0
    )
    usage = pd.DataFrame({"vehicle": [], "month": [], "miles_planned": [], "miles_sd": []})
    work = tables["work"].assign(value_before=np.nan, value_after=np.nan)
    dated = {"mileage": tables["mileage"], "readings": readings, "work": work}
    dated = {n: t.assign(date=pd.to_datetime(t["date"]).astype("datetime64[us]")) for n, t in dated.items()}
    return {"vehicles": tables["vehicles"], "wear_points": points, "usage": usage} | dated


def of_plan(plan, **reference):
    return lambda seed: of_a_fleet(plan, HierarchicalBayes(**reference), seed)


WORLDS = {
    "straight": (of_plan(FleetPlan()), 1.07),
    "four lives, three readings, shapes mixed": (
        of_plan(FleetPlan(n_lives=4, readings=(3, 3), shape="mixed"), bent=True),
        1.1,
    ),
    "two populations, nobody says which": (
        of_plan(FleetPlan(n_lives=16, readings=(2, 5), spread=(0.1, 0.2), faster=1.8), two=True),
        1.05,
    ),
    "15 % wild": (of_wild, 1.2),
    "a second gauge": (of_gauges, 1.1),
    "restless seasons": (of_seasons, 1.1),
}
"""World -> how a fleet is told by both, and the most that our loss may be over the reference's."""


def as_wide(ours, theirs, came):
    """Width of our 80 % intervals over the reference's, these stretched about its medians to hold as many."""
    held = ((ours[:, 1] <= came) & (came <= ours[:, 3])).mean()
    low, middle, high = theirs[:, 1:4].T
    side = np.maximum(np.where(came > middle, high - middle, middle - low), 1e-12)  # 0 where all is past
    off = np.abs(came - middle) / side
    return (ours[:, 3] - ours[:, 1]).mean() / ((high - low).mean() * np.quantile(off, held))


@pytest.mark.long
@pytest.mark.timeout(5400)
@pytest.mark.filterwarnings("default")  # of the sampler's own libraries
@pytest.mark.parametrize("name", list(WORLDS))
def test_a_world_beside_the_reference(name):
    told, most = WORLDS[name]
    rows, all_said, all_came = [], [], []
    for seed in range(100, 100 + FLEETS):
        *both, came = (np.minimum(part, CAP) for part in told(seed))
        all_came.append(came)
        all_said.append(both)
        row = {"parts": len(came)}
        for who, said in zip(("ours", "reference"), both, strict=True):
            held = (said[:, 1] <= came) & (came <= said[:, 3])
            row |= {f"{who} loss": pinball(said, PINBALL_AT, came).mean(), f"{who} holds": held.mean()}
            row |= {f"{who} width": (said[:, 3] - said[:, 1]).mean()}
        rows.append(row)
        print(f"\n{name} {seed}", {key: round(float(value), 4) for key, value in row.items()}, flush=True)
    table = pd.DataFrame(rows)
    each = table["ours loss"] / table["reference loss"]
    ratio, error = table["ours loss"].sum() / table["reference loss"].sum(), each.std() / np.sqrt(len(each))
    wider = table["ours width"].sum() / table["reference width"].sum()
    print(f"{name}: loss {ratio:.3f} of the reference's (standard error {error:.3f}), width {wider:.3f}")
    ours, theirs = (np.concatenate(said) for said in zip(*all_said, strict=True))
    print(
        f"beside a reference that holds as much: width {as_wide(ours, theirs, np.concatenate(all_came)):.3f}"
    )
    print(table.drop(columns="parts").mean().round(3).to_string())
    assert ratio - 2.0 * error <= most
