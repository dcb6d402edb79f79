"""When the money is needed: terms of payment, bills by month, what must come in by month."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TERMS_COLUMNS = ["payment", "share", "months_before", "spread_months", "components", "actions", "source"]
"""Columns of the terms of payment, one row a payment.

payment : what it is called. share : part of a line's cost [1]; empty takes what the other payments leave.
months_before : months before the window opens at which it falls due; negative, after it has opened.
spread_months : months over which it is paid evenly, from then on. components, actions : words; the payment
holds for lines whose component or action has one of them, for all lines when empty. source : who says so;
"assumption" when nobody does.
"""


def payments_of(lines: pd.DataFrame, terms: pd.DataFrame) -> pd.DataFrame:
    """Share of each line that each payment takes.

    Parameters
    ----------
    lines : one row a line of the scope; columns line (key), component, action.
    terms : columns ``TERMS_COLUMNS``; lists of words in ``components`` and ``actions``.

    Returns
    -------
    Rows line x payment: line, payment, share [1], months_before, spread_months, source. The shares of a
    line add up to 1: the payment without a share takes the rest; shares that would pass 1 are scaled down.
    """
    pairs = lines[["line", "component", "action"]].merge(terms, how="cross")
    holds = [
        _has_word(row.component, row.components) and _has_word(row.action, row.actions)
        for row in pairs.itertuples()
    ]
    pairs = pairs[holds].copy()
    fixed = pairs["share"].fillna(0.0)
    total = fixed.groupby(pairs["line"]).transform("sum")
    fixed = fixed / np.maximum(total, 1.0)
    takes_rest = pairs["share"].isna()
    n_takers = takes_rest.groupby(pairs["line"]).transform("sum")
    left = 1.0 - fixed.groupby(pairs["line"]).transform("sum")
    # Where no payment takes the rest, those that there are take it in proportion.
    scale = np.where(n_takers > 0, 1.0, 1.0 / np.where(left < 1.0, 1.0 - left, 1.0))
    pairs["share"] = np.where(takes_rest, left / np.maximum(n_takers, 1), fixed * scale)
    columns = ["line", "payment", "share", "months_before", "spread_months", "source"]
    return pairs.loc[pairs["share"] > 0, columns].reset_index(drop=True)


def _has_word(text: object, words: object) -> bool:
    listed = [str(word).casefold() for word in words] if isinstance(words, list | tuple) else []
    return not listed or any(word in str(text).casefold() for word in listed)


def bills_by_month(
    cost: pd.Series, payments: pd.DataFrame, opens: pd.Timestamp, as_of: pd.Timestamp
) -> pd.DataFrame:
    """Bills by line, payment and month.

    Parameters
    ----------
    cost : what each line costs, indexed by line. [money]
    payments : as :func:`payments_of` gives them.
    opens : day on which the window opens.
    as_of : a bill that should have been paid before this day falls due in its month, and is marked late.

    Returns
    -------
    Rows line x payment x month: line, payment, month (first day), amount [money], is_late, source. The
    amounts add up to ``cost``.
    """
    rows = payments[payments["line"].isin(cost.index)].copy()
    spread = rows["spread_months"].fillna(1).clip(lower=1).astype(int)
    rows = rows.loc[rows.index.repeat(spread)].assign(n=np.repeat(spread.to_numpy(), spread.to_numpy()))
    offset = rows.groupby(level=0).cumcount().to_numpy() - np.round(rows["months_before"]).astype(int)
    this_month = as_of.to_period("M").ordinal
    ordinal = opens.to_period("M").ordinal + offset.to_numpy()
    month = (np.maximum(ordinal, this_month)).astype("datetime64[M]").astype("datetime64[us]")
    amount = rows["line"].map(cost).to_numpy() * rows["share"].to_numpy() / rows["n"].to_numpy()
    return pd.DataFrame(
        {
            "line": rows["line"].to_numpy(),
            "payment": rows["payment"].to_numpy(),
            "month": month,
            "amount": amount,
            "is_late": ordinal < this_month,
            "source": rows["source"].to_numpy(),
        }
    )


def must_come_in(due: pd.Series, in_hand: float) -> pd.DataFrame:
    """What must come in, month by month, so that no bill waits for its money.

    Parameters
    ----------
    due : bills of each month from now on, months without any as zero, indexed by month. [money]
    in_hand : what the fund holds now. [money]

    Returns
    -------
    Index month; columns due, to_raise, balance [money]. ``to_raise`` adds up to what is missing now and is
    as level as it can be: each stretch up to the bill that presses hardest has one amount a month.
    ``balance`` is what the fund holds at the end of the month if all comes in, and never below zero.

    Notes
    -----
    The cumulative sum of ``to_raise`` is the least concave curve on or above the bills less what is in hand:
    the smallest highest month (taut-string argument, common practice in scheduling).
    """
    short = np.maximum(np.cumsum(due.to_numpy()) - in_hand, 0.0)
    x = np.arange(len(short) + 1)
    y = np.concatenate([[0.0], short])
    hull = _upper_hull(y)
    raised = np.diff(np.interp(x, hull, y[hull]))
    balance = in_hand + np.cumsum(raised) - np.cumsum(due.to_numpy())
    return pd.DataFrame({"due": due, "to_raise": raised, "balance": balance}, index=due.index)


def _upper_hull(y: Floats) -> NDArray[np.int64]:
    """Indices of the upper convex hull of (0, y0), (1, y1), ...; a few dozen months, so a plain loop."""
    hull: list[int] = []
    for i in range(len(y)):
        while len(hull) >= 2:
            a, b = hull[-2], hull[-1]
            if (y[b] - y[a]) * (i - a) > (y[i] - y[a]) * (b - a):
                break
            hull.pop()
        hull.append(i)
    return np.array(hull, dtype=np.int64)
