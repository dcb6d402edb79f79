"""Simulated fleets with known truth, for measuring forecasters.

Many families of a few lives; the record stops on one calendar day, so that what is left in service are the
survivors. A part that reached its limit before that day was renewed there: its readings stay in the record
as those of an ended life, and the part then in service is the one to forecast. The truth is the distance
from the last day to the first crossing of the same path carried on.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from fleets.wear_paths import STEPS, PathLaw, draw_law, first_crossing, simulate_paths
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Range = tuple[float, float]

LAST_DAY = 20_453  # 2025-12-31, days since 1970-01-01: where every invented record stops
YEARS = (3.0, 25.0)  # length of a record
AHEAD = (0.1, 0.25, 0.5)  # mean lives after the last day at which later readings are taken


@dataclass(frozen=True)
class FleetPlan:
    """What is simulated. A pair is a range: each family draws its own value, uniformly.

    Attributes
    ----------
    spread : standard deviation of the lives' rates over their mean. Half of the families draw normal rates
        (cut off at 0.15 of the mean), half lognormal ones. [1]
    gauge : standard deviation of the gauge's error, share of the limit. [1]
    brownian : standard deviation of the Brownian part over one mean life, share of the limit. [1]
    start : standard deviation of the wear when new, share of the limit. [1]
    readings : readings of a part that served the whole record, or one mean life if that is shorter; a part
        that served less has its share, at least one. [1]
    stop : length of the record in mean lives. [1]
    shape : straight, accelerating, decelerating, or mixed (each family draws its own).
    faster : half of the lives of every family, which nobody tells apart, wear so many times as fast as the
        other half; with 1, all are of one population. [1]
    wild : chance that a reading is off by a further 8 standard deviations of the gauge, up or down. [1]
    gauge_known : whether the gauge's repeatability stands in the tables and arrays.
    """

    n_families: int = 40
    n_lives: int = 8
    spread: Range = (0.1, 0.5)
    gauge: Range = (0.005, 0.04)
    brownian: Range = (0.02, 0.12)
    start: Range = (0.0, 0.0)
    readings: tuple[int, int] = (3, 12)
    stop: Range = (0.3, 0.7)
    shape: str = "straight"
    faster: float = 1.0
    wild: float = 0.0
    gauge_known: bool = False


@dataclass(frozen=True)
class Families:
    """Drawn values of each family, shape (f,): mean life [mi], limit [mm], shares as in the plan."""

    mean_life: Floats
    limit: Floats
    spread: Floats
    gauge: Floats
    brownian: Floats
    start: Floats
    stop: Floats
    first_day: Floats
    miles_per_day: Floats
    lognormal: Bools
    laws: list[PathLaw]


@dataclass(frozen=True)
class Fleet:
    """A simulated fleet: what is known on the last day, and the truth.

    Attributes
    ----------
    arrays : the known part; keys and shapes as the models take lives (family, miles, wear, limit, gauge_sd,
        as_of_miles, ended, day), one row a life.
    position : shape (n,). Place of the life within its family, 0 .. n_lives - 1.
    number : shape (n,). 1 for the first life at that place.
    began : shape (n,). Miles from the first day to the beginning of the life. [mi]
    end_day : shape (n,). Day of the renewal that ended the life, or the last day. [d since 1970-01-01]
    whole_miles : shape (n,). Miles from the beginning of the life to the last day, renewed or not. [mi]
    remaining : shape (n,). True miles from the last day to the first crossing; NaN for an ended life, +inf
        where the path does not cross within 10 mean lives. [mi]
    mean_life : shape (n,). Mean life of the family, the natural scale of an error. [mi]
    later_miles, later_wear : shape (n, 3). Readings after the last day, of the path carried on whether or not
        it has crossed; NaN for an ended life. [mi since the life began], [mm]
    families : drawn values of the families.
    """

    arrays: dict[str, NDArray]
    position: Ints
    number: Ints
    began: Floats
    end_day: Floats
    whole_miles: Floats
    remaining: Floats
    mean_life: Floats
    later_miles: Floats
    later_wear: Floats
    families: Families = field(repr=False)


def simulate_fleet(
    rng: np.random.Generator, plan: FleetPlan | None = None, families: Families | None = None
) -> Fleet:
    """Simulate a fleet by the plan; the same generator state gives the same fleet.

    ``families`` stand in the place of those that the plan would draw.
    """
    plan = plan or FleetPlan()
    families = draw_families(rng, plan) if families is None else families
    family = np.repeat(np.arange(plan.n_families), plan.n_lives)
    position = np.tile(np.arange(plan.n_lives), plan.n_families)
    target = rng.integers(plan.readings[0], plan.readings[1] + 1, len(family))
    began = np.zeros(len(family))
    generations = []
    number = 1
    while len(family):
        lives = _one_generation(rng, plan, families, (family, position, began, target))
        lives["number"] = np.full(len(family), number)
        generations.append(lives)
        again = lives["ended"]
        began = lives["began"][again] + lives["crossing"][again]
        family, position, target = family[again], position[again], target[again]
        number += 1
    return _assemble(generations, families, plan)


def draw_families(rng: np.random.Generator, plan: FleetPlan) -> Families:
    """Draw what the families of a plan are like."""
    n = plan.n_families
    mean_life, stop = np.exp(rng.uniform(np.log(20_000), np.log(120_000), n)), rng.uniform(*plan.stop, n)
    days = np.round(365.25 * rng.uniform(*YEARS, n))
    return Families(
        mean_life=mean_life,
        limit=np.exp(rng.uniform(np.log(1.0), np.log(25.0), n)),
        spread=rng.uniform(*plan.spread, n),
        gauge=rng.uniform(*plan.gauge, n),
        brownian=rng.uniform(*plan.brownian, n),
        start=rng.uniform(*plan.start, n),
        stop=stop,
        first_day=LAST_DAY - days,
        miles_per_day=stop * mean_life / days,
        lognormal=rng.random(n) < 0.5,
        laws=[draw_law(rng, plan.shape) for _ in range(n)],
    )


def _draw_speed(rng: np.random.Generator, spread: Floats, lognormal: Bools) -> Floats:
    """Rates of lives over the mean rate; normal ones are drawn again until above 0.15."""
    normal = 1 + spread * rng.standard_normal(len(spread))
    while (low := normal < 0.15).any():
        normal[low] = 1 + spread[low] * rng.standard_normal(low.sum())
    width = np.sqrt(np.log1p(spread**2))
    return np.where(lognormal, np.exp(width * rng.standard_normal(len(spread)) - width**2 / 2), normal)


def _one_generation(
    rng: np.random.Generator, plan: FleetPlan, families: Families, places: tuple[Ints, Ints, Floats, Ints]
) -> dict[str, NDArray]:
    """Simulate the lives that begin at these places, read them, see which end before the last day."""
    family, position, began, target = places
    scale, brownian = families.mean_life[family], families.brownian[family]
    speed = _draw_speed(rng, families.spread[family], families.lognormal[family])
    if plan.faster != 1.0:
        speed *= np.where(rng.random(len(speed)) < 0.5, plan.faster, 1.0) * 2.0 / (1.0 + plan.faster)
    start = families.start[family] * rng.standard_normal(len(family))
    path = simulate_paths(rng, [families.laws[f] for f in family], speed, brownian, start)
    crossing = first_crossing(rng, path, brownian) * scale
    stop = families.stop[family] * scale
    served = np.minimum(crossing, stop - began)
    count = np.maximum(1, np.round(target * served / np.minimum(stop, scale))).astype(int)
    steps = _reading_steps(rng, np.floor(served / scale * STEPS).astype(int), count)
    limit, gauge = families.limit[family], families.gauge[family]
    ended = crossing < stop - began
    ahead = np.round(served / scale * STEPS)[:, None] + np.round(np.array(AHEAD) * STEPS)
    later = np.where(ended[:, None], -1, ahead).astype(int)
    return {
        "family": family,
        "position": position,
        "began": began,
        "crossing": crossing,
        "served": served,
        "ended": ended,
        "miles": np.where(steps >= 0, steps * (scale / STEPS)[:, None], np.nan),
        "wear": _read(rng, path, steps, gauge, plan.wild) * limit[:, None],
        "later_miles": np.where(later >= 0, later * (scale / STEPS)[:, None], np.nan),
        "later_wear": _read(rng, path, later, gauge, 0.0) * limit[:, None],
    }


def _reading_steps(rng: np.random.Generator, last: Ints, count: Ints) -> Ints:
    """Grid steps of the readings of each life: drawn from 1 .. last without repeats, in order, then -1."""
    last = np.maximum(last, 1)
    count = np.minimum(count, last)
    keys = rng.random((len(last), last.max()))
    keys[np.arange(last.max()) >= last[:, None]] = 2.0
    width = int(count.max())
    steps = np.argsort(keys, axis=1)[:, :width] + 1
    steps[np.arange(width) >= count[:, None]] = np.iinfo(np.int64).max
    steps.sort(axis=1)
    return np.where(np.arange(width) < count[:, None], steps, -1)


def _read(rng: np.random.Generator, path: Floats, steps: Ints, gauge: Floats, wild: float) -> Floats:
    """Readings of the path at grid steps, with the gauge's error; NaN where the step is negative."""
    true = np.take_along_axis(path, np.maximum(steps, 0), axis=1)
    error = rng.standard_normal(steps.shape)
    off = rng.random(steps.shape) < wild
    error += np.where(off, 8.0 * rng.choice([-1.0, 1.0], steps.shape), 0.0)
    return np.where(steps >= 0, true + error * gauge[:, None], np.nan)


