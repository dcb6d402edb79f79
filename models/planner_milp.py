"""The cheapest choice as a mixed-integer programme, solved by HiGHS with its gap told while it runs.

Only depths and jobs are whole numbers: once it is settled at which windows a unit is renewed, its path is
too. The search first asks for whole depths alone, which is nearly always enough, then mends or asks for all.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import highspy
import numpy as np
from scipy.sparse import coo_array, csc_array, vstack

from ingest.errors import NotPossible
from models.planner_problem import Floats, Ints, Problem, Solution, amount, without_hopeless_lives
from models.planner_search import first_choice

Progress = Callable[[float, float, float], None]
"""Told now and then while the search runs: seconds so far, best cost, bound."""


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


class _Silent(highspy.Highs):
    """HiGHS greets on standard output as soon as callbacks are enabled, that is when it is made; this one
    does not."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]

    def enableCallbacks(self) -> highspy.HighsStatus:
        self.setOptionValue("log_to_console", False)  # not output_flag: without it progress is not told
        status: highspy.HighsStatus = super().enableCallbacks()  # type: ignore[no-untyped-call]
        return status


def solve(
    problem: Problem, *, time_limit: float = 30.0, gap: float = 1e-6, progress: Progress | None = None
) -> Solution:
    """Cheapest choice.

    Parameters
    ----------
    problem : what may be chosen; every unit must have a path.
    time_limit : the search ends after it, with the best choice found. [s]
    gap : relative gap at which the search may end. [1]
    progress : told the state of the search now and then; may be called from another thread.

    Raises
    ------
    NotPossible : no choice was found within the time limit.
    """
    began = time.perf_counter()
    reduced = without_hopeless_lives(problem)
    matrix = _matrix(reduced)
    start = _start(reduced, min(6.0, time_limit / 4))

    def left() -> float:
        return max(time_limit - (time.perf_counter() - began), 0.5)

    n_whole = matrix.offset[3] - matrix.offset[1]
    depths_only = np.arange(n_whole) >= matrix.offset[2] - matrix.offset[1]
    values, bound = _run(matrix, depths_only, left(), gap, progress)
    if values is not None and _broken(values, matrix):
        values, _ = _run(_with_depths(matrix, values), np.ones(n_whole, bool), left(), gap, None)
    values = _cheaper(matrix, start, values)
    if values is None or (left() > 1.0 and _far(matrix, values, bound, gap)):
        every, sharper = _run(matrix, np.ones(n_whole, bool), left(), gap, progress)
        values, bound = _cheaper(matrix, values, every), max(bound, sharper)
    if values is None:
        raise NotPossible(
            f"Planner: no plan was found within {time_limit:.0f} s. Expected one; allow more time with"
            " --time-limit, or plan one vehicle at a time with --vehicle."
        )
    return _solution(problem, reduced, matrix, values, bound, began)


def _cheaper(matrix: Matrix, one: Floats | None, other: Floats | None) -> Floats | None:
    """The cheaper of two choices; the first is not handed to HiGHS as a start but held against its result.

    HiGHS 1.16 carries a start wrongly into the problem that it has reduced, and then proves costs that no
    plan has; ``tests/models/test_planner_milp.py`` catches it.
    """
    known = [values for values in (one, other) if values is not None]
    return min(known, key=lambda values: float(matrix.cost @ values)) if known else None


def _broken(values: Floats, matrix: Matrix) -> bool:
    jobs = values[matrix.offset[1] : matrix.offset[2]]
    return bool((np.abs(jobs - np.round(jobs)) > 1e-6).any())


def _far(matrix: Matrix, values: Floats, bound: float, gap: float) -> bool:
    cost = float(matrix.cost @ values) + matrix.constant
    return cost - bound > gap * max(abs(cost), 1e-9)


def _with_depths(matrix: Matrix, values: Floats) -> Matrix:
    low, high = matrix.low.copy(), matrix.high.copy()
    at = slice(matrix.offset[2], matrix.offset[3])
    low[at] = high[at] = np.round(values[at])
    return replace(matrix, low=low, high=high)


def _start(problem: Problem, seconds: float) -> Floats | None:
    """The first choice as values of the variables; None when there is none."""
    cost, level, renewed, jobs = first_choice(problem, seconds)
    if not np.isfinite(cost):
        return None
    arcs = problem.arcs
    edge = np.ones((len(renewed), 1), bool)
    ends = np.concatenate([edge, renewed, edge], axis=1)
    unit = problem.unit_of_lane[arcs.lane]
    before = np.concatenate([np.zeros((len(ends), 1)), np.cumsum(ends, axis=1)], axis=1)
    between = before[unit, arcs.end] - before[unit, arcs.start + 1]
    first = np.full(problem.n_units, len(problem.unit_of_lane))
    np.minimum.at(first, problem.unit_of_lane, np.arange(len(problem.unit_of_lane)))
    chosen = ends[unit, arcs.start] & ends[unit, arcs.end] & (between == 0) & (arcs.lane == first[unit])
    opened = np.arange(problem.n_depths)[None, :] < level[:, None]
    days = problem.job_days @ jobs + (opened * problem.open_days).sum(axis=1)
    lost = np.maximum(days - problem.window_days, 0.0)
    return np.concatenate([chosen, jobs.ravel(), opened.ravel(), lost]).astype(float)


