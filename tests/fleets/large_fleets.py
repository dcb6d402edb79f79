"""A very large invented fleet, drawn in arrays: for measuring time and memory, not accuracy.

Classes of four engines; every class has the same kinds of parts, two a side, and each kind of part is a
family of eight wear points. Wear is straight with a rate of its own for each part and a Brownian part, read
about evenly over ten years.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ENGINES, SIDES = 4, 2
KINDS = 25  # kinds of parts of a class
FIRST_DAY, DAYS = np.datetime64("2016-01-01"), 3650
IN_A_FILE = 200_000  # whole classes; fewer rows than a file may have
LOG_EVERY = 30  # days between two rows of the mileage log
QUANTITIES = ("lateral clearance", "bore wear", "tread hollow", "crosshead clearance", "pin wear")


def large_tables(
    points: int, *, readings: int = 12, seed: int = 1, first_class: int = 0
) -> dict[str, pd.DataFrame]:
    """Vehicles, wear points, mileage and readings with at least so many wear points, whole classes.

    Parameters
    ----------
    points : wear points asked for; a class has ``KINDS`` times eight.
    readings : readings of each wear point.
    first_class : number of the first class, so that a fleet can be drawn piece by piece; with the same seed
        a class is the same whichever piece it is drawn in.
    """
    per_class = KINDS * ENGINES * SIDES
    classes = first_class + np.arange(-(-points // per_class))
    parts = [_one_class(int(c), readings, np.random.default_rng([seed, int(c)])) for c in classes]
    return {name: pd.concat([p[name] for p in parts], ignore_index=True) for name in parts[0]}


def write_large(folder: Path, points: int, *, readings: int = 12, seed: int = 1) -> None:
    """The same as CSV files of up to ``IN_A_FILE`` wear points: ``readings.csv``, ``readings_2.csv`` ..."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, first in enumerate(range(0, points, IN_A_FILE)):
        points_in_file, classes = min(IN_A_FILE, points - first), first // (KINDS * ENGINES * SIDES)
        for name, table in large_tables(
            points_in_file, readings=readings, seed=seed, first_class=classes
        ).items():
            file = f"{name}_{number + 1}.csv" if number else f"{name}.csv"
            table.to_csv(folder / file, index=False)


def _one_class(number: int, readings: int, rng: np.random.Generator) -> dict[str, pd.DataFrame]:
    engines = np.array([f"C{number:04d}-{e + 1}" for e in range(ENGINES)])
    per_day = rng.uniform(10, 30, ENGINES)
    days = np.append(np.arange(0, DAYS, LOG_EVERY), DAYS)
    kind, engine, side = (x.ravel() for x in np.indices((KINDS, ENGINES, SIDES)))
    n = len(kind)
    limit = rng.uniform(1.0, 10.0, KINDS)[kind]
    life = rng.uniform(60_000, 160_000, KINDS)[kind]
    wear, at_day = _read_wear(rng, per_day[engine] / life, readings)
    point = np.array([f"{engines[e]}-{k:02d}{'LR'[s]}" for k, e, s in zip(kind, engine, side, strict=True)])
    return (
        {
            "vehicles": pd.DataFrame({"vehicle": engines, "class": f"C{number:04d}", "arrangement": "2-8-0"}),
            "wear_points": pd.DataFrame(
                {
                    "point": point,
                    "vehicle": engines[engine],
                    "component": np.array([f"part {k:02d}" for k in range(KINDS)])[kind],
                    "position": np.array(["L", "R"])[side],
                    "quantity": np.array(QUANTITIES)[kind % len(QUANTITIES)],
                    "unit": "mm",
                    "new_value": 0.0,
                    "condemning_limit": limit.round(4),
                }
            ),
            "mileage": pd.DataFrame(
                {
                    "vehicle": np.repeat(engines, len(days)),
                    "date": np.tile(FIRST_DAY + days, ENGINES),
                    "odometer": (per_day[:, None] * days).ravel().round(1),
                    "unit": "mi",
                }
            ),
            "readings": pd.DataFrame(
                {
                    "point": np.repeat(point, readings),
                    "date": (FIRST_DAY + at_day).ravel(),
                    "value": np.maximum(wear * limit[:, None], 0.0).round(4).ravel(),
                    "unit": "mm",
                    "odometer": (per_day[engine][:, None] * at_day).round(1).ravel(),
                }
            ),
        }
        if n
        else {}
    )


def _read_wear(rng: np.random.Generator, per_day: Floats, readings: int) -> tuple[Floats, Ints]:
    """Relative wear read and the day of each reading, shape (n, readings)."""
    n = len(per_day)
    step = DAYS / readings
    day = np.floor((np.arange(readings) + rng.uniform(0.2, 0.8, (n, readings))) * step).astype(np.int64)
    rate = per_day[:, None] * np.exp(0.25 * rng.standard_normal((n, 1)))
    run = np.diff(day, axis=1, prepend=0) * per_day[:, None]
    wander = np.cumsum(0.05 * np.sqrt(run) * rng.standard_normal((n, readings)), axis=1)
    return day * rate + wander + 0.015 * rng.standard_normal((n, readings)), day
