"""Engines whose parts share their seasons: simulated with known truth, as public tables.

Every engine has several families of parts, all of one rate a life, times what the season does to all parts
of the engine. Wear runs along the days of each season's running; the Brownian part is per plain mile. What
is ahead is simulated along the same path, so the truth is the first crossing of the very life in service.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FIRST_DAY, DAYS = 110, 180
"""Running of a season: its first day of the year and its length. [d]"""
STEPS = 60
"""Steps of a season's running."""
AHEAD = 40
"""Seasons that are simulated beyond the record."""
_COMPONENTS = ("driver", "axle box", "crank pin", "driver")
_QUANTITIES = ("tread hollow", "lateral clearance", "journal diameter", "flange thickness")


@dataclass(frozen=True)
class EnginePlan:
    """What is simulated. A pair is a range: each family draws its own value, uniformly.

    Attributes
    ----------
    engines, families, parts : engines; families of an engine; parts of a family.
    seasons : seasons on record, the last one whole.
    one_class : engines share their families; False: each has families of its own.
    shock : standard deviation of the log of what a season does to all rates of an engine. [1]
    change : factor on all rates of an engine from a date on, 1: none; half of the engines have it.
    since : seasons before the record's end at which the change comes, a range. [seasons]
    life : mean life of a family. [seasons]
    spread : of the rates of lives over their mean. [1]
    gauge, brownian : of the allowance; the Brownian part over a mean life. [1]
    readings : chance of a reading in a season.
    bend : wear goes as this power of the effective miles; 1: straight. [1]
    """

    engines: int = 8
    families: int = 4
    parts: tuple[int, int] = (5, 8)
    seasons: int = 9
    one_class: bool = False
    shock: float = 0.0
    change: float = 1.0
    since: tuple[float, float] = (1.0, 3.0)
    life: tuple[float, float] = (6.0, 14.0)
    spread: tuple[float, float] = (0.1, 0.35)
    gauge: tuple[float, float] = (0.005, 0.03)
    brownian: tuple[float, float] = (0.02, 0.08)
    readings: float = 0.9
    bend: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class Engines:
    """Simulated engines: the public tables, the truth, and what the seasons did.

    Attributes
    ----------
    tables : vehicles, wear_points, mileage, readings, work.
    truth : a row a wear point: point, remaining_miles, mean_life [mi].
    severity : shape (engines, seasons). Log of the mean factor on all rates of an engine in a season.
    changed_in : shape (engines,). Year in which all rates of the engine changed; 0: none.
    """

    tables: dict[str, pd.DataFrame]
    truth: pd.DataFrame
    severity: Floats
    changed_in: Ints


