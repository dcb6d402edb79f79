"""Miles until a tire is scrap: the turnings that its hollow and flange call for, paid for by its thickness.

One cycle runs from profile to profile. The first tire of a matched set whose hollow, flange thickness or
flange height reaches its limit calls for a turning of all; the tire that needs the deepest cut rules the
diameter of all. A tire is scrap when its thickness reaches the limit, or when a turning would leave it too
thin to be put back.

References
----------
.. [1] E. L. Ahrons, *Steam Locomotive Construction and Maintenance*, Pitman 1921, p. 128: when the smallest
   wheel of a set has been turned down, all others must be turned to the same diameter.
.. [2] J. R. Michael, W. R. Schucany, R. W. Haas, "Generating random variates using transformations with
   multiple roots", The American Statistician 30 (1976) 88-90 (first passage of a known rate).
.. [3] G. E. P. Box, M. E. Muller, "A note on the generation of random normal deviates", The Annals of
   Mathematical Statistics 29 (1958) 610-611.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.tires.states import FLANGE, HOLLOW, THICKNESS, TireStates, TurningAssumptions

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Policy = Literal["at the limit", "early at lay-ups", "one axle lags"]

POLICIES: tuple[Policy, ...] = ("at the limit", "early at lay-ups", "one axle lags")
CAUSES = ("still running", "thickness worn to its limit", "too thin to be turned again")
RUNNING, WORN, TOO_THIN = range(3)
MOST_TURNINGS = 60
"""Turnings after which a path is given up as still running: no tire has metal for so many."""
_TINY = 1e-30
_LEAST = 1e-300
_MOST = 1e36
"""Largest number that is handed on in single precision, which ends at 3e38."""
_CHUNK = 24_000
"""Numbers worked on at once: what stays in the processor's cache; twice as fast as all paths at once."""


@dataclass(frozen=True)
class TurningPaths:
    """Simulated futures of the sets; shape (paths, sets) each.

    Attributes
    ----------
    scrap_miles : miles until the first tire of the set is scrap; inf where it is still running. [mi]
    turnings : turnings done before that.
    first_turning : miles to the first turning; inf where there is none. [mi]
    out_of_season : turnings that fell between lay-ups.
    cause : index into ``CAUSES``.
    """

    policy: Policy
    scrap_miles: Floats
    turnings: Ints
    first_turning: Floats
    out_of_season: Ints
    cause: Ints