def _assemble(generations: list[dict[str, NDArray]], families: Families, plan: FleetPlan) -> Fleet:
    """Lives of all generations in one set of padded arrays, ordered by family, place and number."""
    width = max(g["miles"].shape[1] for g in generations)
    for g in generations:
        pad = ((0, 0), (0, width - g["miles"].shape[1]))
        g["miles"] = np.pad(g["miles"], pad, constant_values=np.nan)
        g["wear"] = np.pad(g["wear"], pad, constant_values=np.nan)
    a = {key: np.concatenate([g[key] for g in generations]) for key in generations[0]}
    order = np.lexsort((a["number"], a["position"], a["family"]))
    a = {key: value[order] for key, value in a.items()}
    family = a["family"]
    first_day, per_day = families.first_day[family], families.miles_per_day[family]
    day = first_day[:, None] + (a["began"][:, None] + a["miles"]) / per_day[:, None]
    gauge = (families.gauge * families.limit)[family][:, None] if plan.gauge_known else np.nan
    arrays = {
        "family": family,
        "miles": a["miles"],
        "wear": a["wear"],
        "limit": families.limit[family],
        "gauge_sd": np.where(np.isfinite(a["miles"]), gauge, np.nan),
        "as_of_miles": a["served"],
        "ended": a["ended"],
        "day": np.floor(day),
    }
    return Fleet(
        arrays=arrays,
        position=a["position"],
        number=a["number"],
        began=a["began"],
        end_day=first_day + (a["began"] + a["served"]) / per_day,
        whole_miles=(families.stop * families.mean_life)[family] - a["began"],
        remaining=np.where(a["ended"], np.nan, a["crossing"] - a["served"]),
        mean_life=families.mean_life[family],
        later_miles=a["later_miles"],
        later_wear=a["later_wear"],
        families=families,
    )
