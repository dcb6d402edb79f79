"""What a railway's families have taught, in numbers that can be given away, and what others make of it.

A summary holds no reading and no mileage: of each family, what its readings say of the parameters of its
wear, in its own units, as centre and spread of logarithms. What the railway assumed or learned elsewhere
before it saw these readings is taken out again, so that two railways that learned from a third do not count
it twice.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.wear.priors import Priors
from models.wear.relative import Relative
from models.wear.shape_fits import Fit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Key = tuple[str, str, str]

PARAMETERS = ("gauge", "spread", "brownian", "start", "rate")
"""Logs of: gauge error [base unit], spread of the lives' rates over their mean [1], Brownian spread of the
wear at the end of a life [share of the allowance], spread of the wear when new [share of the allowance], mean
rate [base unit per mile]."""
LEAST_LIVES = 2
"""Lives with a reading that a family must have to be shared: the parameters of one life are that life's."""
LOGS = ("log_sigma", "log_spread", "log_brownian", "log_start")
LEAST_SHARE = 1e-3
"""Weight of a shape in a family below which its parameters are left out."""
VAGUE = 1e3
"""Standard deviation of a log that says nothing."""
LEAST_PRECISION = 0.25
"""Precision of the readings over that of what was known before from which they say something: below, the
quotient of two nearly equal normals has its centre anywhere."""
SAME_SHAPE = 0.7
"""How much another railway's weights of the shapes count beside one's own. Assumption, no source."""


@dataclass(frozen=True)
class Summary:
    """What the readings of f families say, and no more.

    Attributes
    ----------
    centre, sd : shape (5, f), as ``PARAMETERS``; sd is ``VAGUE`` where the readings say nothing.
    shape : shape (s, f). Weight of each shape of wear, summing to 1.
    lives, readings : shape (f,). How many it was learned from.
    """

    centre: Floats
    sd: Floats
    shape: Floats
    lives: Ints
    readings: Ints

    def take(self, families: Ints) -> "Summary":
        """Some of the families."""
        return Summary(
            self.centre[:, families],
            self.sd[:, families],
            self.shape[:, families],
            self.lives[families],
            self.readings[families],
        )


@dataclass(frozen=True)
class FromOthers:
    """What other railways say of f families, before their own readings.

    Attributes
    ----------
    centre, sd : shape (5, f), as ``PARAMETERS``, the difference between railways within sd; NaN where nothing
        is said.
    shape : shape (s, f). Weight of each shape; NaN where nothing is said.
    """

    centre: Floats
    sd: Floats
    shape: Floats

    def take(self, families: Ints) -> "FromOthers":
        """Some of the families."""
        return FromOthers(self.centre[:, families], self.sd[:, families], self.shape[:, families])


def summarise(fits: list[Fit], weight: Floats, rel: Relative, before: tuple[Floats, Floats]) -> Summary:
    """What the readings say of every family's parameters.

    Parameters
    ----------
    fits : each shape of wear as it was fitted to the families.
    weight : shape (s, f). Weight of the shapes.
    rel : the lives.
    before : centre and sd of the logs before the readings, shape (5, f): divided out, normal by normal.

    Notes
    -----
    A posterior N(m, s^2) from a prior N(m0, s0^2) is what a likelihood of precision 1/s^2 - 1/s0^2 about
    (m/s^2 - m0/s0^2) / that gives; where s is nearly s0 the readings say nothing. Within a node log sigma has
    a spread of about 1 / sqrt(2 (n - 2)).
    """
    read = np.isfinite(rel.w)
    readings = np.add.reduceat(read.sum(axis=1), rel.starts)
    lives = np.add.reduceat(read.any(axis=1).astype(np.int64), rel.starts)
    mean, square = np.zeros((5, len(readings))), np.zeros((5, len(readings)))
    share = np.where(weight > LEAST_SHARE, weight, 0.0)
    share = share / share.sum(axis=0)
    for fit, share_of_shape in zip(fits, share, strict=True):
        families = np.flatnonzero(share_of_shape)
        own = share_of_shape[families]
        logs, node_weight, of_rate = fit.node_logs(families, rel)
        mean[:, families] += own * (node_weight * logs).sum(axis=1)
        square[:, families] += own * (node_weight * logs**2).sum(axis=1)
        square[4, families] += own * (node_weight * of_rate).sum(axis=0)
    var = np.maximum(square - mean**2, 1e-6)
    var[0] += 0.5 / np.maximum(readings - 2, 1)
    known = 1.0 / var - 1.0 / before[1] ** 2
    informative = known > LEAST_PRECISION / before[1] ** 2
    safe = np.where(informative, known, 1.0)
    centre = np.where(informative, (mean / var - before[0] / before[1] ** 2) / safe, mean)
    return Summary(centre, np.where(informative, 1.0 / np.sqrt(safe), VAGUE), weight, lives, readings)


