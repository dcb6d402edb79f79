"""The cheapest choice as a mixed-integer programme, solved by HiGHS, which reports its gap while it runs.

Only depths and jobs are whole numbers: once it is settled at which windows a unit is renewed, its path is
too. The search first asks for whole depths alone, which is nearly always enough, then mends or asks for all.
It ends by the work done and never by the clock: the same problem has the same answer on a busy machine.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import highspy
import numpy as np

from ingest.errors import NotPossible
from models.plan.matrix import Matrix, matrix_of
from models.plan.metal import keeps_metal
from models.plan.problem import Bools, Floats, Ints, Problem, Solution, solution_of, without_hopeless_lives
from models.plan.search import BESIDE, WORK, first_choice

Progress = Callable[[int, float, float], None]
"""Told now and then while the search runs: nodes of the tree done, best cost, bound."""

MOST_NODES = 500
"""Nodes of the tree after which HiGHS stops. Plans of ten years end at the first, within their gap."""
MOST_LIVES = 100_000
"""Lives of the largest programme that HiGHS is asked for. Nodes do not bound what its first one takes: that
grows with the square of the lives (40,000: 5 s, 90,000: 35 s, 150,000: 90 s). Beyond it the own search stands
alone, with six times the work."""
MOST_WHOLE = 20_000
"""Lives of the largest programme for whose bound openings are whole numbers. In larger ones parts of openings
give nearly the same in a fifth of the time (31,000: 0.1 % less, 3 s for 17)."""
NO_LIFE = 1e-6
"""A life of which a choice holds no more than this is not held: ten times what HiGHS is content with. [1]"""

NEAR = 1e-4
"""Gap below which the own search is not asked whether it finds anything cheaper. [1]"""
SAME_STEPS: dict[str, bool | int | float | str] = {"threads": 1, "parallel": "off", "random_seed": 0}
"""Options of HiGHS under which its steps do not depend on what else the machine does."""


class _Silent(highspy.Highs):
    """HiGHS greets on standard output as soon as callbacks are enabled, that is when it is made; this one
    does not."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]

    def enableCallbacks(self) -> highspy.HighsStatus:
        self.setOptionValue("log_to_console", False)  # not output_flag: without it no progress is reported
        status: highspy.HighsStatus = super().enableCallbacks()  # type: ignore[no-untyped-call]
        return status


def solve(
    problem: Problem,
    *,
    effort: float = 1.0,
    gap: float = 1e-6,
    kept: Bools | None = None,
    progress: Progress | None = None,
) -> Solution:
    """Cheapest choice.

    Parameters
    ----------
    problem : what may be chosen; every unit must have a path.
    effort : factor on the work after which the search ends with the best choice found. [1], > 0
    gap : relative gap at which the search may end. [1]
    kept : shape (J, W). Jobs chosen before. They stand where they are allowed and the search has nothing
        better to say: their own gap to the bound would have ended it, or it found nothing cheaper.
    progress : called with the state of the search now and then; may be called from another thread.

    Raises
    ------
    NotPossible : no choice was found with that work.
    """
    searched = _searched(problem, effort, gap, progress)
    before = (
        None if kept is None else choice_of(problem, kept, -np.inf if searched is None else searched.bound)
    )
    if before is not None and (
        searched is None or before.objective <= searched.objective or before.gap <= gap
    ):
        return before
    if searched is None:
        raise NotPossible(
            f"Planner: no plan was found with the effort {effort:g}. Expected one; allow more with --effort,"
            " plan fewer --years, or one vehicle at a time with --vehicle."
        )
    return searched


def within_gap(problem: Problem, gap: float, effort: float = 1.0) -> tuple[Solution | None, float]:
    """A choice near the cheapest by HiGHS alone, None where it finds none or the problem is too large for it;
    and a bound that holds all the same, -inf where there is none.

    Parameters
    ----------
    problem, gap, effort : as :func:`solve` takes them.
    """
    reduced = without_hopeless_lives(problem)
    if len(reduced.arcs.cost) > MOST_LIVES * effort:
        return None, -np.inf
    matrix = matrix_of(reduced)
    whole = np.ones(matrix.offset[3] - matrix.offset[1], bool)
    depths_only = np.arange(len(whole)) >= matrix.offset[2] - matrix.offset[1]
    nodes = max(round(MOST_NODES * effort), 1)
    values, bound = _run(matrix, depths_only, nodes, gap, None)
    if values is not None and _broken(values, matrix):
        values, _ = _run(_with_depths(matrix, values), whole, nodes, gap, None)
    return (None if values is None else _solution(problem, reduced, matrix, values, bound)), bound


class LivesHeld(NamedTuple):
    """Lives that a choice holds, which may be put together from parts of plans: shapes (a,); share [1], in
    (0, 1]."""

    unit: Ints
    start: Ints
    end: Ints
    share: Floats


