"""The programme of a plan as a matrix: which rows say what.

Variables, in order: lives (arcs), jobs by window, depths by window, days beyond each of two steps by window.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csc_array, vstack

from models.plan.metal import metal_entries
from models.plan.problem import Floats, Ints, Problem


@dataclass(frozen=True)
class Matrix:
    """The programme: minimise cost x, low <= x <= high, row_low <= rows x <= row_high; x = arcs, jobs,
    depths, days."""

    cost: Floats
    low: Floats
    high: Floats
    rows: csc_array
    row_low: Floats
    row_high: Floats
    offset: Ints
    constant: float


def matrix_of(problem: Problem) -> Matrix:
    """The programme of a problem."""
    n_arcs, (n_jobs, n_windows), n_depths = len(problem.arcs.cost), problem.job_cost.shape, problem.n_depths
    sizes = [n_arcs, n_jobs * n_windows, n_windows * n_depths, 2 * n_windows]
    beyond, day_price = problem.day_steps
    offset = np.concatenate([[0], np.cumsum(sizes)])
    blocks = [
        (_one_path(problem, offset), 1.0, 1.0),
        (_flow(problem, offset), 0.0, 0.0),
        (_done(problem, offset), 0.0, 0.0),
        (_opened(problem, offset), -np.inf, 0.0),
        (_nested(problem, offset), -np.inf, 0.0),
        (_days(problem, offset, 0), -np.inf, beyond[0]),
        (_days(problem, offset, 1), -np.inf, beyond[1]),
        (_days_of_depths(problem, offset), -np.inf, 0.0),
        (_lane_rule(problem, offset), -np.inf, 0.0),
        _metal(problem, offset),
    ]
    count = [block.shape[0] for block, _, _ in blocks]
    zeros = np.zeros(sizes[2] + sizes[3])
    cost = [problem.arcs.cost, problem.job_cost.ravel(), problem.open_cost.ravel(), day_price.ravel()]
    most = np.full(2 * n_windows, np.inf)
    high = [np.ones(n_arcs), problem.job_high.ravel(), np.ones(sizes[2]), most]
    return Matrix(
        cost=np.concatenate(cost),
        low=np.concatenate([np.zeros(n_arcs), problem.job_low.ravel(), zeros]),
        high=np.concatenate(high),
        rows=csc_array(vstack([block for block, _, _ in blocks])),
        row_low=_sides(count, [np.asarray(block[1]) for block in blocks]),
        row_high=_sides(count, [np.asarray(block[2]) for block in blocks]),
        offset=offset,
        constant=problem.constant,
    )


def _sides(count: list[int], sides: list[Floats]) -> Floats:
    whole = np.concatenate([np.broadcast_to(side, n) for n, side in zip(count, sides, strict=True)])
    return np.asarray(whole, dtype=np.float64)


def _one_path(problem: Problem, offset: Ints) -> csc_array:
    """Each unit has one life that begins now."""
    first = np.flatnonzero(problem.arcs.start == 0)
    unit = problem.unit_of_lane[problem.arcs.lane[first]]
    return _rows((unit, first, 1.0), shape=(problem.n_units, offset[-1]))


def _flow(problem: Problem, offset: Ints) -> csc_array:
    """In each lane a life ends at a window as often as one begins there."""
    arcs, n = problem.arcs, problem.n_windows
    into, out = np.flatnonzero(arcs.end <= n), np.flatnonzero(arcs.start > 0)
    return _rows(
        (arcs.lane[into] * n + arcs.end[into] - 1, into, 1.0),
        (arcs.lane[out] * n + arcs.start[out] - 1, out, -1.0),
        shape=(len(problem.unit_of_lane) * n, offset[-1]),
    )


def _done(problem: Problem, offset: Ints) -> csc_array:
    """A unit is renewed at a window exactly when one of its jobs is done there."""
    arcs, n = problem.arcs, problem.n_windows
    into = np.flatnonzero(arcs.end <= n)
    job, unit, window = problem.covers[:, [0]], problem.covers[:, [1]], np.arange(n)
    return _rows(
        (problem.unit_of_lane[arcs.lane[into]] * n + arcs.end[into] - 1, into, 1.0),
        ((unit * n + window).ravel(), offset[1] + (job * n + window).ravel(), -1.0),
        shape=(problem.n_units * n, offset[-1]),
    )


def _opened(problem: Problem, offset: Ints) -> csc_array:
    """A job is done only where its depth is opened."""
    n = problem.n_windows
    job = np.arange(len(problem.job_depth) * n)
    depth = offset[2] + job % n * problem.n_depths + np.repeat(problem.job_depth, n)
    return _rows((job, offset[1] + job, 1.0), (job, depth, -1.0), shape=(len(job), offset[-1]))


def _nested(problem: Problem, offset: Ints) -> csc_array:
    """A depth is opened only where the one before it is."""
    deeper = problem.n_depths - 1
    step = np.arange(problem.n_windows * deeper)
    column = offset[2] + (step // max(deeper, 1)) * problem.n_depths + step % max(deeper, 1) + 1
    return _rows((step, column, 1.0), (step, column - 1, -1.0), shape=(len(step), offset[-1]))


def _days(problem: Problem, offset: Ints, step: int) -> csc_array:
    """Days of the work less the days beyond a step are within it: those of the window, or the longer."""
    n, depths, window = problem.n_windows, problem.n_depths, np.arange(problem.n_windows)
    job = np.arange(len(problem.job_depth) * n)
    return _rows(
        (job % n, offset[1] + job, np.repeat(problem.job_days, n)),
        (np.repeat(window, depths), offset[2] + np.arange(n * depths), np.tile(problem.open_days, n)),
        (window, offset[3] + step * n + window, -1.0),
        shape=(n, offset[-1]),
    )


def _days_of_depths(problem: Problem, offset: Ints) -> csc_array:
    """The same for the work of each depth and below alone, in a window opened that deep; nothing where it is
    not.

    Follows from the days of the window for whole openings; without it a tenth of an opening in each of ten
    windows would lose no day, and the bound would be far too low.
    """
    n, depths = problem.n_windows, problem.n_depths
    window = np.arange(n)
    entries: list[tuple[Ints, Ints, float | Floats]] = []
    for depth in range(depths):
        row = window * depths + depth
        jobs = np.flatnonzero(problem.job_depth >= depth)
        entries += [(row, offset[1] + job * n + window, problem.job_days[job]) for job in jobs]
        spare = problem.open_days[: depth + 1].sum() - problem.window_days
        entries.append((row, offset[2] + window * depths + depth, spare))
        for deeper in range(depth + 1, depths):
            entries.append((row, offset[2] + window * depths + deeper, problem.open_days[deeper]))
        entries.append((row, offset[3] + window, -1.0))
    return _rows(*entries, shape=(n * depths, offset[-1]))


def _lane_rule(problem: Problem, offset: Ints) -> csc_array:
    """A life of a ruled lane ends at a window only where one of the lane's own jobs is done."""
    arcs, n, window = problem.arcs, problem.n_windows, np.arange(problem.n_windows)
    ruled = np.unique(problem.lane_jobs[:, 1])
    row = np.full(len(problem.unit_of_lane), -1)
    row[ruled] = np.arange(len(ruled))
    into = np.flatnonzero((arcs.end <= n) & (row[arcs.lane] >= 0))
    job, lane = problem.lane_jobs[:, [0]], problem.lane_jobs[:, [1]]
    return _rows(
        (row[arcs.lane[into]] * n + arcs.end[into] - 1, into, 1.0),
        ((row[lane] * n + window).ravel(), offset[1] + (job * n + window).ravel(), -1.0),
        shape=(len(ruled) * n, offset[-1]),
    )


def _metal(problem: Problem, offset: Ints) -> tuple[csc_array, float, Floats]:
    """No part is turned more often than its metal allows."""
    row, job, value, most = metal_entries(problem)
    return _rows((row, offset[1] + job, value), shape=(len(most), offset[-1])), -np.inf, most


def _rows(*entries: tuple[Ints, Ints, float | Floats], shape: tuple[int, int]) -> csc_array:
    """Sparse matrix from (row, column, value) triples; entries at one place add up."""
    row = np.concatenate([entry[0] for entry in entries])
    column = np.concatenate([entry[1] for entry in entries])
    value = np.concatenate([np.broadcast_to(entry[2], len(entry[0])) for entry in entries])
    return csc_array(coo_array((value, (row, column)), shape=shape))
