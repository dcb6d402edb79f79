"""The general-purpose forecasters that the wear model must beat, behind the same interface."""

from models.rivals.gaussian_process import GaussianProcess
from models.rivals.last_two import LastTwoReadings
from models.rivals.least_squares import LeastSquares
from models.rivals.mixed import MixedModel
from models.wear.estimator import Forecaster

STRAIGHT_LINE = "straight line"
"""Name of the rival that every family is held against."""


def all_rivals(most_families: int = 1000, most_lives: int = 500) -> dict[str, Forecaster]:
    """Every rival by the name that people read.

    Parameters
    ----------
    most_families, most_lives : what the mixed model (0.1 s a family) and the Gaussian process (20 ms a life)
        attempt of a larger fleet, evenly spaced.

    Examples
    --------
    >>> from models.rivals import all_rivals
    >>> list(all_rivals())
    ['last two readings', 'straight line', 'mixed model', 'Gaussian process']
    """
    return {
        "last two readings": LastTwoReadings(),
        STRAIGHT_LINE: LeastSquares(),
        "mixed model": MixedModel(most_families=most_families),
        "Gaussian process": GaussianProcess(most_lives=most_lives),
    }