class Least(NamedTuple):
    """The least that any choice costs, -inf where it is not known, and the lives of a choice that costs no
    more."""

    bound: float
    lives: LivesHeld


def least_of(problem: Problem, gap: float, effort: float = 1.0) -> Least:
    """A bound by HiGHS; ``gap`` and ``effort`` as :func:`solve` takes them."""
    reduced = without_hopeless_lives(problem)
    arcs = reduced.arcs
    values, bound = None, -np.inf
    if len(arcs.cost) <= MOST_LIVES * effort:
        matrix = matrix_of(reduced)
        whole = np.zeros(matrix.offset[3] - matrix.offset[1], bool)
        whole[matrix.offset[2] - matrix.offset[1] :] = len(arcs.cost) <= MOST_WHOLE
        values, bound = _run(matrix, whole, max(round(MOST_NODES * effort), 1), gap, None)
    share = np.zeros(len(arcs.cost)) if values is None else values[: len(arcs.cost)]
    held = np.flatnonzero(share > NO_LIFE)
    unit = reduced.unit_of_lane[arcs.lane[held]]
    return Least(bound, LivesHeld(unit, arcs.start[held], arcs.end[held], share[held]))


def sharpened(problem: Problem, level: Ints, gap: float, effort: float = 1.0) -> Solution | None:
    """A choice near the cheapest; where the programme is large, the cheapest with these levels of opening."""
    if len(problem.arcs.cost) <= MOST_WHOLE:
        return within_gap(problem, gap, effort)[0]
    if len(problem.arcs.cost) > MOST_LIVES * effort:
        return None
    matrix = matrix_of(problem)
    values = np.zeros(len(matrix.cost))
    opened = np.arange(problem.n_depths)[None, :] < level[:, None]
    values[matrix.offset[2] : matrix.offset[3]] = opened.ravel()
    whole = np.ones(matrix.offset[3] - matrix.offset[1], bool)
    found, bound = _run(_with_depths(matrix, values), whole, max(round(MOST_NODES * effort), 1), gap, None)
    return None if found is None else _solution(problem, problem, matrix, found, bound)


def choice_of(problem: Problem, jobs: Bools, bound: float, lives: Floats | None = None) -> Solution | None:
    """A choice of jobs as one of this problem; None where it is not allowed. ``lives``: as
    ``problem.life_costs`` has them, where they are known already."""
    if len(problem.lane_jobs) or problem.n_units != len(problem.unit_of_lane):
        return None
    done = np.zeros((problem.n_units, problem.n_windows))
    np.add.at(done, problem.covers[:, 1], jobs[problem.covers[:, 0]])
    if (jobs < problem.job_low).any() or (jobs > problem.job_high).any() or (done > 1).any():
        return None
    if not keeps_metal(problem, jobs):
        return None
    lane = np.zeros(problem.n_units, dtype=np.int64)
    lane[problem.unit_of_lane] = np.arange(problem.n_units)
    solution = solution_of(problem, jobs, lane, bound, lives)
    return solution if np.isfinite(solution.objective) else None


def _searched(problem: Problem, effort: float, gap: float, progress: Progress | None) -> Solution | None:
    reduced = without_hopeless_lives(problem)
    matrix = matrix_of(reduced)
    if len(reduced.arcs.cost) > MOST_LIVES * effort:
        values, bound = _start(reduced, 6 * WORK * effort), -np.inf
    else:
        values, bound = _solved(reduced, matrix, effort, gap, progress)
    return None if values is None else _solution(problem, reduced, matrix, values, bound)


def _solved(
    reduced: Problem, matrix: Matrix, effort: float, gap: float, progress: Progress | None
) -> tuple[Floats | None, float]:
    """Values and bound by HiGHS; the own search is held against them, and where a gap is left a second
    run."""
    nodes = max(round(MOST_NODES * effort), 1)
    jobs_and_depths = np.ones(matrix.offset[3] - matrix.offset[1], bool)
    depths_only = np.arange(len(jobs_and_depths)) >= matrix.offset[2] - matrix.offset[1]
    values, bound = _run(matrix, depths_only, nodes, gap, progress)
    if values is not None and _broken(values, matrix):
        values, _ = _run(_with_depths(matrix, values), jobs_and_depths, nodes, gap, None)
    if values is None or _far(matrix, values, bound, min(gap, NEAR)):
        own = _start(reduced, WORK * effort, None if values is None else _levels(reduced, matrix, values))
        values = _cheaper(matrix, values, own)
    if values is None or _far(matrix, values, bound, gap):
        whole, sharper = _run(matrix, jobs_and_depths, nodes, gap, progress)
        values, bound = _cheaper(matrix, values, whole), max(bound, sharper)
    return values, bound


