"""Railways lived through year by year under a plan, or under a rule of thumb: an own simulator of wear.

Two engines of several parts each. A part wears at a rate of its own, more in bad seasons of its engine, with
a random walk on top; each winter it is read with a gauge. What is known of a part is the posterior of its
level and rate (a two-state Kalman filter, whose law is the simulator's). A part that reaches its limit in
service stops the engine and is renewed at once. Nothing here is drawn by the planner.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from ingest.catalogue import classify, opening_practice
from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan.planner import PlanInputs, make_plan
from models.plan.rules import Rules
from models.running.ahead import usage_plan
from models.running.windows import combine, lay_ups, winters, with_running, within

KINDS = {  # component: access, cost, hours, days, mean life in miles
    "tire": ("wheels_out", 950.0, 14.0, 3.0, 70_000.0),
    "brass": ("wheels_out", 2350.0, 34.0, 7.0, 90_000.0),
    "liner": ("wheels_out", 780.0, 12.0, 2.0, 62_000.0),
    "shoe": ("rods_down", 410.0, 9.0, 1.0, 56_000.0),
    "bushing": ("rods_down", 690.0, 9.0, 1.0, 36_000.0),
    "rod": ("rods_down", 1450.0, 18.0, 2.0, 42_000.0),
    "hanger": ("in_place", 85.0, 2.0, 0.0, 52_000.0),
    "lever": ("in_place", 230.0, 4.0, 1.0, 46_000.0),
}
OPENINGS = {"in_place": 0.0, "rods_down": 1800.0, "wheels_out": 26_500.0}
DEPTHS = tuple(OPENINGS)
STOP_DAYS, LOST_DAY = 14.0, 1000.0
SPREAD, WALK, SEASON, GAUGE = 0.25, 0.12, 0.12, 0.02
"""Spread of rates between lives and of seasons, as shares; random walk over one mean life and error of the
gauge, as shares of the limit."""
MILES = 5400.0
"""Of a season. [mi]"""
NO_LOG = pd.DataFrame(
    {"vehicle": pd.Series([], dtype=object), "date": pd.to_datetime([]), "odometer": [], "service_days": []}
)


@dataclass
class Railway:
    """The truth, and what the readings say of it; arrays over all parts.

    Attributes
    ----------
    parts : point, vehicle, component, access, cost, life (mean).
    wear, rate : of the part in service, limit 1; per mile. level, pace, spread : Kalman mean of both and
        their covariance, shape (p, 2, 2). age : miles of the life.
    stops : stopped seasons of each engine, year by year. money : paid, worth : of the wear left in parts.
    """

    parts: pd.DataFrame
    rng: np.random.Generator
    wear: np.ndarray = field(init=False)
    money: float = 0.0
    stops: list[np.ndarray] = field(default_factory=list)

    def __post_init__(self) -> None:
        count = len(self.parts)
        self.engine = pd.factorize(self.parts["vehicle"])[0]
        self.life = self.parts["life"].to_numpy(float)
        self.cost = self.parts["cost"].to_numpy(float)
        self.wear, self.rate, self.age = np.zeros((3, count))
        self.mean, self.cov = np.zeros((count, 2)), np.zeros((count, 2, 2))
        self.renew(np.ones(count, bool))

    def renew(self, which: np.ndarray) -> None:
        """New parts: no wear, a rate of their own, known only as their kind is."""
        mean = 1.0 / self.life[which]
        drawn = mean * (1.0 + SPREAD * self.rng.standard_normal(int(which.sum())))
        self.rate[which] = np.maximum(drawn, 0.3 * mean)
        self.wear[which] = self.age[which] = 0.0
        self.mean[which] = np.stack([np.zeros_like(mean), mean], axis=1)
        self.cov[which] = 0.0
        self.cov[which, 1, 1] = (SPREAD * mean) ** 2

    def run(self) -> None:
        """A season, month by month; a part at its limit stops its engine and is renewed at once."""
        engines = int(self.engine.max()) + 1
        factor = np.exp(SEASON * self.rng.standard_normal(engines) - SEASON**2 / 2)[self.engine]
        stopped = np.zeros(engines, bool)
        for _ in range(6):
            step = MILES / 6.0
            noise = WALK * np.sqrt(step / self.life) * self.rng.standard_normal(len(self.life))
            self.wear += self.rate * factor * step + noise
            self.age += step
            self._told(step)
            failed = self.wear >= 1.0
            for engine in np.unique(self.engine[failed]):
                stopped[engine] = True
                own = failed & (self.engine == engine)
                depth = max((DEPTHS.index(a) for a in self.parts["access"][own]), default=0)
                self.money += STOP_DAYS * LOST_DAY + OPENINGS[DEPTHS[depth]]
            self.money += float(self.cost[failed].sum())
            self.renew(failed)
        self.stops.append(stopped)
        self.read()

    def _told(self, step: float) -> None:
        turn = np.array([[1.0, step], [0.0, 1.0]])
        self.mean = self.mean @ turn.T
        self.cov = turn @ self.cov @ turn.T
        # Good and bad seasons are noise of the level; months of one season go together.
        season = 6.0 * (SEASON * self.mean[:, 1] * step) ** 2
        self.cov[:, 0, 0] += WALK**2 * step / self.life + season

    def read(self) -> None:
        """Each part is read once a winter."""
        value = self.wear + GAUGE * self.rng.standard_normal(len(self.wear))
        gain = self.cov[:, :, 0] / (self.cov[:, 0, 0] + GAUGE**2)[:, None]
        self.mean = self.mean + gain * (value - self.mean[:, 0])[:, None]
        self.cov = self.cov - gain[:, :, None] * self.cov[:, [0], :]

    def work(self, which: np.ndarray) -> None:
        """What is renewed in a winter, and what it costs with its openings."""
        for engine in np.unique(self.engine[which]):
            own = which & (self.engine == engine)
            self.money += OPENINGS[DEPTHS[max(DEPTHS.index(a) for a in self.parts["access"][own])]]
        self.money += float(self.cost[which].sum())
        self.renew(which)

    @property
    def left(self) -> float:
        """Worth of the wear that is left in the parts. [money]"""
        return float((self.cost * np.clip(1.0 - self.wear, 0.0, 1.0)).sum())


Practice = Callable[[Railway, int], np.ndarray]
"""Which parts are renewed in the winter of a year."""


def railway(seed: int, parts: int = 60) -> Railway:
    """Two engines, run for twelve years with parts renewed where they were read past 0.85 of their limit."""
    names = list(KINDS)
    rows = [
        (f"{vehicle}-{i:02d}", vehicle, names[i % len(names)], f"place {i}")
        for vehicle in ("Alder", "Birch")
        for i in range(parts)
    ]
    frame = pd.DataFrame(rows, columns=["point", "vehicle", "component", "position"])
    frame["access"] = [KINDS[name][0] for name in frame["component"]]
    frame["cost"] = [KINDS[name][1] for name in frame["component"]]
    rng = np.random.default_rng([20261129, seed])
    frame["life"] = [KINDS[name][4] for name in frame["component"]] * rng.uniform(0.8, 1.25, len(frame))
    made = Railway(frame, rng)
    made.wear = rng.uniform(0.0, 0.8, len(frame))
    made.mean[:, 0] = made.wear
    for year in range(12):
        made.run()
        made.work(at_share(0.85)(made, year))
    made.money, made.stops = 0.0, []
    return made


def lived(seed: int, practice: Practice, years: int = 10, parts: int = 60) -> tuple[float, float, Railway]:
    """Money of ten years, less what the parts gained in worth, and the share of seasons with a stop."""
    own = railway(seed, parts)
    own.rng = np.random.default_rng([7, seed])
    before = own.left
    for year in range(years):
        own.work(practice(own, year))
        own.run()
    return own.money - (own.left - before), float(np.mean(own.stops)), own


def at_share(share: float) -> Practice:
    """Renewed where the reading has used up a share of the limit."""
    return lambda own, _year: own.mean[:, 0] >= share


def while_open(must: float, also: float) -> Practice:
    """The same, and while the engine is open what has used up a smaller share and can be reached."""

    def practice(own: Railway, _year: int) -> np.ndarray:
        depth = own.parts["access"].map(DEPTHS.index).to_numpy()
        due = own.mean[:, 0] >= must
        opened = np.array(
            [depth[due & (own.engine == e)].max(initial=-1) for e in range(own.engine.max() + 1)]
        )
        return due | ((depth <= opened[own.engine]) & (own.mean[:, 0] >= also) & (depth > 0))

    return practice


def by_age(share: float) -> Practice:
    """Renewed at a share of the mean life of its kind, or where it is read at its limit."""
    return lambda own, _year: (own.age >= share * own.life) | (own.mean[:, 0] >= 1.0)


def planned(accepted: float, *, years: int = 8, effort: float = 0.2, told: list | None = None) -> Practice:
    """Planned anew each year; ``told`` gathers the chance that each plan gives for the next season."""

    def practice(own: Railway, year: int) -> np.ndarray:
        inputs = inputs_of(own, year, years)
        plan = make_plan(inputs, Rules(risk=0.25, stop_risk=accepted), effort=effort)
        first = plan.windows.groupby("vehicle")["window"].min()
        now = plan.points[plan.points["window"] == plan.points["vehicle"].map(first)]
        if told is not None:
            next_season = plan.engine_risk[plan.engine_risk["season"] == 1]
            told.append(float(next_season["with_plan"].mean()))
        return own.parts["point"].isin(now["point"]).to_numpy()

    return practice


def inputs_of(own: Railway, year: int, years: int) -> PlanInputs:
    """What the planner is told: quantiles of the miles left, prices, the running ahead."""
    as_of_day = pd.Timestamp(2026 + year, 10, 31)
    stored = pd.DataFrame({"point": own.parts["point"], "remaining": _ahead(own), "new_life": _new(own)})
    months = pd.date_range(as_of_day + pd.Timedelta(days=1), periods=12 * (years + 2), freq="MS")
    miles = np.where(months.month.isin([5, 6, 7, 8, 9, 10]), MILES / 6.0, 0.0)
    plan = pd.DataFrame({"month": months, "miles_planned": miles, "miles_sd": 0.01 * miles})
    vehicles = list(own.parts["vehicle"].unique())
    as_of = pd.Series(dict.fromkeys(vehicles, as_of_day))
    plan = pd.concat([plan.assign(vehicle=name) for name in vehicles], ignore_index=True)
    usage = usage_plan(plan, NO_LOG, as_of, 12 * (years + 1) + 4)
    found = lay_ups(usage, as_of)
    windows = combine(winters(found, usage), found.iloc[:0], as_of)
    windows, ends = within(with_running(windows, usage), as_of, years)
    prices = [(name, "renewed", *kind[1:4]) for name, kind in KINDS.items()]
    prices += [(depth, "open", OPENINGS[depth], 0.0, 0.0) for depth in DEPTHS[1:]]
    costs = pd.DataFrame(prices, columns=["component", "action", "cost", "labor_hours", "days_out"])
    costs = costs.assign(currency="USD", price_date=as_of_day)
    points = classify(own.parts[["point", "vehicle", "component", "position", "access"]].assign(
        quantity="wear", matched_set=""
    ))  # fmt: skip
    futures = simulate(
        points, stored, usage, costs=costs, as_of=as_of,
        assumptions=Assumptions(draws=1000, family_correlation=0.05),
    )  # fmt: skip
    return PlanInputs(
        futures, stored, usage, windows, costs, ends, opening_practice=opening_practice(),
        past=frozenset(own.parts["point"][own.mean[:, 0] >= 1.0]),
    )  # fmt: skip


_DRAWS = 1500


def _first_passage(
    level: np.ndarray, rate: np.ndarray, life: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Miles until the limit is first reached: inverse Gaussian, the seasons' good and bad in the walk."""
    rate = np.maximum(rate, 0.2 / life)
    room = np.maximum(1.0 - level, 1e-6)
    walk = WALK**2 / life + (SEASON * rate) ** 2 * MILES
    drawn = rng.wald(room / rate, room**2 / walk)
    return np.where(level >= 1.0, 0.0, drawn)


def _ahead(own: Railway) -> list[np.ndarray]:
    rng = np.random.default_rng(5)
    score = rng.standard_normal((2, _DRAWS, 1))
    root = np.sqrt(np.maximum(own.cov[:, 0, 0], 0.0))
    level = own.mean[:, 0] + root * score[0]
    tilt = np.divide(own.cov[:, 1, 0], root, out=np.zeros_like(root), where=root > 0)
    rest = np.sqrt(np.maximum(own.cov[:, 1, 1] - tilt**2, 0.0))
    rate = own.mean[:, 1] + tilt * score[0] + rest * score[1]
    miles = _first_passage(level, rate, own.life, rng)
    return list(np.quantile(miles, PROBABILITIES, axis=0).T)


def _new(own: Railway) -> list[np.ndarray]:
    rng = np.random.default_rng(6)
    mean = 1.0 / own.life
    rate = mean * (1.0 + SPREAD * rng.standard_normal((_DRAWS, 1)))
    miles = _first_passage(np.zeros((_DRAWS, len(mean))), rate, own.life, rng)
    return list(np.quantile(miles, PROBABILITIES, axis=0).T)
