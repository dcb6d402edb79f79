"""The programme of an engine with parts of the rack fitted in given windows.

A spare comes in whatever else is chosen: where it does, the part in service gives way to it with all that is
measured on both. To the programme the two are one life of each wear point, which ends where the first of them
does before the fitting, or the spare after it.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.futures.spares import as_spare
from models.plan.chances import Lives, lives_of
from models.plan.engine import Chosen, EngineProgramme
from models.plan.failures import PRICED_DRAWS, Failures, failures_of
from models.plan.jobs import Fitted, fitting_jobs, jobs_of
from models.plan.network import network
from models.plan.planner import PlanInputs
from models.plan.problem import Bools, Floats, Ints
from models.plan.risk import stopped_now
from models.plan.rules import Rules
from models.plan.shop import had_by, uses_of

Seasons = NDArray[np.int8]


@dataclass(frozen=True)
class Spare:
    """What a part of the rack means at one place of an engine, in whichever window it is fitted.

    Attributes
    ----------
    rows : wear points that show it, rows of the programme's lives. Lengths p.
    chance, unused : shape (p, W + 2, W + 2). As ``Lives`` has them, of the spare from each window on.
    season : shape (n, p, W + 1). As ``Failures.season``, of the same.
    kept : shape (p,). Miles that the plan without it leaves unused at the end of the years. [mi]
    bound : shape (p,). Wear points whose lives are those of a set with other wheels too: a spare among them
        can only shorten these.
    """

    rows: Ints
    chance: Floats
    unused: Floats
    season: Seasons
    kept: Floats
    bound: Bools


def seasons_by_point(programme: EngineProgramme, inputs: PlanInputs) -> Seasons:
    """As ``Failures.season``, by wear point, shape (n, points, W + 1)."""
    vehicle = programme.vehicle
    every = [np.array([row]) for row in range(len(programme.lives.points))]
    of_vehicle = (inputs.simulation.points["vehicle"] == vehicle).to_numpy()
    ignored = stopped_now(inputs.simulation, inputs.past)[of_vehicle]
    opens, end = programme.windows["opens"].to_numpy(), inputs.ends.get(vehicle)
    return failures_of(inputs.simulation, vehicle, every, opens, end, ignored).season


def spare_at(one: Chosen, points: Collection[str], left: Mapping[str, Floats], inputs: PlanInputs) -> Spare:
    """A part of the rack at the place that some wear points show; ``left``: as ``Fitted.left``."""
    programme, vehicle = one.programme, one.programme.vehicle
    rows = np.flatnonzero(programme.lives.points["point"].isin(list(points)).to_numpy())
    opens, end = programme.windows["opens"].to_numpy(), inputs.ends.get(vehicle)
    simulation = inputs.simulation
    few = replace(
        simulation,
        miles=simulation.miles[:PRICED_DRAWS],
        remaining=simulation.remaining[:PRICED_DRAWS],
        next_life=simulation.next_life[:PRICED_DRAWS],
    )
    futures, known = as_spare(few, inputs.distribution, list(points), left)
    lives = lives_of(replace(simulation, points=futures.points), known, vehicle, opens, end)
    each, nothing = [np.array([row]) for row in range(len(rows))], np.zeros(len(rows), bool)
    season = failures_of(futures, vehicle, each, opens, end, nothing).season
    unit_of = unit_of_points(programme)
    last = [int(np.flatnonzero([True, *one.solution.renewed[unit_of[row]]])[-1]) for row in rows]
    kept = programme.lives.unused[rows, last, -1]
    return Spare(rows, lives.chance, lives.unused, season, kept, _of_larger_set(programme.lives.points, rows))


def unit_of_points(programme: EngineProgramme) -> Ints:
    """Unit of each wear point of an engine."""
    out = np.zeros(len(programme.lives.points), dtype=np.int64)
    for unit, members in enumerate(programme.net.units):
        out[members] = unit
    return out


def _of_larger_set(points: pd.DataFrame, rows: Ints) -> Bools:
    """Which wear points show the metal of a set that has wheels beside these."""
    if "turnings_left" not in points:
        return np.zeros(len(rows), bool)
    metal = (points["role"] == "metal") & points["turnings_left"].notna()
    others = points[metal & ~np.isin(np.arange(len(points)), rows)]
    own = points.iloc[rows]
    return np.asarray(metal.iloc[rows] & own["matched_set"].isin(others["matched_set"]), dtype=bool)


def lives_with(lives: Lives, whole: Lives, spare: Spare, window: int) -> tuple[Lives, Lives]:
    """Lives with a spare fitted in a window.

    Parameters
    ----------
    lives : of the wear points, a life for each part. whole : the same, parts that follow each other as one.

    Returns
    -------
    Both with the spare. What is left of it at the end of the years counts for no more than what the plan
    without it leaves there: it is not fitted for the life that it would have had on the rack.
    """
    node, rows, bound = window + 1, spare.rows, spare.bound[:, None]
    chance, unused = lives.chance.copy(), lives.unused.copy()
    begun = (spare.chance[:, node], spare.unused[:, node])
    chance[rows, node] = np.where(bound, np.maximum(begun[0], chance[rows, node]), begun[0])
    unused[rows, node] = np.where(bound, np.minimum(begun[1], unused[rows, node]), begun[1])
    apart = replace(lives, chance=chance, unused=unused)
    both, one = whole.chance.copy(), (whole.chance if whole.of_one is None else whole.of_one).copy()
    left = whole.unused.copy()
    after, off = chance[rows, node, node + 1 :], lives.chance[rows, :node, node]
    kept = unused[rows, node].copy()
    kept[:, -1] = np.minimum(kept[:, -1], spare.kept)
    one[rows, node], both[rows, node], left[rows, node] = chance[rows, node], chance[rows, node], kept
    for begin in range(node):
        came_off = off[:, [begin]]
        crossing = (rows, begin, slice(node + 1, None))
        told = [came_off + after, np.maximum(came_off, after), kept[:, node + 1 :]]
        for array, own, worse in zip(
            (both, one, left), told, (np.maximum, np.maximum, np.minimum), strict=True
        ):
            array[crossing] = np.where(bound, worse(own, array[crossing]), own)
    return apart, replace(whole, chance=both, unused=left, of_one=one)


def season_with(season: Seasons, spare: Spare, window: int) -> Seasons:
    """Seasons in which lives end, by wear point, with a spare fitted; ``season``: as
    :func:`seasons_by_point`."""
    node, out = window + 1, season.copy()
    new = spare.season[:, :, [node]]
    own = season[:, spare.rows, : node + 1]
    ended = np.where((own < node) & (np.arange(node + 1) < node), own, new)
    out[:, spare.rows, : node + 1] = np.where(spare.bound[None, :, None], np.minimum(ended, own), ended)
    return out


def programme_with(
    one: Chosen, fitted: Sequence[Fitted], inputs: PlanInputs, rules: Rules
) -> EngineProgramme:
    """The programme of an engine with spares fitted, from its plan without them."""
    base = one.programme
    apart = whole = base.lives
    season = seasons_by_point(base, inputs)
    for each in fitted:
        spare = spare_at(one, each.points, each.left, inputs)
        apart, whole = lives_with(apart, whole, spare, each.window)
        season = season_with(season, spare, each.window)
    jobs = jobs_of(base.lives.points, inputs.costs)
    simulation = inputs.simulation
    as_of = pd.Timestamp(simulation.as_of[simulation.vehicles.index(base.vehicle)])
    net = network(
        whole, jobs, base.openings, base.windows, base.clocks, rules,
        had_by(inputs.lead_times, jobs, as_of), fitting_jobs(jobs, fitted, inputs.costs),
    )  # fmt: skip
    never = np.full((len(season), 1, season.shape[2]), season.shape[2], dtype=np.int8)
    ended = [season[:, rows].min(axis=1, keepdims=True) if len(rows) else never for rows in net.units]
    n_points = sum(len(rows) > 0 for rows in net.units)
    unfitted = np.concatenate(
        [base.failures.season[:, :n_points], *([never] * (len(net.units) - n_points))], axis=1
    )
    return EngineProgramme(
        vehicle=base.vehicle,
        windows=base.windows,
        lives=apart,
        clocks=base.clocks,
        openings=base.openings,
        net=net,
        failures=Failures(np.concatenate(ended, axis=1)),
        uses=uses_of(net.problem, net.jobs, base.openings),
        fitted=tuple(fitted),
        unfitted=Failures(unfitted),
    )