def simulate_engines(rng: np.random.Generator, plan: EnginePlan, last_year: int = 2025) -> Engines:
    """Simulate the engines and what will become of them."""
    n, every = plan.engines, plan.seasons + AHEAD
    miles = rng.uniform(3000.0, 6000.0, n)[:, None] * rng.uniform(0.8, 1.2, (n, every))
    log_factor = np.repeat(plan.shock * rng.standard_normal((n, every))[:, :, None], STEPS, axis=2)
    log_factor = log_factor.reshape(n, -1)
    begins = plan.seasons - rng.uniform(*plan.since, n)
    changes = (rng.permutation(n) < n // 2) & (plan.change != 1.0)
    step = (np.arange(every * STEPS) + 0.5) / STEPS
    log_factor += np.log(plan.change) * (changes[:, None] & (step >= begins[:, None]))
    first_year = last_year - plan.seasons + 1
    parts = _parts(rng, plan, miles)
    paths = _Paths(rng, plan, parts, miles, log_factor)
    readings, work, truth = paths.walk(first_year)
    tables = {
        "vehicles": _vehicles(plan, first_year),
        "wear_points": _wear_points(parts),
        "mileage": _mileage(plan, miles, first_year),
        "readings": readings,
        "work": work,
    }
    severity = log_factor[:, : plan.seasons * STEPS].reshape(n, plan.seasons, STEPS).mean(axis=2)
    changed_in = np.where(changes, first_year + np.floor(begins).astype(int), 0)
    return Engines(tables, truth, severity, changed_in)


def write_engines(engines: Engines, folder: Path) -> None:
    """Write the tables as CSV files into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, table in engines.tables.items():
        table.to_csv(folder / f"{name}.csv", index=False)


def _parts(rng: np.random.Generator, plan: EnginePlan, miles: Floats) -> pd.DataFrame:
    """A row a wear point, with what its family is like."""
    kinds = 1 if plan.one_class else plan.engines
    like = {
        name: np.exp(rng.uniform(*np.log(getattr(plan, name)), (kinds, plan.families)))
        for name in ("life", "spread", "gauge", "brownian", "bend")
    }
    limit = rng.uniform(1.0, 6.0, (kinds, plan.families)).round(2)
    rows = []
    for e in range(plan.engines):
        for f in range(plan.families):
            for p in range(int(rng.integers(plan.parts[0], plan.parts[1] + 1))):
                k = 0 if plan.one_class else e
                rows.append(
                    {"engine": e, "family": f, "part": p, "limit": limit[k, f]}
                    | {name: values[k, f] for name, values in like.items()}
                )
    parts = pd.DataFrame(rows)
    usual = miles.mean() if plan.one_class else miles.mean(axis=1)[parts["engine"]]
    parts["mean_life"] = parts["life"] * usual
    names = zip(parts["engine"], parts["family"], parts["part"], strict=True)
    parts["point"] = [f"E{e + 1:03d}-{f + 1}-{p + 1:02d}" for e, f, p in names]
    return parts


class _Paths:
    """Wear of every part along the steps of all seasons."""

    def __init__(
        self,
        rng: np.random.Generator,
        plan: EnginePlan,
        parts: pd.DataFrame,
        miles: Floats,
        log_factor: Floats,
    ) -> None:
        self.rng, self.plan, self.parts = rng, plan, parts
        engine = parts["engine"].to_numpy()
        self.step_miles = np.repeat(miles / STEPS, STEPS, axis=1)[engine]
        self.factor = np.exp(log_factor)[engine]
        self.life = parts["mean_life"].to_numpy()
        self.brownian = parts["brownian"].to_numpy() / np.sqrt(self.life)

    def _rate(self) -> Floats:
        spread = self.parts["spread"].to_numpy()
        return np.exp(spread * self.rng.standard_normal(len(spread)) - spread**2 / 2) / self.life

    def walk(self, first_year: int) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
        """Readings, work and truth."""
        plan, rng, n = self.plan, self.rng, len(self.parts)
        recorded = plan.seasons * STEPS
        read_at = rng.integers(0, STEPS, (n, plan.seasons)) + np.arange(plan.seasons) * STEPS
        read = np.zeros((n, recorded), bool)
        np.put_along_axis(read, read_at, rng.random((n, plan.seasons)) < plan.readings, axis=1)
        level, rate, run, worn = np.zeros(n), self._rate(), np.zeros(n), np.zeros(n)
        bend = self.parts["bend"].to_numpy()
        left = np.full(n, np.inf)
        seen, renewed = [], []
        for i in range(self.step_miles.shape[1]):
            d = self.step_miles[:, i]
            noise = self.brownian * np.sqrt(d) * rng.standard_normal(n)
            before, worn = worn, worn + rate * self.factor[:, i] * d
            level = level + worn**bend - before**bend + noise
            run = run + d
            over = level >= 1.0
            if i < recorded:
                rows = np.flatnonzero(read[:, i] & ~over)
                seen.append(pd.DataFrame({"row": rows, "step": i, "level": level[rows], "run": run[rows]}))
                gone = np.flatnonzero(over)
                renewed.append(pd.DataFrame({"row": gone, "step": i}))
                level[gone], worn[gone], rate[gone] = 0.0, 0.0, self._rate()[gone]
                if i == recorded - 1:
                    run = np.zeros(n)
            else:
                left = np.where(over & np.isinf(left), run - d / 2, left)
        truth = self.parts[["point", "mean_life"]].assign(remaining_miles=left)
        return self._readings(pd.concat(seen), first_year), self._work(pd.concat(renewed), first_year), truth

    def _readings(self, seen: pd.DataFrame, first_year: int) -> pd.DataFrame:
        row = seen["row"].to_numpy()
        limit, gauge = (self.parts[name].to_numpy()[row] for name in ("limit", "gauge"))
        value = limit * (seen["level"].to_numpy() + gauge * self.rng.standard_normal(len(row)))
        return pd.DataFrame(
            {
                "point": self.parts["point"].to_numpy()[row],
                "date": _dates(first_year, seen["step"].to_numpy()),
                "value": (10.0 + value).round(5),
                "unit": "mm",
                "odometer": seen["run"].to_numpy().round(1),
            }
        )

    def _work(self, renewed: pd.DataFrame, first_year: int) -> pd.DataFrame:
        return pd.DataFrame(
            {
                "point": self.parts["point"].to_numpy()[renewed["row"].to_numpy()],
                "date": _dates(first_year, renewed["step"].to_numpy()),
                "action": "renewed",
            }
        )


def _dates(first_year: int, step: Ints) -> NDArray[np.str_]:
    """Day of each step's end, counted from the first season."""
    year = (first_year - 1970 + step // STEPS).astype("datetime64[Y]").astype("datetime64[D]")
    return np.datetime_as_string(year + FIRST_DAY + (((step % STEPS) + 1) * DAYS // STEPS))


def _vehicles(plan: EnginePlan, first_year: int) -> pd.DataFrame:
    name = [f"E{e + 1:03d}" for e in range(plan.engines)]
    kind = ["one class" if plan.one_class else f"class {n}" for n in name]
    return pd.DataFrame({"vehicle": name, "name": "", "arrangement": "2-8-0", "class": kind}).assign(
        service_from=f"{first_year}-01-01"
    )


def _wear_points(parts: pd.DataFrame) -> pd.DataFrame:
    family = parts["family"].to_numpy()
    return pd.DataFrame(
        {
            "point": parts["point"],
            "vehicle": parts["point"].str[:4],
            "component": np.array(_COMPONENTS)[family % 4],
            "position": [f"{p // 2 + 1}{'LR'[p % 2]}" for p in parts["part"]],
            "quantity": np.array(_QUANTITIES)[family % 4] + np.where(family >= 4, " again", ""),
            "unit": "mm",
            "new_value": 10.0,
            "condemning_limit": 10.0 + parts["limit"],
            "limit_source": "simulated",
            "access": "in_place",
        }
    )


def _mileage(plan: EnginePlan, miles: Floats, first_year: int) -> pd.DataFrame:
    step = np.arange(-1, plan.seasons * STEPS, 10)
    frames = []
    for e in range(plan.engines):
        run = np.concatenate([[0.0], np.cumsum(np.repeat(miles[e] / STEPS, STEPS))])
        date = _dates(first_year, np.maximum(step, 0))
        date[0] = f"{first_year}-04-01"
        rows = pd.DataFrame({"vehicle": f"E{e + 1:03d}", "date": date, "odometer": run[step + 1].round(1)})
        frames.append(rows)
    return pd.concat(frames, ignore_index=True).assign(unit="mi")
