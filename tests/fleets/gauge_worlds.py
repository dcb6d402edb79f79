"""Railways whose gauges and hands are not what the wear model takes for granted, with the truth: a second
gauge from a date on, values on a coarse grid, wild readings. Normalised tables, as ``make_forecast`` takes.

Its own simulator: it shares no code with ``fleets.simulate``. Every engine is its own class with a few kinds
of part; all parts of an engine are read at its examinations, two a year; a part at its limit is renewed.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from fleets.accuracy_table import PINBALL_AT, in_lives

from models.score.scoring_rules import pinball

FIRST = np.datetime64("2010-01-01", "D")
STATED = ["miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95"]


@dataclass(frozen=True)
class World:
    """What is simulated.

    Attributes
    ----------
    engines, kinds, parts : engines; kinds of part of each; parts of a kind.
    years : length of the record.
    noise : standard deviation of a reading, share of the allowance. [1]
    spread, brownian : of the rates over their mean; of the wander over a life, share of the allowance. [1]
    off : how much the second gauge of each kind reads off, share of the allowance, up or down. [1]
    named : the readings say which gauge they were taken with.
    wild : share of wild readings, off by ``wild_size`` times ``noise``, either way. [1]
    grid : values are written in steps of this. [in]; 0: as they are
    allowance : smallest and largest. [in]
    gauge_sd : stated, as a factor of the allowance; NaN: not stated.
    """

    engines: int = 12
    kinds: int = 4
    parts: int = 6
    years: float = 12.0
    noise: float = 0.015
    spread: float = 0.25
    brownian: float = 0.05
    off: float = 0.0
    named: bool = True
    wild: float = 0.0
    wild_size: float = 8.0
    grid: float = 0.0
    allowance: tuple[float, float] = (0.25, 1.0)
    gauge_sd: float = np.nan


@dataclass(frozen=True)
class Simulated:
    """Tables, and the truth of the parts in service: point, engine, kind, remaining [mi], life [mi]."""

    tables: dict[str, pd.DataFrame]
    truth: pd.DataFrame


def simulated(world: World, seed: int) -> Simulated:
    """Simulate a world; ``off``, ``wild``, ``grid``, ``gauge_sd`` change nothing of its parts' true wear."""
    points, readings, work, truth, logs = [], [], [], [], []
    for engine in range(world.engines):
        rng, later = np.random.default_rng([seed, engine]), np.random.default_rng([seed, engine, 1])
        name = f"E{engine:03d}"
        days, odometer = _log(rng, world.years)
        logs.append(pd.DataFrame({"vehicle": name, "date": FIRST + days, "odometer": odometer}))
        exams = _examinations(rng, world.years, days)
        for kind in range(world.kinds):
            life = odometer[-1] * rng.uniform(0.8, 2.0)
            allowance = 25.4 * np.exp(rng.uniform(*np.log(world.allowance)))
            new = round(float(rng.uniform(2.0, 6.0))) * 25.4
            since = exams[int(rng.integers(len(exams) * 2 // 5, len(exams) * 4 // 5))]
            offset = world.off * allowance * rng.choice([-1.0, 1.0])
            gauge = (f"{name}-{kind}-A", f"{name}-{kind}-B", since, offset)
            for part in range(world.parts):
                point = f"{name}-K{kind}-{part}"
                points.append(
                    (point, name, f"kind {kind}", f"{part // 2 + 1}{'LR'[part % 2]}", new, allowance)
                )
                renewed, left, wear = _part(rng, world, (days, odometer), exams, life)
                work += [(point, FIRST + day) for day in renewed]
                truth.append((point, name, kind, left, life))
                readings += _read(later, world, (point, new, allowance), (exams, wear), gauge)
    return Simulated(_tables(world, points, readings, work, pd.concat(logs)), _truth(truth))


def _truth(rows: list) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["point", "engine", "kind", "remaining", "life"])


def _log(rng: np.random.Generator, years: float) -> tuple[np.ndarray, np.ndarray]:
    """Days and odometer, a row a month; it runs from April to October."""
    months = np.arange(round(years * 12) + 1)
    a_month = np.where(np.isin(months % 12, range(3, 10)), 700.0, 0.0) * rng.uniform(0.7, 1.3, len(months))
    return np.round(months * 30.4375).astype(int), np.cumsum(np.append(0.0, a_month[:-1])).round(1)


def _examinations(rng: np.random.Generator, years: float, days: np.ndarray) -> np.ndarray:
    """Days on which all parts are read: in March and July, a few left out."""
    at = np.concatenate([365.25 * np.arange(1, years) + 75, 365.25 * np.arange(0, years - 1) + 200])
    at = np.sort(np.round(at[rng.random(len(at)) < 0.85])).astype(int)
    return at[at < days[-1]]


def _part(
    rng: np.random.Generator, world: World, log: tuple[np.ndarray, np.ndarray], exams: np.ndarray, life: float
) -> tuple[list[int], float, np.ndarray]:
    """Days of renewals, miles left at the end of the record, and the wear at the examinations (share)."""
    days, odometer = log
    step = life / 400.0
    end, wear, renewed, began = odometer[-1], np.empty(len(exams)), [], 0.0
    at_exam = np.interp(exams, days, odometer)
    while True:
        rate = np.exp(world.spread * rng.standard_normal() - world.spread**2 / 2)
        noise = world.brownian * np.sqrt(step / life) * rng.standard_normal(4_000)
        path = np.concatenate([[0.0], np.cumsum(rate * step / life + noise)])
        reached = int((path >= 1.0).argmax()) if (path >= 1.0).any() else len(path) - 1
        own = at_exam >= began
        wear[own] = np.interp(at_exam[own] - began, np.arange(len(path)) * step, path)
        if began + reached * step > end:
            return renewed, began + reached * step - end, wear
        began += reached * step
        day = int(np.ceil(np.interp(began, odometer, days)))
        began = float(np.interp(day, days, odometer))
        renewed.append(day)


def _read(
    rng: np.random.Generator, world: World, about: tuple, seen: tuple[np.ndarray, np.ndarray], gauge: tuple
) -> list[tuple]:
    """Readings of a part, one at each examination but a few; the quantity shrinks as it wears."""
    (point, new, allowance), (exams, wear), (before, after, since, offset) = about, seen, gauge
    error = world.noise * rng.standard_normal(len(exams))
    far, sign, kept = (
        rng.random(len(exams)),
        rng.choice([-1.0, 1.0], len(exams)),
        rng.random(len(exams)) < 0.9,
    )
    error = error + np.where(far < world.wild, world.wild_size * world.noise * sign, 0.0)
    value = new - allowance * (wear + error) + np.where(exams >= since, offset, 0.0)
    if world.grid:
        value = np.round(value / 25.4 / world.grid) * world.grid * 25.4
    names = np.where(exams >= since, after, before) if world.named else np.full(len(exams), "")
    rows = zip(exams, value, names, kept, strict=True)
    return [(point, FIRST + day, v, name) for day, v, name, keep in rows if keep]


def _tables(
    world: World, points: list, readings: list, work: list, log: pd.DataFrame
) -> dict[str, pd.DataFrame]:
    points = pd.DataFrame(
        points, columns=["point", "vehicle", "component", "position", "new_value", "allowance"]
    )
    sd = points["allowance"] * world.gauge_sd
    limit = points["new_value"] - points["allowance"]
    wear_points = points.drop(columns="allowance").assign(
        quantity="thickness", unit="in", shop_limit=np.nan, condemning_limit=limit, condemned_when="",
        gauge_sd=sd, base_unit="mm", per_base=1 / 25.4,
    )  # fmt: skip
    readings = pd.DataFrame(readings, columns=["point", "date", "value", "gauge"])
    vehicle = readings["point"].str[:4]
    odometer = np.empty(len(readings))
    for name, own in log.groupby("vehicle"):
        rows = (vehicle == name).to_numpy()
        days = own["date"].to_numpy().astype("datetime64[D]").astype(int)
        at = readings["date"].to_numpy().astype("datetime64[D]").astype(int)[rows]
        odometer[rows] = np.interp(at, days, own["odometer"])
    readings = readings.assign(row_id=np.arange(len(readings)), odometer=odometer, odometer_sd=0.0)
    work = pd.DataFrame(work, columns=["point", "date"]).assign(action="renewed")
    work = work.assign(value_before=np.nan, value_after=np.nan)
    vehicles = pd.DataFrame({"vehicle": points["vehicle"].unique()})
    vehicles["class"], vehicles["arrangement"] = vehicles["vehicle"], ""
    usage = pd.DataFrame({"vehicle": [], "month": [], "miles_planned": [], "miles_sd": []})
    dated = {"mileage": log.reset_index(drop=True), "readings": readings, "work": work}
    dated = {n: t.assign(date=pd.to_datetime(t["date"]).astype("datetime64[us]")) for n, t in dated.items()}
    return {"vehicles": vehicles, "wear_points": wear_points, "usage": usage} | dated


def write_world(made: Simulated, folder: Path) -> None:
    """The tables as the files that a railway hands in."""
    folder.mkdir(parents=True, exist_ok=True)
    inches = {"new_value", "condemning_limit", "gauge_sd", "value"}
    kept = {
        "vehicles": ["vehicle", "class"],
        "wear_points": [
            *("point", "vehicle", "component", "position", "quantity", "unit", "new_value"),
            *("condemning_limit", "gauge_sd"),
        ],
        "mileage": ["vehicle", "date", "odometer"],
        "readings": ["point", "date", "value", "gauge", "odometer"],
        "work": ["point", "date", "action"],
    }
    for name, columns in kept.items():
        table = made.tables[name][columns].copy()
        for column in inches & set(columns):
            table[column] = (table[column] / 25.4).round(5)
        if "date" in columns:
            table["date"] = table["date"].dt.strftime("%Y-%m-%d")
        table.assign(**({"unit": "mi"} if name == "mileage" else {})).to_csv(
            folder / f"{name}.csv", index=False
        )


def losses(made: pd.DataFrame, truth: pd.DataFrame) -> pd.DataFrame:
    """Of each part: its mean pinball loss in lives, whether the 80 % interval held the truth, its width in
    lives; ``made`` is the frame ``forecast``."""
    rows = truth.merge(made[["point", *STATED]], on="point")
    said = rows[STATED].to_numpy(float), rows["remaining"].to_numpy(), rows["life"].to_numpy()
    quantile, true = in_lives(*said)
    return rows.assign(
        loss=pinball(quantile, PINBALL_AT, true),
        held=(true >= quantile[:, 1]) & (true <= quantile[:, 3]),
        below=true < quantile[:, 1],
        width=quantile[:, 3] - quantile[:, 1],
    )
