"""Trains of a season given to engines: what each engine's miles cost, and the cheapest share found.

A mile costs what it wears off the parts that are still wanted after the next opening; what the opening throws
away anyway wears for nothing. A stopped season costs what the stop does. The engine whose parts come out next
is given the miles, the weakest is spared.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np
import pandas as pd

from ingest.errors import NotPossible
from models.futures.simulation import Simulation
from models.plan.risk import STANDING
from models.plan.rules import Rules

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Ints = np.ndarray[tuple[int, ...], np.dtype[np.int64]]

GIVEN_COLUMNS = ["date", "train", "engines_able", "miles", "load", "note", "was", "vehicle"]
"""Columns of :func:`given_out`: was, vehicle: the engine that had the train before, empty where none had; and
the one that it is given to."""
ENGINE_COLUMNS = ["vehicle", "days", "miles", "days_before", "miles_before", "chance", "chance_before"]
"""Columns of what the share is for each engine: days and miles given [mi], chance of a stopped season [1],
and the same as it was before (NaN where the trains could not be run so)."""


@dataclass(frozen=True)
class EngineSeason:
    """What the miles of a season mean for one engine.

    Attributes
    ----------
    vehicle : its name.
    until_stop : shape (n,), ascending. Miles of the season after which it must stop, by future. [mi]
    per_mile : what a mile wears off the parts that are wanted after the next opening. [money/mi]
    stop : what a stopped season costs. [money]
    other_miles : that it runs in the season beside the trains. [mi]
    """

    vehicle: str
    until_stop: Floats
    per_mile: float
    stop: float
    other_miles: float = 0.0

    def chance(self, miles: float) -> float:
        """Chance that it must stop within the miles of the trains. [1]"""
        run = miles + self.other_miles
        return float(np.searchsorted(self.until_stop, run, side="right") / max(len(self.until_stop), 1))

    def cost(self, miles: float) -> float:
        """What the miles of the trains cost: wear, and the chance of a stop. [money]"""
        return self.per_mile * miles + self.stop * self.chance(miles)


@dataclass(frozen=True)
class Share:
    """Trains given out: frames of ``GIVEN_COLUMNS`` and ``ENGINE_COLUMNS``; cost of the season as given, and
    as before (NaN where a train had no engine, or one two trains on a day). [money]"""

    given: pd.DataFrame
    engines: pd.DataFrame
    cost: float
    cost_before: float


def engine_season(
    simulation: Simulation,
    vehicle: str,
    renewed: Sequence[str],
    kept: Mapping[str, float],
    rules: Rules,
    *,
    other_miles: float = 0.0,
    miles_before: float = 0.0,
) -> EngineSeason:
    """What the next season means for an engine.

    Parameters
    ----------
    simulation : the futures.
    renewed : wear points with a new part when the season begins.
    kept : by wear point, price of the part that is still wanted after the opening at the end of the season;
        parts that come out then are left out. [money]
    rules : what a stop costs. other_miles : that the engine runs beside the trains. miles_before : up to the
        season; they wear what is not renewed when it begins. [mi]
    """
    own = np.flatnonzero((simulation.points["vehicle"] == vehicle).to_numpy())
    names = simulation.points["point"].iloc[own]
    fresh = names.isin(list(renewed)).to_numpy()
    lives = np.maximum(simulation.remaining[:, own] - miles_before, STANDING)
    new = simulation.next_life[:, own, 0] if simulation.next_life.shape[2] else lives
    lives = np.where(fresh[None, :], new, lives)
    mean_life = np.median(new, axis=0)
    price = names.map(dict(kept)).fillna(0.0).to_numpy(float)
    per_mile = float(np.divide(price, mean_life, out=np.zeros_like(price), where=mean_life > 0).sum())
    first = lives.min(axis=1) if len(own) else np.full(simulation.draws, np.inf)
    return EngineSeason(vehicle, np.sort(first), per_mile, rules.stop, other_miles)


def given_out(trips: pd.DataFrame, engines: Sequence[EngineSeason]) -> Share:
    """Trains given to engines, the cheapest share that no change of one train or exchange of two improves.

    Parameters
    ----------
    trips : date, train, engines_able (names with ; between, empty: every one), vehicle (the present one or
        empty), miles, load; of one season.
    engines : those that can be given trains.

    Raises
    ------
    NotPossible : a train that none of the engines can take on its day.

    Notes
    -----
    An engine takes one train a day. The search begins from the present share where it can be kept, else from
    the trains in order, each to the engine that it costs least; the same trips give the same share.
    """
    table = trips.sort_values(["date", "train"], ignore_index=True)
    names = [engine.vehicle for engine in engines]
    able = np.array([[_is_able(said, name) for name in names] for said in table["engines_able"]], bool)
    able = able.reshape(len(table), len(names))
    miles = table["miles"].fillna(0.0).to_numpy(float)
    day = pd.factorize(table["date"])[0]
    before = pd.Index(names).get_indexer(pd.Index(table["vehicle"].fillna("")))
    search = _Giving(engines, able, miles, day)
    start = before if search.allowed(before) else search.begun(table)
    starts = [start, search.begun(table)]
    best = min((search.improved(each) for each in starts), key=search.cost)
    given = table.reindex(columns=["date", "train", "engines_able", "miles", "load", "note"]).assign(
        was=table["vehicle"].fillna(""), vehicle=np.array(names, dtype=object)[best]
    )
    known = search.allowed(before)
    return Share(
        given[GIVEN_COLUMNS],
        search.told(best, before if known else None),
        search.cost(best),
        search.cost(before) if known else float("nan"),
    )


def usage_as_given(usage: pd.DataFrame, given: pd.DataFrame) -> pd.DataFrame:
    """Planned running with the trains as given.

    Parameters
    ----------
    usage : table of the store: vehicle, month, miles_planned, miles_sd. given : as ``Share.given``.

    Returns
    -------
    The same columns. What the months hold beside the trains stays with its engine; trains that had no engine
    are taken to be beside it.
    """
    trains = given.assign(month=given["date"].dt.to_period("M").dt.to_timestamp().astype("datetime64[us]"))
    moved = pd.concat(
        [
            trains[["vehicle", "month", "miles"]],
            trains.loc[trains["was"] != "", ["was", "month", "miles"]]
            .rename(columns={"was": "vehicle"})
            .assign(miles=lambda frame: -frame["miles"]),
        ]
    )
    change = moved.groupby(["vehicle", "month"])["miles"].sum()
    table = usage.assign(month=usage["month"].dt.to_period("M").dt.to_timestamp().astype("datetime64[us]"))
    table = table.set_index(["vehicle", "month"])
    table = table.reindex(table.index.union(change.index))
    planned = table["miles_planned"].fillna(0.0).add(change, fill_value=0.0).clip(lower=0.0)
    return table.assign(miles_planned=planned).reset_index()[list(usage.columns)]


class _Giving:
    """One season's trains: who is able, what a share costs."""

    def __init__(
        self,
        engines: Sequence[EngineSeason],
        able: np.ndarray[tuple[int, int], np.dtype[np.bool_]],
        miles: Floats,
        day: Ints,
    ) -> None:
        self.engines, self.able, self.miles, self.day = engines, able, miles, day

    def allowed(self, share: Ints) -> bool:
        """Whether every train has an engine that is able, and no engine two trains on a day."""
        if (share < 0).any():
            return False
        taken = set(zip(share.tolist(), self.day.tolist(), strict=True))
        return bool(self.able[np.arange(len(share)), share].all()) and len(taken) == len(share)

    def totals(self, share: Ints) -> Floats:
        """Miles of each engine. [mi]"""
        return np.bincount(share, self.miles, minlength=len(self.engines)).astype(np.float64)

    def cost(self, share: Ints) -> float:
        """Of the season. [money]"""
        return sum(
            engine.cost(run) for engine, run in zip(self.engines, self.totals(share).tolist(), strict=True)
        )

    def begun(self, table: pd.DataFrame) -> Ints:
        """Trains in order, those that fewest can take first on each day."""
        share = np.full(len(self.miles), -1, dtype=np.int64)
        run = np.zeros(len(self.engines))
        order = sorted(range(len(share)), key=lambda k: (self.day[k], self.able[k].sum(), k))
        for k in order:
            busy = share[(self.day == self.day[k]) & (share >= 0)]
            free = [e for e in np.flatnonzero(self.able[k]) if e not in busy]
            if not free:
                row = table.iloc[k]
                raise NotPossible(
                    f"Trips: no engine is left for {row['train']} on {row['date']:%Y-%m-%d}. Expected one of"
                    " its engines able that has no other train on that day; name more in engines_able."
                )
            more = [self._more(int(e), float(run[e]), float(self.miles[k])) for e in free]
            share[k] = free[int(np.argmin(more))]
            run[share[k]] += self.miles[k]
        return share

    def _more(self, engine: int, run: float, miles: float) -> float:
        return self.engines[engine].cost(run + miles) - self.engines[engine].cost(run)

    def improved(self, share: Ints) -> Ints:
        """Changed by blocks of trains, single trains and exchanges of two, until nothing is cheaper."""
        best, cost, better = share.copy(), self.cost(share), True
        while better:
            better = False
            for tried in self._changes(best):
                weighed = self.cost(tried)
                if weighed < cost - 1e-6 * max(abs(cost), 1.0) and self.allowed(tried):
                    best, cost, better = tried, weighed, True
                    break
        return best

    def _changes(self, share: Ints) -> Iterator[Ints]:
        """Shares one change away: blocks of trains first, then single ones, then exchanges of two."""
        for size in (16, 8, 4, 2, 1):
            for origin, to in permutations(range(len(self.engines)), 2):
                movable = np.flatnonzero((share == origin) & self.able[:, to])
                for start in range(0, len(movable) - size + 1, size):
                    tried = share.copy()
                    tried[movable[start : start + size]] = to
                    yield tried
        for one, other in combinations(range(len(share)), 2):
            if share[one] != share[other]:
                tried = share.copy()
                tried[one], tried[other] = share[other], share[one]
                yield tried

    def told(self, share: Ints, before: Ints | None) -> pd.DataFrame:
        """Frame of ``ENGINE_COLUMNS``."""
        rows = []
        now = self.totals(share)
        was = None if before is None else self.totals(before)
        for e, engine in enumerate(self.engines):
            row = {"vehicle": engine.vehicle, "days": int((share == e).sum()), "miles": float(now[e])}
            row["days_before"] = np.nan if before is None else float((before == e).sum())
            row["miles_before"] = np.nan if was is None else float(was[e])
            row["chance"] = engine.chance(float(now[e]))
            row["chance_before"] = np.nan if was is None else engine.chance(float(was[e]))
            rows.append(row)
        return pd.DataFrame(rows, columns=ENGINE_COLUMNS)


def _is_able(said: object, name: str) -> bool:
    able = [part.strip() for part in str(said or "").split(";") if part.strip()]
    return not able or name in able
