"""Exchanges between two engines of a class that nobody told: found where they were, invented nowhere."""

import re

import numpy as np
import pytest
from fleets.swap_worlds import SwapPlan, SwapWorld, simulate_swaps, without_exchanges

from models.forecast.alarms import SWAP, Alarm
from models.forecast.run import make_forecast
from models.forecast.untold_swaps import untold_swaps
from models.lives.build import build_lives

PLAN = SwapPlan(engines=4, exchanges=0, across=4, apart=7.0, after=2)
"""Levels that differ by seven gauge errors, two readings after."""


def alarms_of(world: SwapWorld, classes: dict[str, str] | None = None) -> list[Alarm]:
    vehicles = world.tables["vehicles"]
    of = dict(zip(vehicles["vehicle"], vehicles["class"], strict=True)) if classes is None else classes
    return untold_swaps(build_lives(world.untold(), as_written=True), world.tables["wear_points"], of)


def names(alarm: Alarm, exchange: tuple[int, str, str]) -> bool:
    """Whether an alarm names both places and days about that of an exchange. The simulator exchanges ten days
    after a reading, or at the next one where that comes sooner."""
    day, *places = exchange
    since, until = re.findall(r"\d{4}-\d\d-\d\d", alarm.words)
    several = len({place.split(" driver")[0] for place in places}) > 1
    told = re.findall(r"(?:engine \d+ )?driver \d", alarm.words)
    wanted = places if several else [place.removeprefix(f"{alarm.vehicle} ") for place in places]
    return sorted(told) == sorted(wanted) and since <= str(np.datetime64(day - 10, "D")) <= until


def counted(seeds: range, plan: SwapPlan) -> tuple[int, int, int, int]:
    """Exchanges, found ones, alarms about none, and where nothing moved; the two of one exchange are one."""
    made = found = wrong = invented = 0
    for seed in seeds:
        world = simulate_swaps(seed, plan)
        alarms = alarms_of(world)
        made += len(world.exchanges)
        found += sum(any(names(alarm, exchange) for alarm in alarms) for exchange in world.exchanges)
        false = [alarm for alarm in alarms if not any(names(alarm, each) for each in world.exchanges)]
        wrong += len({alarm.words for alarm in false})
        nothing = alarms_of(simulate_swaps(seed, without_exchanges(plan)))
        invented += len({alarm.words for alarm in nothing})
    return made, found, wrong, invented


def test_nine_in_ten_are_found_and_none_is_invented():
    """Four worlds of four engines and ten years, exchanges within engines and between them.

    Measured between engines: 157 of 160 found in forty worlds of four, 118 of 120 in worlds of ten with as
    many within them; two pairs named wrongly; none invented in 160 and 60 engines. Wear that jumps
    about thrice as much as here, at rates twice as far apart: 91 of 100.
    """
    made, found, wrong, invented = counted(range(4), SwapPlan(engines=4, exchanges=1, across=4, apart=7.0))
    assert made == 32
    assert found >= 29
    assert wrong <= 1
    assert invented <= 1


@pytest.mark.long
@pytest.mark.parametrize("engines", [4, 10])
def test_nine_in_ten_are_found_in_many_worlds(engines):
    plan = SwapPlan(engines=engines, exchanges=0, across=engines, apart=7.0)
    made, found, wrong, invented = counted(range(100, 116), plan)
    assert made == 16 * engines
    assert found >= 0.9 * made
    assert wrong <= 0.02 * made
    assert invented <= 16 * engines / 10  # the aim is one an engine in ten years: it is ten times better


def test_each_engine_has_the_alarm_with_its_own_wear_points():
    world = simulate_swaps(0, PLAN)
    by_words: dict[str, list[Alarm]] = {}
    for alarm in alarms_of(world):
        by_words.setdefault(alarm.words, []).append(alarm)
    assert len(by_words) == len(world.exchanges)
    vehicle_of = world.tables["wear_points"]["vehicle"]
    for words, alarms in by_words.items():
        assert len({alarm.vehicle for alarm in alarms}) == len(alarms) == 2
        for alarm in alarms:
            assert alarm.vehicle in words
            assert set(vehicle_of.iloc[list(alarm.points)]) == {alarm.vehicle}
            assert alarm.readings


@pytest.mark.parametrize(
    "classes", [{}, {"engine 0": "a", "engine 1": "b", "engine 2": "c", "engine 3": "d"}]
)
def test_engines_of_no_class_or_of_others_are_not_asked_for_each_other(classes):
    assert alarms_of(simulate_swaps(0, PLAN), classes) == []


def test_the_forecast_asks_by_the_class_of_the_vehicles():
    world = simulate_swaps(3, SwapPlan(engines=2, exchanges=0, across=1, apart=15.0, after=4))
    (exchange,) = world.exchanges
    alarms = make_forecast(world.untold()).frames["alarms"]
    swaps = alarms[alarms["kind"] == SWAP]
    assert swaps["words"].nunique() == 1
    assert set(swaps["vehicle"]) == {"engine 0", "engine 1"}
    assert all(place in swaps["words"].iloc[0] for place in exchange[1:])
    told = make_forecast(world.tables).frames["alarms"]
    assert not (told["kind"] == SWAP).any()
