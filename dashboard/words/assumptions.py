"""What a case assumes, and what a plan accepts, in words."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from dashboard.words.numbers import Numbers
from models.frequency import times_in

CHANGES_NOTHING = {"usage": 1.0, "fund_share": 1.0}
"""Values that change nothing, and so need not be printed; 0 for the others."""
STATED = "stated for this plan"
"""Source of a value that differs from what is assumed where nothing is stated."""
ACCEPTED = {
    "stop_risk": "accepted chance that an engine must be taken out of service in a season, the mean of its "
    "seasons",
    "risk": "greatest chance with which a single wear point may be at its limit before its renewal",
}


def accepted_chances(rules: Mapping[str, Any], usual: Mapping[str, Any]) -> pd.DataFrame:
    """The chances that a plan accepts, for its own papers and for the brief that follows it.

    Parameters
    ----------
    rules : of the plan, by name, as its run keeps them. usual : the same where nothing is stated.

    Returns
    -------
    assumption, value (text), unit, source.
    """
    rows = [
        (what, rules[name], "assumption, no source" if rules[name] == usual[name] else STATED)
        for name, what in ACCEPTED.items()
        if rules.get(name) is not None
    ]
    by_name = dict(rules.get("risk_by") or {})
    rows += [(f"{ACCEPTED['risk']}, {name}", chance, STATED) for name, chance in by_name.items()]
    return pd.DataFrame(
        [(what, f"{chance * 100:,.6g}", "times in 100", source) for what, chance, source in rows],
        columns=["assumption", "value", "unit", "source"],
        dtype=object,
    )


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
