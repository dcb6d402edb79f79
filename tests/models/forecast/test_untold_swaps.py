"""Exchanges that nobody told, in simulated engines: found where they were, invented nowhere."""

import re

import numpy as np
import pytest
from fleets.swap_worlds import SwapPlan, SwapWorld, simulate_swaps, without_exchanges

from models.forecast.alarms import SWAP, UNRECORDED, Alarm
from models.forecast.run import make_forecast
from models.forecast.untold_swaps import untold_swaps
from models.lives.build import build_lives

PLAN = SwapPlan(engines=4, exchanges=2, apart=7.0, after=2)
"""Levels that differ by seven gauge errors, two readings after."""


def alarms_of(world: SwapWorld) -> list[Alarm]:
    return untold_swaps(build_lives(world.untold(), as_written=True), world.tables["wear_points"])


def names(alarm: Alarm, exchange: tuple[int, str, str]) -> bool:
    """Whether an alarm names the engine, both places, and days about that of an exchange."""
    day, one, other = exchange
    since, until = re.findall(r"\d{4}-\d\d-\d\d", alarm.words)
    places = {f"driver {number}" for number in re.findall(r"driver (\d)", alarm.words)}
    its = {one.removeprefix(f"{alarm.vehicle} "), other.removeprefix(f"{alarm.vehicle} ")}
    return places == its and since <= str(np.datetime64(day, "D")) <= until


def counted(seeds: range) -> tuple[int, int, int, int]:
    """Exchanges, found ones, alarms about none, alarms where nothing moved."""
    made = found = wrong = invented = 0
    for seed in seeds:
        world = simulate_swaps(seed, PLAN)
        alarms = alarms_of(world)
        made += len(world.exchanges)
        found += sum(any(names(alarm, exchange) for alarm in alarms) for exchange in world.exchanges)
        wrong += sum(not any(names(alarm, exchange) for exchange in world.exchanges) for alarm in alarms)
        invented += len(alarms_of(simulate_swaps(seed, without_exchanges(PLAN))))
    return made, found, wrong, invented


def test_nine_in_ten_are_found_and_none_is_invented():
    """Four worlds of four engines and ten years; of their 32 exchanges nine in ten are 29. Measured over
    twenty worlds: 155 of 160 found, and none invented in 80 engines."""
    made, found, wrong, invented = counted(range(4))
    assert made == 32
    assert found >= 29
    assert wrong <= 1
    assert invented <= 1


@pytest.mark.long
def test_nine_in_ten_are_found_in_many_worlds():
    made, found, wrong, invented = counted(range(20))
    assert made == 160
    assert found >= 0.9 * made
    assert wrong <= 0.02 * made
    assert invented <= 20  # of 80 engines in ten years each; the aim is one an engine


def test_a_swap_that_is_told_is_asked_no_more():
    world = simulate_swaps(0, PLAN)
    assert alarms_of(world)
    assert untold_swaps(build_lives(world.tables, as_written=True), world.tables["wear_points"]) == []


def test_the_forecast_tells_the_swap_with_the_readings_after_it_and_nothing_else_of_them():
    world = simulate_swaps(3, SwapPlan(engines=1, exchanges=1, apart=15.0, after=4))
    alarms = make_forecast(world.untold()).frames["alarms"]
    swaps = alarms[alarms["kind"] == SWAP]
    assert swaps["words"].nunique() == 1
    assert (swaps["row_id"] >= 0).all()
    assert (swaps["date"] >= swaps["since"]).all()
    assert not set(alarms.loc[alarms["kind"] == UNRECORDED, "point"]) & set(swaps["point"])
    told = make_forecast(world.tables).frames["alarms"]
    assert not (told["kind"] == SWAP).any()


def test_a_place_with_a_renewal_between_is_not_asked():
    """Both places were renewed: nothing that was measured goes on anywhere."""
    world = simulate_swaps(0, PLAN)
    tables = world.untold()
    day, one, other = world.exchanges[0]
    points = tables["wear_points"]["point"]
    points = points[points.str.startswith((one, other))]
    work = tables["work"].reindex(range(len(points))).assign(point=points.to_numpy(), action="renewed")
    work["date"] = np.datetime64(day, "D").astype("datetime64[us]")
    alarms = untold_swaps(build_lives(tables | {"work": work}, as_written=True), tables["wear_points"])
    assert not any(names(alarm, world.exchanges[0]) for alarm in alarms)
