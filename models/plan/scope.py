"""A chosen plan as frames: windows, lines of their scope with their reasons, wear points, what comes too
late."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from models.plan.chances import Lives
from models.plan.clocks import ClockLives
from models.plan.jobs import DEPTHS
from models.plan.moves import MOVE_COLUMNS
from models.plan.network import ROUNDING, Network, running_lost
from models.plan.problem import Floats, Ints, Solution
from models.plan.reasons import governing, kind_of, label_of, needs, reasons, what_ends
from models.plan.risk import scrap_of
from models.plan.rules import Rules

LINE_COLUMNS = [
    "vehicle", "window", "label", "opens", "closes", "job", "depth", "component", "action", "position",
    "parts", "points", "matched_set", "cost", "currency", "labor_hours", "days_out", "price_date", "quote",
    "price_assumed", "kind", "reason", "point", "chance_by_window", "chance_by_next", "accepted",
    "unused_miles", "unused_value", *MOVE_COLUMNS, "need",
]  # fmt: skip
"""Columns of the scope, one row a job.

kind : one of ``plan.reasons.KINDS``. point : the wear point that governs.
chance_by_window, chance_by_next : that it has reached its limit by this window, and by the one after. [1]
unused_miles : miles of life that the governing point is expected to throw away. [mi]
need : one of ``plan.reasons.NEEDS``.
unused_value : the share of the job's price that the wear points together throw away with them. [money]
"""
POINT_COLUMNS = [
    "vehicle", "window", "label", "job", "point", "component", "position", "quantity", "life", "miles",
    "chance_by_window", "chance_by_next", "accepted", "unused_miles", "is_late",
]  # fmt: skip
"""Columns of the wear points of the scope. life : 0 the part in service, 1 the next one, ... miles : expected
miles from as-of to the window. [mi]"""
WINDOW_COLUMNS = [
    "vehicle", "window", "label", "opens", "closes", "days", "source", "depth", "lines", "cost",
    "opening_cost", "labor_hours", "days_needed", "lost_days",
]  # fmt: skip
"""Columns of the windows, all of them.

depth : how deep it is opened, empty when it is not used. cost : of the lines, as listed. [money]
"""

VALUE_COLUMNS = [
    "unit",
    "last_value",
    "last_date",
    "p10",
    "p50",
    "p90",
    "new_value",
    "shop_limit",
    "condemning_limit",
]
"""Columns of dimensions, all in the wear point's own unit.

