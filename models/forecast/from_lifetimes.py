"""Wear points that nobody measured, forecast from the miles between the renewals of such parts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.distribution import PROBABILITIES
from models.lifetimes.ahead import new_life, remaining
from models.lifetimes.on_record import Renewals, Spans, passages
from models.lives.table import LifeTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FEWEST_RENEWALS = 2
"""Renewals of such parts that must be on record, and among them one that tells a whole life."""
NO_LIFE = ", nor a part on record from new until it came off worn"
OF_READINGS = ("no reading of this kind of part yet", "no reading, and no renewal on record")
"""Reasons that a forecast without readings answers; any other stays worth a word."""


@dataclass(frozen=True)
class FromLifetimes:
    """Wear points forecast without readings, shape (f,).

    Attributes
    ----------
    point : row of the wear point.
    remaining, new_life : shape (f, 33). Quantiles at ``models.distribution.PROBABILITIES``: miles left, miles
        of the next part. [mi]
    life_miles : miles that the part has run, at least those on record. [mi]
    method, flags : in words.
    reason : shape (points,). Why a wear point cannot be forecast, these considered; empty where it can.
    """

    point: Ints
    remaining: Floats
    new_life: Floats
    life_miles: Floats
    method: list[str]
    flags: list[str]
    reason: NDArray[np.object_]

    def quantile(self, probability: float) -> Floats:
        """Remaining miles at one of the stored probabilities, shape (f,). [mi]"""
        return np.asarray(self.remaining[:, int(np.flatnonzero(probability == PROBABILITIES)[0])])


def from_lifetimes(table: LifeTable, renewals: Renewals | None) -> FromLifetimes:
    """Forecast the wear points that the wear model cannot.

    Parameters
    ----------
    table : lives of all wear points, and why one cannot be forecast.
    renewals : None: none are on record, or nothing is assumed of lives.
    """
    reason = table.reason.copy()
    said: list[_Said] = []
    asked = (reason != "") & np.isfinite(table.as_of_odometer)
    if renewals is not None and asked.any():
        spans, family = renewals.spans, table.scale.family
        of = family[spans.point]
        count = np.bincount(of, spans.ended, len(table.scale.family_name))
        enough = (count >= FEWEST_RENEWALS) & (np.bincount(of, passages(spans), len(count)) > 0)
        reason[asked & (count > 0)[family] & np.isin(reason, OF_READINGS)] += NO_LIFE
        for number in np.unique(family[asked & enough[family]]):
            said += _family_said(renewals, of == number, asked, table.reason)
    for one in said:
        reason[one.point] = ""
    return FromLifetimes(
        point=np.array([one.point for one in said], dtype=np.int64),
        remaining=np.array([one.remaining for one in said]).reshape(-1, len(PROBABILITIES)),
        new_life=np.array([one.new_life for one in said]).reshape(-1, len(PROBABILITIES)),
        life_miles=np.array([one.ran for one in said], dtype=float),
        method=[one.method for one in said],
        flags=[one.flags for one in said],
        reason=reason,
    )


@dataclass(frozen=True)
class _Said:
    """Of one wear point, as :class:`FromLifetimes` has it of many."""

    point: int
    remaining: Floats
    new_life: Floats
    ran: float
    method: str
    flags: str


def _family_said(renewals: Renewals, rows: Bools, asked: Bools, reason: NDArray[np.object_]) -> list[_Said]:
    """Forecasts of those wear points of a family that are asked for, from all its stretches, ``rows``."""
    found, spans = renewals.law_of(rows), renewals.spans.take(rows)
    fresh = new_life(found, PROBABILITIES)
    whole = passages(spans)
    method = f"miles between renewals, {_counted(int(whole.sum()), 'life', 'lives')}"
    longest = spans.ran[whole].max()
    left: dict[tuple[float, bool], Floats] = {}  # parts renewed on one day have the same miles left
    said = []
    for i in np.flatnonzero(~spans.ended & asked[spans.point]):
        point, ran, from_new = int(spans.point[i]), float(spans.ran[i]), bool(spans.from_new[i])
        if (ran, from_new) not in left:
            left[ran, from_new] = remaining(found, ran, from_new=from_new, probabilities=PROBABILITIES)
        flags = _flags(spans, reason[point], from_new=from_new, further=ran > longest)
        said.append(_Said(point, left[ran, from_new], fresh, ran, method, flags))
    return said


def _flags(spans: Spans, reason: str, *, from_new: bool, further: bool) -> str:
    """What a reader must know of such a forecast."""
    whole = passages(spans)
    lives = _counted(int(whole.sum()), "life", "lives")
    parts = [f"not measured: forecast from the miles between renewals ({lives} of such parts)"]
    untold = int((whole & np.isnan(spans.worn)).sum())
    if untold:
        parts.append(f"why they came off is not told of {untold}: taken as worn")
    if not from_new:
        parts.append("beginning of this life not on record")
    if further:
        parts.append("has run further than any such part that came off")
    if reason not in OF_READINGS:
        parts.append(reason)
    return "; ".join(parts)


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"
