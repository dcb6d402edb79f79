"""The steps in which values were written down, read from the values themselves.

Whoever reads a rule in thirty-seconds writes thirty-seconds, whatever error is stated for the rule. Practice:
the steps that rules, verniers, feelers and micrometers are made with (``steps_written.csv``); no source.
"""

import csv
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_VALUES = 5
"""Distinct values that must all lie on the steps: by chance they would once in 10^5. [1]"""
OFF_STEP = 0.05
"""How far off a step a value may lie, in steps; and at most ``ROUNDED``."""
ROUNDED = 0.00055
"""A thirty-second is written 0.031: half of the third decimal. [in]"""
MM_PER_INCH = 25.4
OF_A_STEP = 1.0 / np.sqrt(12.0)
"""Standard deviation of what rounding to a step takes or gives, in steps: a uniform law. [1]"""


@cache
def known_steps() -> tuple[tuple[float, float], ...]:
    """Steps and how far off a value on them may lie, the coarsest first. [mm]"""
    text = (files("models.gauges") / "steps_written.csv").read_text(encoding="utf-8")
    scale = {"in": MM_PER_INCH, "mm": 1.0}
    rows = list(csv.DictReader(text.splitlines()))
    steps = [(float(row["step"]) * scale[row["unit"]], scale[row["unit"]]) for row in rows]
    allowed = [(step, min(OFF_STEP * step, ROUNDED * unit)) for step, unit in steps]
    return tuple(sorted(allowed, reverse=True))


def steps_of(values: Floats, groups: Sequence[Ints]) -> Floats:
    """The coarsest known step on which all values written alike lie, for each value; 0 where none shows.

    Parameters
    ----------
    values : shape (m,). [mm], or a unit of its own, in which decimals are taken for steps just so.
    groups : each of shape (m,). Values written alike share a number: by one gauge for one kind of part, then
        wider and wider; where the first have too few values, the step on which all of the next lie is theirs.

    Returns
    -------
    Shape (m,). [unit of the values]
    """
    found = np.zeros(len(values))
    for group in groups:
        found = np.where(found > 0, found, _steps(values, group))
    return found


def _steps(values: Floats, group: Ints) -> Floats:
    """Step of the group of each value, shape (m,); 0 where there are too few distinct values."""
    number, of = np.unique(group, return_inverse=True)
    distinct, value = _distinct(of, values)
    enough = np.bincount(distinct, minlength=len(number)) >= LEAST_VALUES
    found = np.zeros(len(number))
    for step, allowed in known_steps():
        undecided = enough & (found == 0)
        if not undecided.any():
            break
        off = np.abs(value - np.round(value / step) * step) > allowed
        found[undecided & (np.bincount(distinct, off, minlength=len(number)) == 0)] = step
    return np.asarray(found[of])


def _distinct(group: Ints, values: Floats) -> tuple[Ints, Floats]:
    """Each value of a group once."""
    order = np.lexsort((values, group))
    group, values = group[order], values[order]
    new = np.ones(len(group), dtype=bool)
    new[1:] = (np.diff(group) != 0) | (np.diff(values) > 1e-9)
    return group[new], values[new]
