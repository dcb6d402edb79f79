"""Metal binds: a tire is turned only while it is thick enough, and only a new one gives the metal back.

How often is a whole number for the part in service and one for every new part
(``models.tires.outlook``). Here stands what the plan makes of it: the rows of the programme, whether a choice
keeps to it, and the cheapest renewals of profile and metal together.
"""

from dataclasses import dataclass

import numpy as np

from models.plan.problem import Bools, Floats, Ints, Problem


def keeps_metal(problem: Problem, jobs: Bools) -> bool:
    """Is no part turned more often than its metal allows? ``jobs``: shape (J, W)."""
    for turning, renewing, left, following in problem.turnings:
        able = left
        for turned, renewed in zip(jobs[turning], jobs[renewing], strict=True):
            able = following if renewed else able - int(turned)
            if able < 0:
                return False
    return True


def metal_entries(problem: Problem) -> tuple[Ints, Ints, Floats, Floats]:
    """Rows that keep every stretch of windows within its metal, for whole numbers of jobs exactly.

    Returns
    -------
    row, job and window as one number (job * W + window), value, and the upper side of each row. Turnings from
    one window to a later one are no more than a part's, and a new part's for each renewal after the first of
    these windows; from the first window on, than those left to the part in service. A new part is turned no
    less often than the one in service.
    """
    n = problem.n_windows
    rows: list[Ints] = []
    columns: list[Ints] = []
    values: list[Floats] = []
    most: list[float] = []
    for turning, renewing, left, following in problem.turnings:
        start, stop = np.triu_indices(n)
        for first, last in zip(start.tolist(), stop.tolist(), strict=True):
            part = left if first == 0 else following
            if last - first + 1 <= min(part, following):
                continue  # so few windows never spend the metal
            windows = np.arange(first, last + 1)
            later = windows if first == 0 else windows[1:]
            rows.append(np.full(len(windows) + len(later), len(most)))
            columns.append(np.concatenate([turning * n + windows, renewing * n + later]))
            values.append(np.concatenate([np.ones(len(windows)), np.full(len(later), -float(following))]))
            most.append(float(part))
    if not most:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0), np.empty(0)
    return np.concatenate(rows), np.concatenate(columns), np.concatenate(values), np.array(most)


@dataclass(frozen=True)
class Pairs:
    """Profile and metal of tires, renewed by a turning or a new tire, m pairs that nothing else touches.

    Attributes
    ----------
    profile, metal : shape (m,). Their units.
    turning, renewing : shape (m,). Their jobs.
    left, following : shape (m,). Turnings of the part in service, and of a new one.
    """

    profile: Ints
    metal: Ints
    turning: Ints
    renewing: Ints
    left: Ints
    following: Ints


def pairs_of(problem: Problem) -> Pairs:
    """The pairs of a problem: the turning renews one unit, the new part that one and another of its own."""
    found = []
    for turning, renewing, left, following in problem.turnings:
        by_turning = problem.covers[problem.covers[:, 0] == turning, 1]
        by_renewing = problem.covers[problem.covers[:, 0] == renewing, 1]
        others = np.setdiff1d(by_renewing, by_turning)
        shares = np.isin(problem.covers[:, 1], by_renewing)
        alone = np.isin(problem.covers[shares, 0], [turning, renewing]).all()
        if len(by_turning) == 1 and len(others) == 1 and len(by_renewing) == 2 and alone:
            found.append((by_turning[0], others[0], turning, renewing, left, following))
    columns = np.array(found, dtype=np.int64).reshape(-1, 6).T
    return Pairs(*columns)