def _run(
    matrix: Matrix,
    whole: np.ndarray,
    seconds: float,
    gap: float,
    progress: Progress | None,
) -> tuple[Floats | None, float]:
    """Solve with some of jobs and depths whole; values (None when there are none) and bound."""
    solver = _Silent()
    solver.setOptionValue("time_limit", float(seconds))
    solver.setOptionValue("mip_rel_gap", float(gap))
    solver.setOptionValue("mip_abs_gap", 1e-9)
    solver.passModel(_model(matrix, whole))
    if progress is not None:
        tell = progress
        solver.cbMipLogging.subscribe(
            lambda event: tell(
                event.data_out.running_time, event.data_out.mip_primal_bound, event.data_out.mip_dual_bound
            )
        )
    solver.run()
    info = solver.getInfo()
    found = info.primal_solution_status == 2  # feasible, as HiGHS numbers it
    values = np.asarray(solver.getSolution().col_value) if found else None
    return values, float(info.mip_dual_bound)


def _model(matrix: Matrix, whole: np.ndarray) -> highspy.HighsLp:
    model = highspy.HighsLp()
    model.offset_ = matrix.constant
    model.num_col_, model.num_row_ = matrix.rows.shape[1], matrix.rows.shape[0]
    model.col_cost_, model.col_lower_, model.col_upper_ = matrix.cost, matrix.low, matrix.high
    model.row_lower_, model.row_upper_ = matrix.row_low, matrix.row_high
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.start_ = matrix.rows.indptr
    model.a_matrix_.index_ = matrix.rows.indices
    model.a_matrix_.value_ = matrix.rows.data
    kinds = np.full(len(matrix.cost), highspy.HighsVarType.kContinuous, dtype=object)
    kinds[matrix.offset[1] : matrix.offset[3]][whole] = highspy.HighsVarType.kInteger
    model.integrality_ = list(kinds)
    return model


def _matrix(problem: Problem) -> Matrix:
    n_arcs, (n_jobs, n_windows), n_depths = len(problem.arcs.cost), problem.job_cost.shape, problem.n_depths
    sizes = [n_arcs, n_jobs * n_windows, n_windows * n_depths, n_windows]
    offset = np.concatenate([[0], np.cumsum(sizes)])
    blocks = [
        (_one_path(problem, offset), 1.0, 1.0),
        (_flow(problem, offset), 0.0, 0.0),
        (_done(problem, offset), 0.0, 0.0),
        (_opened(problem, offset), -np.inf, 0.0),
        (_nested(problem, offset), -np.inf, 0.0),
        (_days(problem, offset), -np.inf, problem.window_days),
        (_days_of_depths(problem, offset), -np.inf, 0.0),
        (_lane_rule(problem, offset), -np.inf, 0.0),
    ]
    count = [block.shape[0] for block, _, _ in blocks]
    zeros = np.zeros(sizes[2] + sizes[3])
    cost = [problem.arcs.cost, problem.job_cost.ravel(), problem.open_cost.ravel(), problem.lost_day]
    most = np.full(n_windows, highspy.kHighsInf)
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
    return np.asarray(np.clip(whole, -highspy.kHighsInf, highspy.kHighsInf), dtype=np.float64)


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
    at = offset[2] + (step // max(deeper, 1)) * problem.n_depths + step % max(deeper, 1) + 1
    return _rows((step, at, 1.0), (step, at - 1, -1.0), shape=(len(step), offset[-1]))


def _days(problem: Problem, offset: Ints) -> csc_array:
    """Days of the work less the days lost are within the window."""
    n, depths, window = problem.n_windows, problem.n_depths, np.arange(problem.n_windows)
    job = np.arange(len(problem.job_depth) * n)
    return _rows(
        (job % n, offset[1] + job, np.repeat(problem.job_days, n)),
        (np.repeat(window, depths), offset[2] + np.arange(n * depths), np.tile(problem.open_days, n)),
        (window, offset[3] + window, -1.0),
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


def _rows(*entries: tuple[Ints, Ints, float | Floats], shape: tuple[int, int]) -> csc_array:
    """Sparse matrix from (row, column, value) triples; entries at one place add up."""
    row = np.concatenate([entry[0] for entry in entries])
    column = np.concatenate([entry[1] for entry in entries])
    value = np.concatenate([np.broadcast_to(entry[2], len(entry[0])) for entry in entries])
    return csc_array(coo_array((value, (row, column)), shape=shape))


def _solution(
    problem: Problem, reduced: Problem, matrix: Matrix, values: Floats, bound: float, began: float
) -> Solution:
    n_jobs, n = problem.job_cost.shape
    parts = [values[a:b] for a, b in zip(matrix.offset[:-1], matrix.offset[1:], strict=True)]
    jobs = parts[1].reshape(n_jobs, n) > 0.5
    # No deeper than the work needs: where opening costs nothing, the programme does not care.
    level = (jobs * (problem.job_depth[:, None] + 1)).max(axis=0, initial=0)
    arcs = reduced.arcs
    used = np.zeros(len(problem.unit_of_lane))
    np.add.at(used, arcs.lane[arcs.start == 0], parts[0][arcs.start == 0])
    order = np.argsort(used, kind="stable")
    lane = np.zeros(problem.n_units, dtype=np.int64)
    lane[problem.unit_of_lane[order]] = order  # the most used lane of each unit is written last
    renewed = np.zeros((problem.n_units, n), bool)
    for job, unit in problem.covers:
        renewed[unit] |= jobs[job]
    opened = np.arange(problem.n_depths)[None, :] < level[:, None]
    days = problem.job_days @ jobs + (opened * problem.open_days).sum(axis=1)
    lost = np.maximum(days - problem.window_days, 0.0)
    chosen = Solution(lane, renewed, jobs, level, lost, 0.0, bound, time.perf_counter() - began)
    cost = amount(problem, chosen)
    return Solution(lane, renewed, jobs, level, lost, cost, min(bound, cost), chosen.seconds)
