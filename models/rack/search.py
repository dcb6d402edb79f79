"""Which spares a plan fits, where and when: each at most once, over all engines and windows.

The plan without spares comes first. Each spare is tried at each place that it fits and in each window
(``models.rack.trial``). Of what is saved so, one place a spare and one spare a place are chosen for the
greatest sum. The engines that get some are planned anew with them, and keep them only where that plan is
cheaper and no less safe than the one without.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.optimize import linear_sum_assignment

from models.futures.simulation import quantile_matrix
from models.plan.engine import Chosen
from models.plan.jobs import Fitted, is_spare
from models.plan.joint import season_chances
from models.plan.milp import MOST_WHOLE
from models.plan.network import ROUNDING
from models.plan.planner import Again, PlanInputs
from models.plan.problem import Floats
from models.plan.rules import Rules
from models.rack.programme import programme_with
from models.rack.trial import Bench, turned_before

OFF = "what comes off goes to the rack with what is left in it, to be repaired or scrapped as it is found"

LEAST = 1.0
"""A spare that saves less stays on the rack. [money]"""


def rack_search(
    rack: pd.DataFrame, inputs: PlanInputs, rules: Rules
) -> Callable[[list[Chosen], Again], list[Chosen]]:
    """What ``models.plan.planner.make_plan`` takes as its rack.

    Parameters
    ----------
    rack : as ``models.rack.fits.where_spares_fit`` gives it; only what agrees is fitted.
    inputs, rules : of the plan.
    """

    def changed(chosen: list[Chosen], again: Again) -> list[Chosen]:
        given = _given_out([option for one in chosen for option in _options(rack, one, inputs, rules)])
        return [
            _with_spares(one, given.get(one.programme.vehicle, []), inputs, rules, again) for one in chosen
        ]

    return changed


class _Option(NamedTuple):
    """A spare at a place, in the windows where it saves most: by the price of a stopped season, each once."""

    vehicle: str
    fitted: Fitted
    windows: tuple[int, ...]


def _options(rack: pd.DataFrame, one: Chosen, inputs: PlanInputs, rules: Rules) -> list[_Option]:
    """Spares at places of an engine where they save money."""
    own = rack[(rack["vehicle"] == one.programme.vehicle) & rack["agrees"].astype(bool)]
    if own.empty:
        return []
    bench, found = Bench(one, inputs, rules), []
    for (part, place), rows in own.groupby(["part_no", "place"], sort=True):
        about = rows.iloc[0]
        begun = Fitted(
            part_no=str(part),
            component=str(about["component"]),
            position=str(place),
            points=tuple(rows["point"].astype(str)),
            depth=str(about["depth"]),
            window=0,
            left=_left(rows, one, inputs),
            miles_p05=float(about["miles_p05"]),
            miles_p50=float(about["miles_p50"]),
        )
        saved = bench.saved(begun)
        best = [int(np.argmax(by_window)) for by_window in saved if by_window.max() >= LEAST]
        if best:
            fitted = replace(begun, saves=float(saved.max()))
            found.append(_Option(one.programme.vehicle, fitted, tuple(dict.fromkeys(best))))
    return found


def _left(rows: pd.DataFrame, one: Chosen, inputs: PlanInputs) -> dict[str, Floats]:
    """Miles left in a spare by wear point; none for one that has run nothing.

    Tires that are turned last until their metal is gone: a spare's last no longer than the share of it that
    they have makes of a new tire's life.
    """
    points = one.programme.lives.points.set_index("point")
    known = inputs.distribution.set_index("point")["new_life"]
    turned = (
        points["role"].eq("metal") & points["turnings_left"].notna() if "turnings_left" in points else None
    )
    left = {}
    for point, miles, share in rows[["point", "left", "share"]].itertuples(index=False, name=None):
        if miles is None:
            continue
        left[str(point)] = miles
        if turned is not None and turned.get(point, default=False) and share == share:
            new = quantile_matrix(known.loc[[point]])[0]
            left[str(point)] = np.minimum(miles, share * new)
    return left


def _given_out(tried: Sequence[_Option]) -> dict[str, list[_Option]]:
    """By vehicle, what is fitted: a spare at one place, a place with one spare, for the greatest sum."""
    parts = sorted({option.fitted.part_no for option in tried})
    places = sorted({option.fitted.points for option in tried})
    at = {(parts.index(each.fitted.part_no), places.index(each.fitted.points)): each for each in tried}
    saved = np.zeros((len(parts), len(places)))
    for place, option in at.items():
        saved[place] = option.fitted.saves
    given: dict[str, list[_Option]] = {}
    for row, column in zip(*linear_sum_assignment(saved, maximize=True), strict=True):
        if saved[row, column] > 0:
            option = at[int(row), int(column)]
            given.setdefault(option.vehicle, []).append(option)
    return given


def _with_spares(
    one: Chosen, given: Sequence[_Option], inputs: PlanInputs, rules: Rules, again: Again
) -> Chosen:
    """The choice of an engine with spares where that is cheaper and no less safe, else as it was.

    Where all of them together are not worth it, what saves least is left on the rack. Of a large engine,
    whose search takes long, the first windows that are better are kept.
    """
    large = len(one.programme.net.problem.arcs.cost) > MOST_WHOLE
    by_saving = sorted(given, key=lambda option: (-option.fitted.saves, option.fitted.part_no))
    while by_saving:
        most = max(len(option.windows) for option in by_saving)
        sets = [
            [replace(each.fitted, window=each.windows[min(k, len(each.windows) - 1)]) for each in by_saving]
            for k in range(most)
        ]
        better: list[tuple[Chosen, list[Fitted]]] = []
        for fitted in sets:
            other = again(programme_with(one, fitted, inputs, rules))
            better += [(other, fitted)] if _better(one, other, rules) else []
            if better and large:
                break
        if better:
            return _told(one, *min(better, key=lambda pair: pair[0].solution.objective))
        by_saving = by_saving[:-1]
    return one


def _better(one: Chosen, other: Chosen, rules: Rules) -> bool:
    chance, before = (
        float(season_chances(each.programme.failures, each.solution.renewed)[1:].mean())
        for each in (other, one)
    )
    safe = rules.stop_risk is None or chance <= max(rules.stop_risk, before) + ROUNDING
    cheaper = other.solution.objective < one.solution.objective - ROUNDING * abs(one.solution.objective)
    sized = not any(turned_before(other, each.points)[each.window] for each in other.programme.fitted)
    return bool(safe and cheaper and sized)


def _told(one: Chosen, other: Chosen, fitted: Sequence[Fitted]) -> Chosen:
    """The choice with what its lines say of the spares; what the plan costs less is theirs together."""
    saved = one.solution.objective - other.solution.objective
    whole = sum(each.saves for each in fitted)
    told = tuple(replace(each, saves=saved * each.saves / whole) for each in fitted)
    jobs = other.programme.net.jobs
    words = {each.part_no: _words(one, other, each) for each in told}
    said = [
        words.get(str(part)) if fits else None
        for part, fits in zip(jobs["spare"], is_spare(jobs), strict=True)
    ]
    net = replace(other.programme.net, jobs=jobs.assign(told=pd.Series(said, jobs.index, dtype=object)))
    return other._replace(programme=replace(other.programme, net=net, fitted=told))


def _words(one: Chosen, other: Chosen, each: Fitted) -> str:
    """What the line of a spare says: instead of what it is fitted, what that saves, where the other goes."""
    before, after = one.programme.net.jobs, other.programme.net.jobs
    lines = []
    for row, job in enumerate(before["job"]):
        if not set(before["points"].iloc[row]) & set(each.points):
            continue
        now = other.solution.jobs[int(np.flatnonzero(after["job"] == job)[0])]
        for window in np.flatnonzero(one.solution.jobs[row] & ~now):
            about = before.iloc[row]
            what = f"{about['component']} {about['position']} {about['action']}".replace("  ", " ")
            lines.append((int(window), f"{what} in {one.programme.windows['label'].iloc[window]}"))
    named = [text for _, text in sorted(lines)[:2]]
    instead = f" instead of {' and '.join(named)}" if named else ""
    instead += f" and {len(lines) - 2} more" if len(lines) > 2 else ""
    return (
        f"{each.part_no} is fitted from the rack{instead}, about {each.saves:,.0f} cheaper over the years"
        f" planned than without it; {OFF}"
    )