def cheapest_pairs(
    pairs: Pairs, profile: Floats, metal: Floats, turning: Floats, renewing: Floats, forced: Bools
) -> tuple[Floats, Bools, Bools]:
    """Cheapest renewals of profile and metal together, within the metal.

    Parameters
    ----------
    profile, metal : shape (m, W + 2, W + 2). Cost of each life of the two units, inf where there is none.
        [money]
    turning, renewing : shape (m, W). Cost of the job at each window, inf where it cannot be done. [money]
    forced : shape (2, m, W). Windows at which the turning, and the new part, must be done.

    Returns
    -------
    Cost, shape (m,), inf where there is none; turnings and renewals, shape (m, W).

    Notes
    -----
    Windows at which nothing can be done are passed over before the search begins.
    """
    possible = np.isfinite(turning).any(axis=0) | np.isfinite(renewing).any(axis=0) | forced.any(axis=(0, 1))
    windows = np.flatnonzero(possible)
    nodes = np.concatenate([[0], windows + 1, [profile.shape[1] - 1]])
    cost, turned, renewed = _cheapest(
        pairs,
        profile[:, nodes[:, None], nodes],
        metal[:, nodes[:, None], nodes],
        turning[:, windows],
        renewing[:, windows],
        forced[:, :, windows],
    )
    out = np.zeros((2, *turning.shape), bool)
    out[0][:, windows], out[1][:, windows] = turned, renewed
    return cost, out[0], out[1]


def _cheapest(
    pairs: Pairs, profile: Floats, metal: Floats, turning: Floats, renewing: Floats, forced: Bools
) -> tuple[Floats, Bools, Bools]:
    """As :func:`cheapest_pairs`. States: the window of the last work on the profile, that of the last new
    part, turnings since then."""
    m, nodes = len(pairs.profile), profile.shape[1]
    most = int(min(max(pairs.left.max(initial=0), pairs.following.max(initial=0)), nodes - 2))
    best = np.full((m, nodes, nodes, most + 1), np.inf)  # pair, last work, last new part, turnings since
    best[:, 0, 0, 0] = 0.0
    came_from = np.zeros((m, nodes, nodes, most + 1), dtype=np.int64)  # the work before a turning
    renewed_from = np.zeros((m, nodes, 3), dtype=np.int64)  # the state before a new part
    able = np.where(np.arange(nodes)[None, :] == 0, pairs.left[:, None], pairs.following[:, None])
    within = np.arange(1, most + 1)[None, None, :] <= able[:, :, None]
    last = np.zeros(m, dtype=np.int64)  # the last window at which something is forced
    row = np.arange(m)
    for v in range(1, nodes - 1):
        since = np.where(np.arange(v)[None, :] >= last[:, None], profile[:, :v, v], np.inf)
        through = best[:, :v] + since[:, :, None, None]
        step, origin = through.min(axis=1), through.argmin(axis=1)  # m, last new part, turnings
        turned = np.where(within, step[:, :, :-1] + turning[:, v - 1, None, None], np.inf)
        turned = np.where(forced[1, :, v - 1, None, None], np.inf, turned)
        best[:, v, :, 1:], came_from[:, v, :, 1:] = turned, origin[:, :, :-1]
        anew = (step + metal[:, :, v, None]).reshape(m, -1)
        place = anew.argmin(axis=1)
        new_part, count = np.divmod(place, most + 1)
        cost = np.where(forced[0, :, v - 1], np.inf, anew[row, place] + renewing[:, v - 1])
        best[:, v, v, 0] = cost
        renewed_from[:, v] = np.stack([origin[row, new_part, count], new_part, count], axis=1)
        last = np.where(forced[:, :, v - 1].any(axis=0), v, last)
    ends = np.where(np.arange(nodes - 1)[None, :] >= last[:, None], profile[:, :-1, -1], np.inf)
    whole = (best[:, :-1] + ends[:, :, None, None] + metal[:, None, :, -1, None]).reshape(m, -1)
    place = whole.argmin(axis=1)
    return whole[row, place], *_traced(place, (nodes - 1, nodes, most + 1), came_from, renewed_from)


def _traced(place: Ints, shape: tuple[int, ...], came_from: Ints, renewed_from: Ints) -> tuple[Bools, Bools]:
    """Turnings and renewals on the way to each pair's last state."""
    turned, renewed = np.zeros((2, len(place), shape[0] - 1), bool)
    for pair, state in enumerate(zip(*np.unravel_index(place, shape), strict=True)):
        work, new_part, count = (int(part) for part in state)
        while work > 0:
            if work == new_part:
                renewed[pair, work - 1] = True
                work, new_part, count = (int(part) for part in renewed_from[pair, work])
            else:
                turned[pair, work - 1] = True
                work, count = int(came_from[pair, work, new_part, count]), count - 1
    return turned, renewed
