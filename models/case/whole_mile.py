"""What a mile costs in all: the parts that it uses up, and what making them good brings along.

A part is not made good by its own price alone. The engine is opened for it, and what is then laid open shows
damage that nobody planned. Both are taken as they go with the work: in the windows of the plan, or in the one
window of the case where no plan holds, so much opening and hidden damage for each unit of planned work.
"""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case.cost import scope_cost
from models.case.hidden import BEYOND_TRUING, hidden_work, parts_laid_open
from models.case.mile import RANGE, MileCost
from models.futures.simulation import Simulation

Floats = NDArray[np.float64]

PARTS, OPENING, HIDDEN, WHOLE = "parts that wear", "opening the engine", "hidden damage", "all"
"""Rows of the frame, in order."""


def cost_in_all(
    simulation: Simulation,
    mile: MileCost,
    jobs: pd.DataFrame,
    openings: pd.DataFrame,
    findings: pd.DataFrame,
    scopes: Sequence[pd.DataFrame],
    day: pd.Timestamp,
    *,
    beyond_truing: float = BEYOND_TRUING,
) -> pd.DataFrame:
    """Cost of a mile: parts, opening, hidden damage, and all of it.

    Parameters
    ----------
    mile : what a mile uses up of the parts, in the futures of the simulation.
    jobs, openings : of the vehicle, as ``plan.jobs`` gives them.
    findings : earlier tear-downs of the vehicle.
    scopes : jobs of each window that is looked at.
    day : day at whose prices all of it is. beyond_truing : as ``case.hidden.hidden_work`` takes it. [1]

    Returns
    -------
    what (``PARTS``, ``OPENING``, ``HIDDEN``, ``WHOLE``), p10, mean, p90 [money/mi]; the means of the first
    three add up to that of the whole. Nothing is added where no scope has a price.
    """
    sums = {"planned": np.zeros(simulation.draws), "opening": np.zeros(simulation.draws)}
    sums["hidden"] = np.zeros(simulation.draws)
    for scope in scopes:
        laid_open = parts_laid_open(simulation.components, jobs, scope, findings)
        hidden = hidden_work(simulation, laid_open, day, beyond_truing)
        cost = scope_cost(simulation, scope, openings, day, hidden)
        for kind in sums:
            sums[kind] = sums[kind] + cost.draws[:, (cost.lines["kind"] == kind).to_numpy()].sum(axis=1)
    parts, mean = mile.per_mile.sum(axis=1), float(mile.mean.sum())
    rows = [(PARTS, parts, mean)]
    for what, kind in ((OPENING, "opening"), (HIDDEN, "hidden")):
        rows.append((what, *_beside(parts, mean, sums[kind], sums["planned"])))
    rows.append((WHOLE, np.sum([draws for _, draws, _ in rows], axis=0), sum(mean for *_, mean in rows)))
    return pd.DataFrame([_row(*row) for row in rows])


def _beside(parts: Floats, mean: float, beside: Floats, planned: Floats) -> tuple[Floats, float]:
    """What goes with the parts of a mile, as it goes with planned work: draws, and its mean."""
    if not planned.mean() > 0:
        return np.zeros(len(parts)), 0.0
    own = mean * float(beside.mean() / planned.mean())
    draws = parts * np.divide(beside, planned, out=np.zeros_like(beside), where=planned > 0)
    drawn = float(draws.mean())
    # The draws are finite: their mean is brought to that of the sums, so that the rows add up.
    return (draws * (own / drawn) if drawn > 0 else draws), own


def _row(what: str, draws: Floats, mean: float) -> dict[str, object]:
    low, _, high = np.quantile(draws, RANGE)
    return {"what": what, "p10": min(float(low), mean), "mean": mean, "p90": max(float(high), mean)}
