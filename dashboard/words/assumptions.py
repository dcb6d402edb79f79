"""What a case assumes, in words."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from dashboard.words.numbers import Numbers
from models.frequency import times_in

CHANGES_NOTHING = {"usage": 1.0, "fund_share": 1.0}
"""Values that change nothing, and so need not be printed; 0 for the others."""


def assumptions_in_words(
    assumptions: Mapping[str, Mapping[str, Any]], rates: Mapping[str, float], numbers: Numbers
) -> pd.DataFrame:
    """The assumptions as they are printed: what (a sentence with the value in it), value, source.

    Parameters
    ----------
    assumptions : value, unit, what (a sentence with {} in the place of the value) and source, by name.
    rates : what one unit of another currency is worth, by its code.
    """
    rows = []
    for name, assumption in assumptions.items():
        if assumption["value"] != CHANGES_NOTHING.get(name, 0):
            value = _with_unit(float(assumption["value"]), str(assumption["unit"]), numbers)
            rows.append((str(assumption["what"]).replace("{}", value), value, str(assumption["source"])))
    for code, rate in rates.items():
        worth = numbers.small_money(rate)
        rows.append((f"one {code} is worth {worth}", worth, "settings file"))
    return pd.DataFrame(rows, columns=["what", "value", "source"])


def _with_unit(value: float, unit: str, numbers: Numbers) -> str:
    if unit == "chance":
        return times_in(value)
    if unit == "share":
        return numbers.percent(value)
    return numbers.money(value) if unit == "money" else numbers.whole(value)
