"""Which gauge took each reading of each life, and what is on record of the gauges."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.gauges.read_twice import sd_used
from models.gauges.steps_written import OF_A_STEP, steps_of
from models.lives.table import LifeTable, Lives
from models.wear.relative import USUAL_GAUGE

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAME = 1e-9
"""Difference of two readings, as a share of the allowance, up to which they are the same."""


@dataclass(frozen=True)
class GaugesRead:
    """Gauges by the quantity that they measured: one gauge and quantity is one entry, shape (g,).

    Attributes
    ----------
    code : shape (n, k), as the readings of the lives. Entry of the gauge; -1: no reading, or one of the shop.
    name, quantity : shape (g,). Name in the readings, empty where none was written; number of the quantity.
    accuracy : shape (g,). Stated; NaN where it is not. [base unit]
    repeatability, reads_high : shape (n, k). Stated for the gauge on the day of the reading, NaN and 0 where
        nothing is. [base unit]
    repeats, pairs : shape (n, k). How well the gauge repeated where it was read twice, and how often that
        was; NaN and 0 where that is not known. [base unit], [1]
    step : shape (n, k). Step in which the values of its gauge and family were written, 0 where none shows.
        [base unit]
    """

    code: Ints
    name: NDArray[np.object_]
    quantity: Ints
    accuracy: Floats
    repeatability: Floats
    reads_high: Floats
    repeats: Floats
    pairs: Floats
    step: Floats


def gauges_read(
    table: LifeTable,
    readings: pd.DataFrame,
    gauges: pd.DataFrame | None = None,
    repeats: pd.DataFrame | None = None,
) -> GaugesRead:
    """Look up the gauge of every reading of the lives.

    Parameters
    ----------
    readings : table in normalised form; without a column ``gauge`` nobody wrote one.
    gauges : table in normalised form, None or empty where none is described.
    repeats : of :func:`models.gauges.read_twice.repeatability`; None where nothing was read twice.
    """
    source = table.source
    known = (source >= 0) & np.isfinite(table.lives.wear)
    row = source[known]
    names = readings["gauge"].fillna("") if "gauge" in readings else pd.Series("", readings.index)
    number, labels = pd.factorize(names.astype("str").str.strip())
    life = np.nonzero(known)[0]
    family = table.lives.family[life]
    quantity = table.scale.quantity[family]
    pair = quantity * (len(labels) + 1) + number[row]
    entries, code_of = np.unique(pair, return_inverse=True)
    code = np.full(source.shape, -1, dtype=np.int64)
    code[known] = code_of
    name = np.asarray(labels, dtype=object)[entries % (len(labels) + 1)]
    values = readings["value"].to_numpy(float)[row]
    written = family * (len(labels) + 1) + number[row]
    step = np.zeros(source.shape)
    step[known] = steps_of(values, (written, pair, quantity))
    stated = _stated(names.to_numpy()[row], readings["date"].to_numpy()[row], gauges)
    repeatability, reads_high = np.full(source.shape, np.nan), np.zeros(source.shape)
    repeatability[known], reads_high[known] = stated["repeatability"], np.nan_to_num(stated["reads_high"])
    twice = {name: np.full(source.shape, fill) for name, fill in (("sd", np.nan), ("pairs", 0.0))}
    if repeats is not None and len(repeats):
        by_gauge = repeats.set_index("gauge").reindex(np.asarray(labels, dtype=object))
        for column, values in twice.items():
            told = by_gauge[column].to_numpy(float)[number[row]]
            values[known] = np.where(np.isnan(told), values[known], told)
    accuracy = np.full(len(entries), np.nan)
    np.fmax.at(accuracy, code_of, stated["accuracy"])
    quantities = entries // (len(labels) + 1)
    own = (accuracy, repeatability, reads_high, twice["sd"], twice["pairs"], step)
    return GaugesRead(code, name, quantities, *own)


def _stated(name: NDArray, day: NDArray, gauges: pd.DataFrame | None) -> dict[str, Floats]:
    """Figures of the gauge of each reading that held on its day."""
    out = {column: np.full(len(name), np.nan) for column in ("repeatability", "reads_high", "accuracy")}
    if gauges is None or gauges.empty:
        return out
    since = pd.to_datetime(gauges["since"]).fillna(pd.Timestamp.min).to_numpy()
    for i in np.argsort(since, kind="stable"):
        row = gauges.iloc[i]
        holds = (name == str(row["gauge"]).strip()) & (day >= since[i])
        for column, values in out.items():
            values[holds] = row[column]
    return out


def with_gauges(table: LifeTable, read: GaugesRead) -> Lives:
    """Lives with the error that each reading's gauge and the steps of its values leave; known errors off.

    This is where the deviation of a reading is decided. What is stated of the gauge, else of the wear point,
    holds as far as readings taken twice with the gauge do not tell otherwise (``read_twice.sd_used``). A
    reading is never surer than its steps: rounding alone is off by a step over root 12. Where no error is
    stated the readings themselves tell it, rounding and all, unless the steps are coarser than usual gauges,
    or the gauge repeats worse than they do.
    """
    lives = table.lives
    stated = np.where(np.isfinite(read.repeatability), read.repeatability, lives.gauge_sd)
    rounding = read.step * OF_A_STEP
    usual = np.broadcast_to(USUAL_GAUGE * lives.limit[:, None], stated.shape)
    told = stated > 0
    assumed = np.where(told, stated, usual)
    used = sd_used(assumed, np.fmax(read.repeats, rounding), read.pairs)
    stated = np.where(told | (used > usual), used, stated)
    sd = np.where(stated < read.step, np.hypot(stated, rounding), stated)
    coarse = ~np.isfinite(stated) & (rounding > usual)
    sd = np.where(coarse, np.hypot(usual, rounding), sd)
    together = usual * np.sqrt(np.maximum(lives.count, 1))[:, None]  # so many of the same say as much as one
    sd = np.where(~np.isfinite(sd) & _unmoved(lives)[:, None], together, sd)
    wear = lives.wear - table.scale.sign[table.point][:, None] * read.reads_high
    return replace(lives, gauge_sd=sd, wear=wear)


def _unmoved(lives: Lives) -> NDArray[np.bool_]:
    """Lives, shape (n,), of families in which lives have several readings, and none has two that differ."""
    read = np.isfinite(lives.wear)
    low = np.where(read, lives.wear, np.inf).min(axis=1, initial=np.inf)
    high = np.where(read, lives.wear, -np.inf).max(axis=1, initial=-np.inf)
    several = read.sum(axis=1) > 1
    same = several & (high - low <= SAME * lives.limit)
    families = int(lives.family.max(initial=-1)) + 1
    number, still = (np.bincount(lives.family, x, families) for x in (several, same))
    return np.asarray(((number > 0) & (still == number))[lives.family])