def before_readings(priors: Priors, rel: Relative) -> tuple[Floats, Floats]:
    """Centre and sd of the five logs before the readings, in the families' own units, shape (5, f)."""
    f = len(rel.starts)
    stated = np.isfinite(rel.gauge)
    centre, sd = np.zeros((5, f)), np.full((5, f), VAGUE)
    centre[:4], sd[:4] = priors.centres().reshape(4, -1), priors.spreads().reshape(4, -1)
    centre[0] = np.where(stated, np.log(np.where(stated, rel.gauge, 1.0)), centre[0])
    sd[0] = np.where(stated, priors.log_sigma_sd_gauge, sd[0])
    if priors.log_rate is not None and priors.log_rate_sd is not None:
        known = np.isfinite(priors.log_rate)
        centre[4] = np.where(known, priors.log_rate, 0.0)
        sd[4] = np.where(known, priors.log_rate_sd, VAGUE)
    return centre + _units(rel), sd


def with_others(priors: Priors, from_others: FromOthers, rel: Relative) -> Priors:
    """The priors of each family: those of all, and what other railways say of it, weighed by precision.

    Parameters
    ----------
    priors : the same for all families, relative units.
    from_others : of the families of ``rel``, in their own units.
    """
    said = np.isfinite(from_others.centre)
    sd = np.where(said, from_others.sd, VAGUE)
    centre = np.where(said, from_others.centre - _units(rel), 0.0)
    base, base_sd = priors.centres().reshape(4, 1), priors.spreads().reshape(4, 1)
    precision = 1.0 / base_sd**2 + 1.0 / sd[:4] ** 2
    mean = (base / base_sd**2 + centre[:4] / sd[:4] ** 2) / precision
    logs: dict[str, Any] = dict(zip(LOGS, mean, strict=True))
    spreads: dict[str, Any] = {f"{name}_sd": s for name, s in zip(LOGS, precision**-0.5, strict=True)}
    log_rate = np.where(said[4], centre[4], np.nan)
    return replace(priors, **logs, **spreads, log_rate=log_rate, log_rate_sd=np.where(said[4], sd[4], np.nan))


def mixed_shapes(prior: Floats, from_others: FromOthers) -> Floats:
    """Weights of the shapes before the readings: the railway's own and what others say, shape (s, f)."""
    said = np.isfinite(from_others.shape).all(axis=0)
    shape = np.where(said, np.nan_to_num(from_others.shape), prior)
    return np.asarray((1.0 - SAME_SHAPE) * prior + SAME_SHAPE * shape)


def _units(rel: Relative) -> Floats:
    """What added to relative logs gives those in the families' own units, shape (5, f)."""
    nothing = np.zeros((3, len(rel.allowance)))
    return np.stack([np.log(rel.allowance), *nothing, np.log(rel.allowance / rel.life)])


def summary_frame(summary: Summary, parts: pd.DataFrame) -> pd.DataFrame:
    """A summary as a table, families with fewer than ``LEAST_LIVES`` lives left out.

    Parameters
    ----------
    parts : shape (f,) rows: component, quantity, base_unit of each family.

    Returns
    -------
    component, quantity, base_unit, lives, readings, of each of ``PARAMETERS`` the centre and NAME_sd, shapes
    (a list of weights).
    """
    out = parts.reset_index(drop=True).assign(lives=summary.lives, readings=summary.readings)
    for i, name in enumerate(PARAMETERS):
        out[name], out[f"{name}_sd"] = summary.centre[i], summary.sd[i]
    out["shapes"] = list(np.ascontiguousarray(summary.shape.T))
    return out[out["lives"] >= LEAST_LIVES].reset_index(drop=True)


def summary_of(frame: pd.DataFrame) -> tuple[Summary, list[Key]]:
    """The summary that :func:`summary_frame` laid out, and the name of each of its families."""
    centre = frame[list(PARAMETERS)].to_numpy(float).T
    sd = frame[[f"{name}_sd" for name in PARAMETERS]].to_numpy(float).T
    shape = np.stack(list(frame["shapes"]), axis=1) if len(frame) else np.empty((0, 0))
    lives, readings = (frame[name].to_numpy(np.int64) for name in ("lives", "readings"))
    return Summary(centre, sd, shape, lives, readings), part_keys(frame)


def part_keys(parts: pd.DataFrame) -> list[Key]:
    """Names by which railways know the same family: component, quantity and unit, in lower case."""
    columns = [parts[c].astype(str).str.strip().str.lower() for c in ("component", "quantity", "base_unit")]
    return list(zip(*columns, strict=True))
