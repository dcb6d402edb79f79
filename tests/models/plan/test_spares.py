"""The plan may fit a part of the rack instead of a new one: never twice, never at a loss."""

from itertools import product

import numpy as np
import pandas as pd
import pytest
from fleets.planned_engines import COSTS, railway

from models.plan.engine import Chosen, choose, programme_of
from models.plan.jobs import Fitted
from models.plan.planner import make_plan
from models.plan.rules import Rules
from models.rack.fits import COLUMNS
from models.rack.programme import programme_with
from models.rack.search import rack_search

EACH = Rules(risk=0.25)
"""Every part bounded by itself: HiGHS then finds the cheapest plan, so that all of them can be compared."""


def on_rack(inputs, part, points, share=None):
    """Rows of a part that fits where some wear points are; ``share``: of a new life left in it, None: new."""
    known = inputs.distribution.set_index("point")["new_life"]
    rows = []
    for point in points:
        left = None if share is None else share * known[point]
        miles = known[point] if left is None else left
        about = inputs.simulation.points.set_index("point").loc[point]
        place, half = (
            (about["component"], about["access"], point[0], f"place {point[1:]}", point),
            len(miles) // 2,
        )
        rows.append((part, *place, left, share, np.nan, miles[2], miles[half], True))
    return pd.DataFrame(rows, columns=COLUMNS)


def planned(inputs, rack, rules=EACH):
    return make_plan(inputs, rules, gap=1e-9, rack=rack_search(rack, inputs, rules))


def objective(plan):
    return float(plan.totals.loc[plan.totals["what"] == "objective", "amount"].sum())


def fitted_at(inputs, part, point, window, left):
    about = inputs.simulation.points.set_index("point").loc[point]
    place = (about["component"], about["position"], (point,), about["access"])
    return Fitted(part, *place, window, left, 0.0, 0.0)


def chosen_for(programme, rules=EACH):
    return Chosen(programme, *choose(programme, None, rules, 1.0, 1e-9, None))


def every_fitting(inputs, part, points, left):
    """Cost of the cheapest plan with the part at each place and window, and without it."""
    one = chosen_for(programme_of(inputs, "A", EACH))
    costs = [one.solution.objective]
    for point, window in product(points, range(len(inputs.windows))):
        fitted = fitted_at(inputs, part, point, window, left(point))
        costs.append(chosen_for(programme_with(one, [fitted], inputs, EACH)).solution.objective)
    return np.array(costs)


@pytest.mark.parametrize("share", [None, 0.6, 0.3])
def test_a_small_case_is_as_good_as_the_best_of_all_fittings(share):
    inputs = railway(4, 4, draws=300)
    points = ["A0", "A3"]
    known = inputs.distribution.set_index("point")["new_life"]
    best = every_fitting(
        inputs, "S-1", points, lambda point: {} if share is None else {point: share * known[point]}
    )
    plan = planned(inputs, on_rack(inputs, "S-1", points, share))
    assert objective(plan) == pytest.approx(best.min(), rel=1e-6)
    assert len(plan.fitted) == int(best.min() < best[0] - 1e-6)


def test_a_dear_fitting_is_left_and_a_cheap_one_taken():
    dear = pd.concat([COSTS, COSTS[COSTS["component"] == "bushing"].assign(action="fitted", cost=5000.0)])
    for costs, count in ((COSTS, 1), (dear, 0)):
        inputs = railway(4, 4, draws=300, costs=costs)
        plan = planned(inputs, on_rack(inputs, "S-1", ["A0"], 0.6))
        assert len(plan.fitted) == count


def test_a_spare_that_is_worn_out_is_none():
    inputs = railway(4, 4, draws=300)
    plan = planned(inputs, on_rack(inputs, "S-1", ["A0"], 0.02))
    assert plan.fitted.empty


def test_one_spare_wanted_by_two_engines_goes_to_one_of_them():
    inputs = railway(4, 4, draws=300, vehicles=("A", "B"))
    plan = planned(inputs, on_rack(inputs, "S-1", ["A0", "A3", "B0", "B3"]))
    assert len(plan.fitted) == 1
    lines = plan.scope[plan.scope["action"] == "spare S-1 fitted"]
    assert len(lines) == 1
    assert lines["reason"].str.contains("S-1 is fitted from the rack").all()
    without = make_plan(inputs, EACH, gap=1e-9)
    assert objective(plan) < objective(without)


def test_two_spares_and_the_accepted_chance_of_the_engine():
    inputs = railway(9, 5, draws=600)
    rules = Rules(risk=0.5, stop_risk=0.1)
    rack = pd.concat([on_rack(inputs, "S-1", ["A0", "A3"], 0.5), on_rack(inputs, "S-2", ["A0", "A6"], 0.8)])
    plan, without = planned(inputs, rack, rules), make_plan(inputs, rules, gap=1e-9)
    assert objective(plan) < objective(without)
    assert plan.engine_risk.loc[plan.engine_risk["season"] > 0, "with_plan"].mean() <= 0.1
    assert plan.fitted["part_no"].is_unique
    assert plan.fitted["job"].is_unique
    again = planned(inputs, rack.sample(frac=1, random_state=1), rules)
    for name, frame in plan.frames().items():
        pd.testing.assert_frame_equal(frame, again.frames()[name])


@pytest.mark.parametrize("rules", [EACH, Rules(risk=0.5, stop_risk=0.1)])
def test_without_spares_every_frame_is_as_it_was(rules):
    inputs = railway(6, 4, draws=300, vehicles=("A", "B"))
    nothing = on_rack(inputs, "S-1", [])
    plan, without = planned(inputs, nothing, rules), make_plan(inputs, rules, gap=1e-9)
    for name, frame in without.frames().items():
        pd.testing.assert_frame_equal(frame, plan.frames()[name])


def test_the_life_after_is_that_of_the_spare():
    """With no other part the month of the stop follows from the miles left in the spare alone."""
    inputs = railway(1, 4, draws=600)
    known = inputs.distribution.set_index("point")["new_life"]["A0"]
    one = chosen_for(programme_of(inputs, "A", EACH))
    new, spare = (
        programme_with(one, [fitted_at(inputs, "S-1", "A0", 0, left)], inputs, EACH)
        for left in ({}, {"A0": 0.3 * known})
    )
    # Miles of a spare with three tenths of a life: as far after some miles as a new part after 10/3 of them.
    run = new.lives.miles
    for node in range(2, len(run)):
        gap = run[node] - run[1]
        chance = np.interp(gap / 0.3, known, np.linspace(0, 1, len(known)), left=0.0, right=1.0)
        assert spare.lives.chance[0, 1, node] >= new.lives.chance[0, 1, node]
        assert (spare.lives.chance[0, 1, node] > 0.5) == (chance > 0.5) or abs(gap / 0.3 - known[16]) < 500
    assert (spare.failures.season[:, 0, 1] <= new.failures.season[:, 0, 1]).all()
    np.testing.assert_array_equal(spare.lives.chance[0, 2:], new.lives.chance[0, 2:])


def test_rows_of_the_rack_do_not_change_the_inputs():
    inputs = railway(4, 4, draws=300)
    before = inputs.simulation.next_life.copy()
    planned(inputs, on_rack(inputs, "S-1", ["A0"], 0.6))
    np.testing.assert_array_equal(inputs.simulation.next_life, before)
