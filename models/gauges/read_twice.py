"""How well a gauge repeats, from readings of one true value by people who did not see each other's, and with
which deviation its readings then count."""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from models.wear.priors import Priors

Floats = NDArray[np.float64]

FEWEST = 5
"""Pairs from which a figure is told: from five the standard error of a deviation is a third of it (from
memory: 1 / sqrt(2 n) for n pairs of normal errors)."""
ENOUGH = 30
"""Pairs from which a gauge may count as surer than stated: its deviation is then known to 13 %. Choice."""
CAREFUL = 1.6448536269514722
"""Normal quantile of 0.95: a figure below the stated one counts only as far as the pairs exclude more. [1]"""


def repeatability(readings: pd.DataFrame) -> pd.DataFrame:
    """Standard deviation of one reading of a gauge, from pairs read blind.

    Parameters
    ----------
    readings : point, date, value [base unit], odometer_read [mi], gauge, observer, found_or_left, changes
        (what had been done to the part by then: a count that only grows), on_day_of_work; in the order in
        which they came in. Each was typed before anything was shown (``Store.read_blind``).

    Returns
    -------
    gauge, pairs (degrees of freedom), sd [base unit]; gauges with fewer than ``FEWEST`` pairs are not told.

    Notes
    -----
    Readings of one point have one true value on one day, and on several days at one figure of the odometer,
    with nothing done to the part between: an engine read before and after it stood. So their spread about
    their mean is the gauge's and the hand's: sd = sqrt(sum (x - mean)^2 / sum (n - 1)). Of one person and day
    the first counts alone: a second look knows the first. A reading as left is of another surface than one as
    found; on a day of work one that does not say which is of neither. Pairs that are too far apart wait to be
    looked at and are not among the readings: the figure is of pairs that stood, a little below the truth
    where that is worse than what is stated.
    """
    stage = readings["found_or_left"].fillna("")
    told = readings[~readings["on_day_of_work"].astype(bool) | (stage != "")]
    told = told.drop_duplicates(["gauge", "point", "date", "found_or_left", "observer"])
    day = told["date"].astype("str")
    stands = told["odometer_read"].round().astype("str").where(told["odometer_read"].notna(), day)
    keys = ["gauge", "point", "found_or_left", "changes", "stands"]
    of_one = told.assign(stands=stands).groupby(keys)["value"].agg(["size", "var"])
    twice = of_one[of_one["size"] > 1].reset_index()
    twice["pairs"] = twice["size"] - 1
    twice["squares"] = twice["var"] * twice["pairs"]
    summed = twice.groupby("gauge", as_index=False)[["pairs", "squares"]].sum()
    enough = summed[summed["pairs"] >= FEWEST].reset_index(drop=True)
    sd = np.sqrt(enough["squares"] / enough["pairs"])
    return enough[["gauge", "pairs"]].assign(sd=sd)


def sd_used(stated: ArrayLike, sd: ArrayLike, pairs: ArrayLike) -> Floats:
    """Deviation with which a reading counts, by what is stated and what pairs say.

    Parameters
    ----------
    stated : > 0. sd : of the pairs, 0 or NaN where they tell nothing; same unit.
    pairs : how many there are; any shape that fits the others. [1]

    Returns
    -------
    Same unit and shape: the figure of the pairs drawn to the stated one where it is larger. Where it is
    smaller the stated one holds, and from ``ENOUGH`` pairs on the largest that they do not exclude with 95 %,
    if that is less: a thin sample makes no reading surer.

    Notes
    -----
    log sd of n pairs is about normal about the true one, with variance 1 / (2 n) (from memory: the delta
    method over a chi-square of n degrees of freedom); what is stated is as sure as the wear model takes it
    (``Priors.log_sigma_sd_gauge``). Both normal, the mean is weighed by their precisions.
    """
    shape = np.broadcast_shapes(np.shape(stated), np.shape(sd), np.shape(pairs))
    known, told, count = (np.broadcast_to(np.asarray(x, float), shape) for x in (stated, sd, pairs))
    says = (count >= FEWEST) & (told > 0)
    evidence = np.where(says, 2.0 * count, 0.0)
    prior = 1.0 / Priors().log_sigma_sd_gauge ** 2
    apart = np.log(np.where(says, told, known) / known) * evidence / (evidence + prior)
    drawn = known * np.exp(apart)
    careful = known * np.exp(apart + CAREFUL / np.sqrt(evidence + prior))
    surer = np.where(count >= ENOUGH, np.minimum(known, careful), known)
    return np.where(apart >= 0.0, drawn, surer)
