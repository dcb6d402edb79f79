"""The cheapest choice as a mixed-integer programme, solved by HiGHS with its gap told while it runs.

Only depths and jobs are whole numbers: once it is settled at which windows a unit is renewed, its path is
too. The search first asks for whole depths alone, which is nearly always enough, then mends or asks for all.
"""

import time
from collections.abc import Callable
from dataclasses import replace

import highspy
import numpy as np

from ingest.errors import NotPossible
from models.planner_matrix import Matrix, matrix_of
from models.planner_problem import Floats, Problem, Solution, amount, without_hopeless_lives
from models.planner_search import first_choice

Progress = Callable[[float, float, float], None]
"""Told now and then while the search runs: seconds so far, best cost, bound."""


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
    matrix = matrix_of(reduced)
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
