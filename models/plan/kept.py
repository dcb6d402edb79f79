"""A plan kept before, as a choice of today's jobs and windows; whether it stands is for the search to say."""

import numpy as np
import pandas as pd

from models.plan.problem import Bools


def jobs_approved(
    approved: pd.DataFrame | None, vehicle: str, jobs: pd.DataFrame, windows: pd.DataFrame
) -> Bools:
    """Jobs by window as the approved plan has them, as far as today's jobs and windows know them.

    Parameters are those of :func:`jobs_kept`; shape (jobs, windows), all false without an approved plan.
    """
    out = np.zeros((len(jobs), len(windows)), bool)
    if approved is None or windows["closes"].duplicated().any() or jobs["job"].duplicated().any():
        return out
    lines = approved[approved["vehicle"] == vehicle]
    row = pd.Index(jobs["job"]).get_indexer(pd.Index(lines["job"]))
    column = pd.Index(windows["closes"]).get_indexer(pd.Index(lines["closes"]))
    known = (row >= 0) & (column >= 0)
    out[row[known], column[known]] = True
    return out


def jobs_kept(
    kept: pd.DataFrame | None, vehicle: str, jobs: pd.DataFrame, windows: pd.DataFrame
) -> Bools | None:
    """Jobs by window as the kept plan has them.

    Parameters
    ----------
    kept : lines of the kept plan: vehicle, job, closes (last day of its window). None for none.
    vehicle : whose lines count.
    jobs : jobs of today's programme: job, each once.
    windows : today's windows in order: opens, closes.

    Returns
    -------
    Shape (jobs, windows); None without a plan, and where a line fits no job or no window of today. Windows
    are known by their last day: the first one opens later with every day that it is worked in. Lines of
    windows that are past are left out.
    """
    if kept is None:
        return None
    lines = kept[kept["vehicle"] == vehicle]
    past = windows["closes"].min() if len(windows) else pd.Timestamp.max
    lines = lines[lines["closes"] >= past]
    if jobs["job"].duplicated().any() or windows["closes"].duplicated().any():
        return None
    row = pd.Index(jobs["job"]).get_indexer(pd.Index(lines["job"]))
    column = pd.Index(windows["closes"]).get_indexer(pd.Index(lines["closes"]))
    if (row < 0).any() or (column < 0).any():
        return None
    out = np.zeros((len(jobs), len(windows)), bool)
    out[row, column] = True
    return out