def _cheaper(matrix: Matrix, first: Floats | None, other: Floats | None) -> Floats | None:
    """The cheaper of two choices, of equal ones the first; no choice is handed to HiGHS as a start, but held
    against its result.

    HiGHS 1.16 carries a start wrongly into the problem that it has reduced, and then proves costs that no
    plan has; ``tests/models/plan/test_planner_milp.py`` catches it.
    """
    if first is None or other is None:
        return other if first is None else first
    cost = _cost(matrix, first)
    return other if _cost(matrix, other) < cost - 1e-9 * abs(cost) else first


def _cost(matrix: Matrix, values: Floats) -> float:
    """Cost of the values, the same to the last digit in whatever order a processor adds."""
    return math.fsum(matrix.cost * values) + matrix.constant


def _broken(values: Floats, matrix: Matrix) -> bool:
    jobs = values[matrix.offset[1] : matrix.offset[2]]
    return bool((np.abs(jobs - np.round(jobs)) > 1e-6).any())


def _far(matrix: Matrix, values: Floats, bound: float, gap: float) -> bool:
    cost = _cost(matrix, values)
    return cost - bound > gap * max(abs(cost), 1e-9)


def _with_depths(matrix: Matrix, values: Floats) -> Matrix:
    low, high = matrix.low.copy(), matrix.high.copy()
    depths = slice(matrix.offset[2], matrix.offset[3])
    low[depths] = high[depths] = np.round(values[depths])
    return replace(matrix, low=low, high=high)


def _levels(problem: Problem, matrix: Matrix, values: Floats) -> Ints:
    """How deep each window opens in a choice, shape (W,)."""
    opened = np.round(values[matrix.offset[2] : matrix.offset[3]])
    return np.asarray(opened.reshape(problem.n_windows, problem.n_depths).sum(axis=1), dtype=np.int64)


def _start(problem: Problem, work: float, begin: Ints | None = None) -> Floats | None:
    """What the own search finds, as values of the variables; None when it finds nothing. ``begin``: levels of
    a choice beside which it stands, for which it takes less work."""
    share = 1.0 if begin is None else BESIDE
    cost, level, renewed, jobs = first_choice(problem, share * work, begin)
    if not np.isfinite(cost) or not keeps_metal(problem, jobs):
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
    lost = np.maximum(problem.days_of(jobs, level) - problem.day_steps[0], 0.0)
    return np.concatenate([chosen, jobs.ravel(), opened.ravel(), lost.ravel()]).astype(float)


def _run(
    matrix: Matrix,
    whole: np.ndarray,
    nodes: int,
    gap: float,
    progress: Progress | None,
) -> tuple[Floats | None, float]:
    """Solve with some of jobs and depths whole; values (None when there are none) and bound.

    One thread and one seed, and no limit of time: HiGHS then does the same steps each time. Vehicles that are
    searched at once have a solver each.
    """
    solver = _Silent()
    options: dict[str, bool | int | float | str] = {
        "mip_max_nodes": nodes,
        "mip_rel_gap": float(gap),
        "mip_abs_gap": 1e-9,
    }
    if not whole.any():  # 36,000 columns: 1.7 s by interior points and crossover, 2.3 s by the simplex method
        options["solver"] = "ipm"
    for name, value in {**options, **SAME_STEPS}.items():
        solver.setOptionValue(name, value)
    solver.passModel(_model(matrix, whole))
    if progress is not None:
        tell = progress
        solver.cbMipLogging.subscribe(
            lambda event: tell(
                int(event.data_out.mip_node_count),
                event.data_out.mip_primal_bound,
                event.data_out.mip_dual_bound,
            )
        )
    solver.run()
    info = solver.getInfo()
    feasible = info.primal_solution_status == 2  # as HiGHS numbers it
    values = np.asarray(solver.getSolution().col_value) if feasible else None
    if whole.any():
        return values, float(info.mip_dual_bound)
    best = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return values, float(info.objective_function_value) if best else -np.inf


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


def _solution(problem: Problem, reduced: Problem, matrix: Matrix, values: Floats, bound: float) -> Solution:
    parts = [values[a:b] for a, b in zip(matrix.offset[:-1], matrix.offset[1:], strict=True)]
    jobs = parts[1].reshape(problem.job_cost.shape) > 0.5
    return solution_of(problem, jobs, _lanes(reduced, parts[0]), bound)


def _lanes(problem: Problem, lives: Floats) -> Ints:
    """The most used lane of each unit, by the values of the lives."""
    arcs = problem.arcs
    used = np.zeros(len(problem.unit_of_lane))
    np.add.at(used, arcs.lane[arcs.start == 0], lives[arcs.start == 0])
    order = np.argsort(used, kind="stable")
    lane = np.zeros(problem.n_units, dtype=np.int64)
    lane[problem.unit_of_lane[order]] = order  # the most used lane of each unit is written last
    return lane