p10, p50, p90 : at the window, empty for a part not yet in service.
"""


@dataclass(frozen=True)
class Scope:
    """What a solution says, one vehicle: columns as above; late : vehicle, point, window (0: the end), label,
    chance, accepted: lives held over the accepted risk because no window comes sooner."""

    windows: pd.DataFrame
    lines: pd.DataFrame
    points: pd.DataFrame
    late: pd.DataFrame


def scope_of(
    network: Network,
    solution: Solution,
    lives: Lives,
    clocks: ClockLives,
    windows: pd.DataFrame,
    openings: pd.DataFrame,
    rules: Rules,
    moves: pd.DataFrame,
) -> Scope:
    """Windows, scope and reasons of one vehicle's solution; the arguments are what it was found from, and
    what its lines are worth (``plan.moves``)."""
    labels = windows["label"].tolist()
    ended = _ended(network, solution, lives, rules)
    ended["label"] = [label_of(node, labels) for node in ended["end"]]
    lines = _lines(network, solution, ended, clocks, windows, rules)
    for name in MOVE_COLUMNS:
        lines[name] = moves[name].to_numpy()
    lines["weighs_stops"] = rules.stop_risk is not None
    lines["need"] = needs(lines, rules.stop_risk)
    lines["vehicle"] = windows["vehicle"].iloc[0] if len(windows) else ""
    lines["label"] = [labels[w - 1] for w in lines["window"]]
    for day in ("opens", "closes"):
        lines[day] = windows[day].to_numpy()[lines["window"].to_numpy(int) - 1]
    lines["reason"] = [
        f"{reason}; {told}" if isinstance(told, str) else reason
        for reason, told in zip(reasons(lines, labels), lines["told"], strict=True)
    ]
    depth = lines["depth"].map(DEPTHS.index)
    lines = lines.assign(_depth=-depth).sort_values(
        ["window", "_depth", "component", "position", "action", "job"]
    )
    vehicle = str(lives.points["vehicle"].iloc[0]) if len(lives.points) else ""
    points = ended[ended["window"] > 0].assign(vehicle=vehicle)
    return Scope(
        windows=_windows(network, solution, lines, windows, openings),
        lines=lines[LINE_COLUMNS].reset_index(drop=True),
        points=points[POINT_COLUMNS].sort_values(["window", "job", "point"], ignore_index=True),
        late=_late(ended.assign(vehicle=vehicle), solution, network, clocks, labels),
    )


def _ended(network: Network, solution: Solution, lives: Lives, rules: Rules) -> pd.DataFrame:
    """Every life of every wear point up to the end of the horizon (window 0), with the job that ends it."""
    accepted = rules.risk_of(lives.points)
    last = lives.chance.shape[1] - 1
    job_of = {
        (int(unit), int(w) + 1): int(job)
        for job, unit in network.problem.covers
        for w in np.flatnonzero(solution.jobs[job])
    }
    rows = []
    for unit, members in enumerate(network.units):
        renewed = (np.flatnonzero(solution.renewed[unit]) + 1).tolist()
        for own, fitted in _apart(members, network):
            nodes = sorted({0, last, *renewed, *fitted})
            for life, (u, v) in enumerate(pairwise(nodes)):
                fine = np.nan_to_num(lives.chance[own, u], nan=0.0) <= accepted[own][:, None] + ROUNDING
                until = int(np.flatnonzero(fine.all(axis=0)).max())
                job = fitted.get(v, job_of.get((unit, v), -1))
                rows += [(p, life, u, v, job, until) for p in own]
    columns = np.array(rows, dtype=np.int64).reshape(-1, 6).T
    return _lives_ended(columns, network, lives, accepted, last)


def _apart(members: Ints, network: Network) -> list[tuple[Ints, dict[int, int]]]:
    """Wear points of a unit parted by the spares that come in: rows, job by the node at which one does."""
    groups: dict[tuple[tuple[int, int], ...], list[int]] = {}
    for row in members.tolist():
        spares = [(at.window + 1, at.job) for at in network.fitted if row in at.rows]
        groups.setdefault(tuple(spares), []).append(row)
    return [(np.array(rows, dtype=np.int64), dict(spares)) for spares, rows in groups.items()]


def _lives_ended(columns: Ints, network: Network, lives: Lives, accepted: Floats, last: int) -> pd.DataFrame:
    p, life, u, v, job, until = columns
    frame: pd.DataFrame = lives.points.iloc[p][["point", "component", "position", "quantity"]].reset_index(
        drop=True
    )
    return frame.assign(
        window=np.where(v == last, 0, v),
        end=v,
        life=life,
        job_row=job,
        job=np.append(network.jobs["job"].to_numpy(object), "")[job],
        waits_until=until,
        miles=lives.miles[v],
        chance_by_window=lives.chance[p, u, v],
        chance_by_next=lives.chance[p, u, np.minimum(v + 1, last)],
        accepted=accepted[p],
        unused_miles=lives.unused[p, u, v],
        unused_share=np.clip(lives.unused[p, u, v] / lives.new_life[p], 0.0, 1.0),
        is_late=lives.chance[p, u, v] > accepted[p] + ROUNDING,
        scrap_of=scrap_of(lives.points).to_numpy()[p],
    )


def _last_done(solution: Solution, job: int, window: int, windows: pd.DataFrame) -> pd.Timestamp | None:
    before = np.flatnonzero(solution.jobs[job, :window])
    return pd.Timestamp(windows["opens"].iloc[before[-1]]) if len(before) else None


def _lines(
    network: Network,
    solution: Solution,
    ended: pd.DataFrame,
    clocks: ClockLives,
    windows: pd.DataFrame,
    rules: Rules,
) -> pd.DataFrame:
    groups = dict(iter(ended[ended["window"] > 0].groupby(["job_row", "window"])))
    n_jobs = len(network.jobs) - len(clocks.frame)
    rows = []
    for j, w in zip(*np.nonzero(solution.jobs), strict=True):
        own = groups.get((int(j), int(w) + 1), ended.iloc[:0])
        job = network.jobs.iloc[j].to_dict()
        asked = w == 0 and bool(set(job["points"]) & set(rules.now))
        due = (
            pd.NaT
            if j < n_jobs
            else clocks.due(int(j) - n_jobs, _last_done(solution, int(j), int(w), windows))
        )
        rows.append(
            job
            | {"window": int(w) + 1, "depth": job["access"], "price_assumed": bool(job["assumed"])}
            | {"kind": kind_of(own, asked), "due": due}
            | _figures(own, 0.0 if job["spare"] else float(job["price"]))  # the rack keeps what comes off
        )
    names = list(dict.fromkeys([*LINE_COLUMNS, "what", "scrap_of", "waits_until", "due", "told"]))
    return pd.DataFrame(rows, columns=names)


def _figures(ended: pd.DataFrame, price: float) -> dict[str, object]:
    """What the lives that a job ends say of it, the governing one first."""
    if len(ended) == 0:
        return {"what": "", "point": "", "scrap_of": "", "waits_until": 0}
    first = ended.loc[governing(ended)]
    names = ["point", "scrap_of", "chance_by_window", "chance_by_next", "accepted", "unused_miles"]
    return {name: first[name] for name in names} | {
        "what": what_ends(first.to_dict()),
        "waits_until": int(ended["waits_until"].min()),
        "unused_value": price * float(ended["unused_share"].min()),
    }


def _windows(
    network: Network, solution: Solution, lines: pd.DataFrame, windows: pd.DataFrame, openings: pd.DataFrame
) -> pd.DataFrame:
    problem = network.problem
    number = windows["window"].to_numpy()
    opening = openings[["cost", "labor_hours"]].to_numpy(float)[solution.level - 1]
    opening[solution.level == 0] = 0.0
    sums = lines.groupby("window")[["cost", "labor_hours"]].sum().reindex(number, fill_value=0.0)
    out = windows.assign(
        depth=[DEPTHS[level - 1] if level else "" for level in solution.level],
        lines=lines.groupby("window").size().reindex(number, fill_value=0).to_numpy(),
        cost=sums["cost"].to_numpy(),
        opening_cost=opening[:, 0],
        labor_hours=sums["labor_hours"].to_numpy() + opening[:, 1],
        days_needed=problem.days_of(solution.jobs, solution.level),
        lost_days=running_days_lost(problem.days_of(solution.jobs, solution.level), windows),
    )
    return out[WINDOW_COLUMNS].reset_index(drop=True)


def running_days_lost(days: Floats, windows: pd.DataFrame) -> Floats:
    """Days that would have been run and are not, by window. [d]"""
    whole, shares = running_lost(windows)
    beyond = np.stack([windows["days"].to_numpy(float), whole])
    return np.asarray((np.maximum(days - beyond, 0.0) * shares).sum(axis=0))


def _late(
    ended: pd.DataFrame, solution: Solution, network: Network, clocks: ClockLives, labels: list[str]
) -> pd.DataFrame:
    late = ended[ended["is_late"]]
    frame = pd.DataFrame(
        {
            "vehicle": late["vehicle"],
            "point": late["point"],
            "window": late["window"],
            "label": late["label"],
            "chance": late["chance_by_window"],
            "accepted": late["accepted"],
        }
    )
    rows = []
    for unit in np.flatnonzero(network.clock_of_unit >= 0):
        clock = network.clock_of_unit[unit]
        nodes = [0, *(np.flatnonzero(solution.renewed[unit]) + 1).tolist(), len(labels) + 1]
        for u, v in pairwise(nodes):
            if not clocks.allowed[clock, u, v]:
                title = f"inspection: {clocks.frame['title'].iloc[clock]}"
                window = v if v <= len(labels) else 0
                rows.append((ended["vehicle"].iloc[0], title, window, label_of(v, labels), 1.0, 0.0))
    return pd.concat([frame, pd.DataFrame(rows, columns=frame.columns)], ignore_index=True) if rows else frame


def with_values(
    points: pd.DataFrame, path: pd.DataFrame, forecast: pd.DataFrame, wear_points: pd.DataFrame
) -> pd.DataFrame:
    """Wear points of a scope with their dimensions.

    Parameters
    ----------
    points : of a plan, columns ``plan.scope.POINT_COLUMNS``.
    path : frame of the forecast run: point, odometer, p10, p50, p90, kind.
    forecast : frame of the run: point, unit, as_of_odometer, last_value, last_date, condemning_limit.
    wear_points : of the store: point, new_value, shop_limit [base], per_base.

    Returns
    -------
    The same rows with ``VALUE_COLUMNS``.
    """
    last = forecast.drop_duplicates("point").set_index("point")
    limits = wear_points.drop_duplicates("point").set_index("point")
    out = points.copy()
    for name in ("unit", "last_value", "last_date", "condemning_limit"):
        out[name] = out["point"].map(last[name])
    for name in ("new_value", "shop_limit"):
        out[name] = out["point"].map(limits[name] * limits["per_base"])
    odometer = out["point"].map(last["as_of_odometer"]).to_numpy(float) + out["miles"].to_numpy(float)
    ahead = path.sort_values(["point", "odometer"])
    by_point = {str(name): steps for name, steps in ahead.groupby("point")}
    values = np.full((len(out), 3), np.nan)
    first = (out["life"] == 0).to_numpy()
    for name in out.loc[first, "point"].unique():
        index = np.flatnonzero(first & (out["point"] == name).to_numpy())
        if str(name) in by_point:
            values[index] = _path_at(by_point[str(name)], odometer[index])
    out[["p10", "p50", "p90"]] = values
    return out


def _path_at(path: pd.DataFrame, odometer: Floats) -> Floats:
    """Quantiles at odometers, straight between steps; held at the last step beyond it."""
    grid = path["odometer"].to_numpy(float)
    return np.stack(
        [np.interp(odometer, grid, path[name].to_numpy(float)) for name in ("p10", "p50", "p90")], axis=1
    )