def simulate_turnings(
    states: TireStates,
    assumptions: TurningAssumptions,
    lay_ups: Floats,
    *,
    policy: Policy = "at the limit",
    paths: int = 10_000,
    seed: int = 20260501,
) -> TurningPaths:
    """Simulate the turnings of every matched set until a tire is scrap.

    Parameters
    ----------
    states : filtered states of the tires.
    assumptions : what the shop takes off, and when.
    lay_ups : shape (k,), miles from now to each lay-up, increasing. [mi] The last spacing goes on for ever.
        Under the policy ``early at lay-ups`` a set is turned at a lay-up once a wear has passed its share of
        the limit, or at the limit if that comes first; what is too thin to be turned then runs on to the
        limit. Under the other policies a set is turned at the limit.
    policy : see above; ``one axle lags``: the axle that needs the deepest cut may stay smaller than the
        others by the lag that the assumptions allow.
    paths : futures.
    seed : the same seed gives each set the same futures, whatever the policy and the other sets.

    Returns
    -------
    TurningPaths.

    Notes
    -----
    The wear of each point is ``x + b d + tau W(d)`` with its own normal level and rate, as filtered; the
    distance to its limit is drawn exactly (inverse Gaussian, rate drawn first). Levels of the other points at
    a turning are drawn from the same process and held at their limit. Wheel centers of a set are taken as of
    one diameter. Checked step by step against a case worked by hand and, without variance, against the closed
    form.
    """
    out = TurningPaths(
        policy, *(np.zeros((paths, len(states.sets)), dtype) for dtype in (float, int, float, int, int))
    )
    columns = (out.scrap_miles, out.turnings, out.first_turning, out.out_of_season, out.cause)
    for index in range(len(states.sets)):
        tires = slice(states.set_start[index], states.set_start[index + 1])
        rng = np.random.default_rng([seed, *states.sets[index].encode()])
        matched_set = _Set(states, tires, assumptions, np.asarray(lay_ups, float), policy)
        step = max(1, _CHUNK // max(len(matched_set.tire), 1))
        for start in range(0, paths, step):
            results = matched_set.run(min(step, paths - start), rng)
            for array, values in zip(columns, results, strict=True):
                array[start : start + step, index] = values
    return out


def first_passage(headroom: Floats, rate: Floats, tau: Floats, rng: np.random.Generator) -> Floats:
    """Draw the distance at which a wear first has covered its headroom.

    Parameters
    ----------
    headroom : wear left to the limit; zero or less: reached now. [mm]
    rate : wear per mile, of any sign. [mm/mi]
    tau : Brownian part, >= 0. [mm/mi^0.5]
        All broadcast against each other.

    Returns
    -------
    Distance of the broadcast shape. [mi], 0 where there is no headroom, inf where the limit is never reached.
    """
    shape = np.broadcast_shapes(np.shape(headroom), np.shape(rate), np.shape(tau))
    room, speed, half = np.maximum(headroom, 0.0), np.abs(rate) + _TINY, 0.5 * tau * tau
    covered = np.maximum(speed * room, np.maximum(half / _MOST, _LEAST))
    mean = room / speed
    distance: Floats = mean * _of_mean((half / covered).astype(np.float32), shape, rng)
    if np.min(rate, initial=np.inf) <= 0:
        # A wear that runs away from its limit reaches it, if at all, as one of the opposite sign would.
        away_from_limit = np.nonzero(np.broadcast_to(rate <= 0, shape))
        room, speed, half = (np.broadcast_to(x, shape)[away_from_limit] for x in (room, np.abs(rate), half))
        ever = np.exp(-speed * room / (half + _TINY)) * (half > 0)
        never = (rng.random(len(room)) >= ever) & (room > 0)
        distance[tuple(index[never] for index in away_from_limit)] = np.inf
    return distance


def _of_mean(share: Singles, shape: tuple[int, ...], rng: np.random.Generator) -> Singles:
    """Draw inverse Gaussians of mean 1 whose variance is twice the share; exactly 1 where that is 0.

    Single precision throughout: seven digits are enough for chance.
    """
    a = _normal(rng, shape)
    a *= a
    a *= share
    # The roots of the quadratic are q and 1 / q; written so that nothing cancels and nothing overflows.
    q = np.sqrt(a)
    a += np.float32(2.0)
    q *= np.sqrt(a)
    q += a
    q -= np.float32(1.0)
    far = rng.random(shape, dtype=np.float32)
    far *= q + np.float32(1.0)
    chosen = far > q
    near = np.float32(1.0) / q
    # The choice is made by a product: it falls either way at random, which branches take badly.
    q -= near
    q *= chosen
    q += near
    return q


def _normal(rng: np.random.Generator, shape: tuple[int, ...]) -> Singles:
    """Standard normals of single precision: seven digits are enough for chance.

    Box and Muller's way [3]_: on whole arrays it takes a third of the time of the generator's own.
    """
    count = math.prod(shape)
    half = (count + 1) // 2
    words = rng.integers(0, 2**64 - 1, half, np.uint64, endpoint=True).view(np.uint32)
    radius = words[:half].astype(np.float32)
    radius += np.float32(0.5)
    radius *= np.float32(2.0**-32)
    np.log(radius, out=radius)
    radius *= np.float32(-2.0)
    np.sqrt(radius, out=radius)
    angle = words[half:].view(np.int32).astype(np.float32)
    angle *= np.float32(np.pi * 2.0**-31)
    drawn = np.empty((2, half), np.float32)
    np.multiply(radius, np.cos(angle), out=drawn[0])
    np.multiply(radius, np.sin(angle), out=drawn[1])
    return drawn.ravel()[:count].reshape(shape)


class _Tally:
    """What has become of each path."""

    def __init__(self, paths: int) -> None:
        self.miles, self.first = np.full(paths, np.inf), np.full(paths, np.inf)
        self.turnings, self.out_of_season, self.cause = (np.zeros(paths, np.int64) for _ in range(3))

    def scrap(self, alive: Ints, which: Bools, miles: Floats, cause: int) -> None:
        """Those of the living paths are scrap at these miles."""
        self.miles[alive[which]] = miles[which]
        self.cause[alive[which]] = cause

    def turn(self, paths: Ints, miles: Floats, out_of_season: Bools) -> None:
        """These paths were turned at these miles."""
        self.first[paths] = np.where(self.turnings[paths] == 0, miles, self.first[paths])
        self.turnings[paths] += 1
        self.out_of_season[paths] += out_of_season

    @property
    def columns(self) -> tuple[NDArray, ...]:
        """In the order of ``TurningPaths``."""
        return self.miles, self.turnings, self.first, self.out_of_season, self.cause


class _Set:
    """One matched set; arrays have a row a tire (or a wear point) and a column a path."""

    def __init__(
        self,
        states: TireStates,
        tires: slice,
        assumptions: TurningAssumptions,
        lay_ups: Floats,
        policy: Policy,
    ) -> None:
        self.assumptions, self.policy = assumptions, policy
        self.lay_ups = lay_ups[lay_ups > 0]
        self.n = tires.stop - tires.start
        self.axle = pd.factorize(states.tires["axle"].iloc[tires])[0]
        present = np.isfinite(states.rate[tires, :THICKNESS])
        self.tire, self.measure = np.nonzero(present)
        pick = (self.tire, self.measure)
        self.surface = {name: _at(states, name, tires)[pick][:, None] for name in _NAMES}
        self.body = {name: _at(states, name, tires)[:, THICKNESS][:, None] for name in _NAMES}

    def run(self, paths: int, rng: np.random.Generator) -> tuple[NDArray, ...]:
        """Cycles from profile to profile until every path is scrap; columns of ``TurningPaths``."""
        tally = _Tally(paths)
        level, rate = _draw(self.surface, paths, rng)
        spent, spending = _draw(self.body, paths, rng)
        room, driven, alive = self.body["limit"] - spent, np.zeros(paths), np.arange(paths)
        last = np.zeros(paths, bool)  # too thin for another turning: it runs to the limit
        for _ in range(MOST_TURNINGS):
            miles, in_season = self._turning_due(level, rate, driven, last, rng)
            worn_out = first_passage(room, spending, self.body["tau"], rng).min(axis=0)
            ends, never = worn_out <= miles, np.isinf(miles) & np.isinf(worn_out)
            run = np.where(ends | never, 0.0, miles)
            wear, room = self._after(level, rate, room, spending, run, rng)
            left, turned = self._turn(wear, room)
            short = ~ends & (left < self.assumptions.least_run)
            too_thin = short & ~in_season  # a shop does not throw away at a lay-up what still runs
            tally.scrap(alive, ends & ~never, driven + worn_out, WORN)
            tally.scrap(alive, too_thin, driven + miles, TOO_THIN)
            on = np.flatnonzero(~ends & ~too_thin & ~never)
            if len(on) == 0:
                break
            driven, done = driven + run, ~short
            if len(on) < len(alive):
                alive, driven, done, in_season = alive[on], driven[on], done[on], in_season[on]
                wear, room, turned, spending, rate = (
                    column.take(on, axis=1) for column in (wear, room, turned, spending, rate)
                )
            tally.turn(alive[done], driven[done], ~in_season[done])
            level, last = self._new_profile(wear), ~done
            drawn = _next_rate(rate, self.surface, self.assumptions.rate_memory, rng)
            if last.any():
                level, room = np.where(done, level, wear), np.where(done, turned, room)
                rate = np.where(done, drawn, rate)
            else:
                room, rate = turned, drawn
        return tally.columns

    def _turning_due(
        self, level: Floats, rate: Floats, driven: Floats, last: Bools, rng: np.random.Generator
    ) -> tuple[Floats, Bools]:
        """Miles from those driven to the turning that the set calls for, and whether it falls in a lay-up."""
        limit, tau = self.surface["limit"], self.surface["tau"]
        if self.policy != "early at lay-ups":
            miles = first_passage(limit - level, rate, tau, rng).min(axis=0)
            return miles, np.zeros(len(miles), bool)
        share = self.assumptions.early_share
        passed = first_passage(share * limit - level, rate, tau, rng)
        # A set just turned at a lay-up is not turned again at the same one.
        lay_up = self._next_lay_up(driven + np.maximum(passed.min(axis=0), 1e-6)) - driven
        lay_up = np.where(last, np.inf, lay_up)
        # Only what has passed its share before the lay-up can reach its limit before it.
        before = np.flatnonzero(passed < lay_up)
        row, path = np.divmod(before, len(driven))
        most = limit[row, 0]
        left = most - np.maximum(level.ravel()[before], share * most)
        reached = passed.ravel()[before] + first_passage(left, rate.ravel()[before], tau[row, 0], rng)
        at_limit = np.full(len(driven), np.inf)
        np.minimum.at(at_limit, path, reached)
        return np.minimum(lay_up, at_limit), lay_up <= at_limit

    def _next_lay_up(self, miles: Floats) -> Floats:
        """The first lay-up at or after the miles; beyond the last one they go on at the last spacing."""
        known = self.lay_ups
        if len(known) == 0:
            return np.full(len(miles), np.inf)
        spacing = known[-1] - known[-2] if len(known) > 1 else known[-1]
        index = np.searchsorted(known, miles, side="left")
        beyond = known[-1] + np.ceil((miles - known[-1]) / spacing) * spacing
        return np.where(index < len(known), known[np.minimum(index, len(known) - 1)], beyond)

    def _after(
        self,
        level: Floats,
        rate: Floats,
        room: Floats,
        spending: Floats,
        run: Floats,
        rng: np.random.Generator,
    ) -> tuple[Floats, Floats]:
        """Wear and thickness left after the miles; no wear stands beyond the limit that would have called."""
        root = np.sqrt(run)
        wear = level + rate * run + self.surface["tau"] * root * _normal(rng, level.shape)
        wear = np.minimum(wear, self.surface["limit"])
        left = room - spending * run - self.body["tau"] * root * _normal(rng, room.shape)
        return wear, np.maximum(left, 0.0)

    def _turn(self, wear: Floats, room: Floats) -> tuple[Floats, Floats]:
        """Least thickness that the turning leaves in the set, and that of every tire."""
        a = self.assumptions
        need = np.zeros(room.shape)
        for measure, per in ((HOLLOW, a.hollow_share), (FLANGE, a.flange_slope * a.flange_restored)):
            rows = self.measure == measure
            # One shift of the profile cures both: the deeper of the two rules.
            need[self.tire[rows]] = np.maximum(need[self.tire[rows]], per * np.maximum(wear[rows], 0.0))
        own = room - need - a.clean_up
        if self.policy != "one axle lags" or self.axle.max() == 0:
            least = own.min(axis=0)
            return least, np.broadcast_to(least, room.shape).copy()
        return self._turn_with_lag(own)

    def _turn_with_lag(self, own: Floats) -> tuple[Floats, Floats]:
        """The axle of the deepest cut stays smaller by at most the lag; the others agree among themselves."""
        by_axle = np.stack([own[self.axle == axle].min(axis=0) for axle in range(self.axle.max() + 1)])
        order = np.sort(by_axle, axis=0)
        others = np.minimum(order[1], order[0] + self.assumptions.lag / 2.0)  # a radius is half a diameter
        lagging = by_axle.argmin(axis=0)
        left = np.where(self.axle[:, None] == lagging[None, :], order[0], others)
        return order[0], left

    def _new_profile(self, wear: Floats) -> Floats:
        """Wear after a turning: none, but for the share of the flange that is not restored."""
        kept = np.where(self.measure == FLANGE, 1.0 - self.assumptions.flange_restored, 0.0)
        return kept[:, None] * np.maximum(wear, 0.0)


_NAMES = (
    "level",
    "level_var",
    "rate",
    "rate_var",
    "level_rate_cov",
    "tau",
    "limit",
    "new_rate",
    "new_rate_sd",
)


def _at(states: TireStates, name: str, tires: slice) -> Floats:
    values: Floats = getattr(states, name)[tires]
    return values


def _draw(state: dict[str, Floats], paths: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Level and rate, jointly normal, (rows, paths)."""
    shape = (len(state["level"]), paths)
    rate_sd = np.sqrt(np.maximum(state["rate_var"], 0.0))
    score = _normal(rng, shape)
    rate = state["rate"] + rate_sd * score
    slope = np.divide(state["level_rate_cov"], rate_sd, out=np.zeros_like(rate_sd), where=rate_sd > 0)
    level_sd = np.sqrt(np.maximum(state["level_var"] - slope**2, 0.0))  # given the rate
    return state["level"] + slope * score + level_sd * _normal(rng, shape), rate


def _next_rate(rate: Floats, state: dict[str, Floats], memory: float, rng: np.random.Generator) -> Floats:
    """Rate of the next profile: the position's own, drawn to the family as far as memory is short of 1."""
    known = np.isfinite(state["new_rate"])
    if memory >= 1.0 or not known.any():
        return rate
    drawn = state["new_rate"] + np.nan_to_num(state["new_rate_sd"]) * rng.standard_normal(rate.shape)
    return np.where(known, memory * rate + (1.0 - memory) * drawn, rate)
