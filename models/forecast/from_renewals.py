"""What renewals say of families that were hardly measured: how fast parts wear and how much lives differ.

The wear model takes a renewal that nobody measured as a passage of the limit, but not more of them than a
family has readings: they would teach it that the gauge is as coarse as they are. Where they are more, what
they say of the law of life is said to the model before its readings, as another railway's summary is.
"""

import numpy as np
from numpy.typing import NDArray

from models.lifetimes.on_record import Renewals, Spans, passages
from models.lifetimes.posterior import Posterior
from models.lives.table import LifeTable
from models.wear.shapes import SHAPES
from models.wear.shared_prior import PARAMETERS, FromOthers

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SPREAD, RATE = PARAMETERS.index("spread"), PARAMETERS.index("rate")


def families_of_renewals(table: LifeTable, spans: Spans) -> Ints:
    """Families with readings that are fewer than the passages among their renewals."""
    of, families = table.scale.family, len(table.scale.family_name)
    readings = np.bincount(table.lives.family, table.lives.count, families)
    passed = np.bincount(of[spans.point], passages(spans), families)
    return np.flatnonzero((readings > 0) & (passed > readings))


def with_renewals(
    table: LifeTable, renewals: Renewals | None, from_others: FromOthers | None
) -> FromOthers | None:
    """What is said of every family beforehand: by other railways, and by renewals of those hardly measured.

    Parameters
    ----------
    table : lives of all wear points.
    renewals : None: none are on record, or nothing is assumed of lives.
    from_others : what other railways say of the families of the table; None: nothing.
    """
    chosen = np.empty(0, dtype=np.int64) if renewals is None else families_of_renewals(table, renewals.spans)
    if renewals is None or not len(chosen):
        return from_others
    spans = renewals.spans
    families = len(table.scale.family_name)
    said = from_others or _nothing(families)
    centre, sd = said.centre.copy(), said.sd.copy()
    of = table.scale.family[spans.point]
    for number in chosen:
        found = renewals.law_of((of == number) & spans.ended)
        allowance = np.log(table.lives.limit[table.lives.family == number]).mean()
        for row, (value, error) in ((RATE, _rate(found, allowance)), (SPREAD, _spread(found))):
            before = 1.0 / sd[row, number] ** 2 if np.isfinite(sd[row, number]) else 0.0
            known = before + 1.0 / error**2
            earlier = before * centre[row, number] if before else 0.0
            centre[row, number] = (earlier + value / error**2) / known
            sd[row, number] = known**-0.5
    return FromOthers(centre, sd, said.shape)


def _nothing(families: int) -> FromOthers:
    """Nothing said of any family."""
    none = np.full((len(PARAMETERS), families), np.nan)
    return FromOthers(none, none, np.full((len(SHAPES), families), np.nan))


def _rate(found: Posterior, log_allowance: float) -> tuple[float, float]:
    """Log of the mean rate, at which the allowance lasts for the median life, and its standard deviation."""
    middle, error = _moments(found, found.log_median)
    return log_allowance - middle, error


def _spread(found: Posterior) -> tuple[float, float]:
    """Log of the spread of the rates over their mean, taken to be that of the log lives."""
    return _moments(found, np.log(found.spread))


def _moments(found: Posterior, values: Floats) -> tuple[float, float]:
    mean = float(found.weight @ values)
    return mean, float(np.sqrt(found.weight @ (values - mean) ** 2 + 1e-8))
