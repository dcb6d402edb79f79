"""The fund: what came in, what went out, what is in hand, and the chance of having enough in time."""

import re
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MEAN_RUN_MONTHS = 4.0
"""Mean length of the runs of months that the bootstrap keeps together: a campaign or a year's end. [month]"""

ONE_OFF_MONTHS = 6.0
"""A gift of more than so many months of the ordinary ones is no part of the pace. Common practice, no source.
[month]"""
ALIKE = 0.5
"""A large gift that came again, at least half as large, in two other years is an ordinary one. Common
practice, no source. [1]"""

FEWEST_MONTHS = 6
"""Months of gifts on record below which no rate is stated. Common practice, no source. [month]"""


@dataclass(frozen=True)
class FundPosition:
    """What the fund holds, as of a day. [money]

    ``in_hand`` is received less spent. ``pledged`` is what was promised; it is not in hand, and rows of the
    table do not tell which pledge a gift has fulfilled, so nothing is counted on it.
    """

    as_of: pd.Timestamp
    in_hand: float
    received: float
    spent: float
    pledged: float


@dataclass(frozen=True)
class GiftRate:
    """Gifts of a month at the present rate, and the months that it was learned from.

    ``per_month`` [money/month]; ``p10`` and ``p90``: the same, from one run of twelve months to another.
    """

    per_month: float
    p10: float
    p90: float
    months: int
    first: pd.Timestamp
    last: pd.Timestamp


def fund_position(funds: pd.DataFrame, as_of: pd.Timestamp) -> FundPosition:
    """Sum the fund's book up to and with a day.

    Parameters
    ----------
    funds : columns date, amount [money], kind (pledged / received / spent), one currency.
    as_of : rows after this day are left out.
    """
    rows = funds[funds["date"] <= as_of]
    total = rows.groupby("kind", observed=True)["amount"].sum()
    received, spent = float(total.get("received", 0.0)), float(total.get("spent", 0.0))
    return FundPosition(as_of, received - spent, received, spent, float(total.get("pledged", 0.0)))


CLAIM_COLUMNS = ["vehicle", "name", "opens", "amount"]
SHARED_COLUMNS = [*CLAIM_COLUMNS, "from_fund", "to_raise", "before"]


def share_fund(in_hand: float, claims: pd.DataFrame) -> pd.DataFrame:
    """What part of the one fund each window may count on: the one that opens first takes first.

    Parameters
    ----------
    in_hand : what the fund holds. [money]
    claims : columns ``CLAIM_COLUMNS``, one row a window of a vehicle; amount: what is asked for it. [money]

    Returns
    -------
    Columns ``SHARED_COLUMNS``, by date (windows of one day by vehicle). from_fund : the part of the fund for
        this window; to_raise : what must still come in for it; before : what all windows before it are asked
        for. [money] The parts add up to what is in hand, or to all that is asked for where that is less.
    """
    rows = claims.sort_values(["opens", "vehicle"], kind="stable", ignore_index=True)
    amount = rows["amount"].to_numpy(float)
    before = np.cumsum(amount) - amount
    from_fund = np.clip(in_hand - before, 0.0, amount)
    return rows.assign(from_fund=from_fund, to_raise=amount - from_fund, before=before)[SHARED_COLUMNS]


def one_off_gifts(
    funds: pd.DataFrame, as_of: pd.Timestamp, *, months: int = 36, words: Sequence[str] = ()
) -> pd.DataFrame:
    """Gifts that tell nothing of the pace of giving: a grant, a legacy.

    Parameters
    ----------
    funds : columns date, amount [money], kind, note.
    as_of, months : the stretch looked at, as :func:`monthly_gifts` takes them.
    words : a gift whose note has one of these words is one.

    Returns
    -------
    Rows of ``funds``, by date. Gifts with one of the words; and those of more than ``ONE_OFF_MONTHS`` months
        of all others that did not come again in two other years (``ALIKE``).

    Notes
    -----
    Where fewer than ``FEWEST_MONTHS`` months have any other gift, size alone makes none of them one.
    """
    gifts = _gifts(funds, as_of, months).sort_values("date", kind="stable")
    note = gifts["note"].fillna("").astype(str) if "note" in gifts else pd.Series("", index=gifts.index)
    pattern = r"\b(?:" + "|".join(map(re.escape, words)) + r")s?\b"
    named = note.str.contains(pattern, case=False, regex=True) if words else note.ne(note)
    large = _large(gifts[~named], len(_months_looked_at(gifts, as_of, months)))
    return gifts[named | gifts.index.isin(large)]


def _large(gifts: pd.DataFrame, months: int) -> pd.Index:
    """Index of the gifts too large for the pace: from the largest down while each outweighs the rest."""
    ordered = gifts.sort_values("amount", ascending=False, kind="stable")
    found: list[Hashable] = []
    for place, (index, gift) in enumerate(ordered.iterrows()):
        rest = ordered.iloc[place + 1 :]
        ordinary = rest["date"].dt.to_period("M").nunique() >= FEWEST_MONTHS
        if not ordinary or gift["amount"] <= ONE_OFF_MONTHS * rest["amount"].sum() / months:
            break
        found.append(index)
    large = ordered.loc[found]
    again = [
        large.loc[large["amount"] >= ALIKE * gift["amount"], "date"].dt.year.nunique() > 2
        for _, gift in large.iterrows()
    ]
    return large.index[~np.array(again, dtype=bool)]


def monthly_gifts(
    funds: pd.DataFrame, as_of: pd.Timestamp, *, months: int = 36, without: pd.Index | None = None
) -> pd.Series:
    """Gifts received in each whole month before a day, months without one as zero.

    Parameters
    ----------
    funds : columns date, amount [money], kind.
    as_of : the month of this day is left out, unless it is the month's last day.
    months : how far to look back. [month]
    without : rows of gifts that are not counted; the months looked at stay those of all gifts.

    Returns
    -------
    Amounts indexed by month (first day), oldest first; empty when no gift is on record, or none counts.
        [money]
    """
    gifts = funds[(funds["kind"] == "received") & (funds["date"] <= as_of)]
    index = _months_looked_at(gifts, as_of, months)
    gifts = gifts if without is None else gifts.drop(without, errors="ignore")
    if gifts.empty:
        return pd.Series(dtype=float)
    by_month = gifts["amount"].groupby(gifts["date"].dt.to_period("M")).sum()
    return by_month.reindex(index, fill_value=0.0).astype(float).set_axis(index.to_timestamp())


def _months_looked_at(gifts: pd.DataFrame, as_of: pd.Timestamp, months: int) -> pd.PeriodIndex:
    # The month that is still running would look poorer than it will be.
    end = (as_of + pd.Timedelta(days=1)).to_period("M") - 1
    first = max(gifts["date"].min().to_period("M"), end - months + 1) if len(gifts) else end - months + 1
    return pd.period_range(first, end, freq="M")


def _gifts(funds: pd.DataFrame, as_of: pd.Timestamp, months: int) -> pd.DataFrame:
    """Gifts received in the months looked at."""
    gifts = funds[(funds["kind"] == "received") & (funds["date"] <= as_of)]
    looked_at = _months_looked_at(gifts, as_of, months)
    recent: pd.DataFrame = gifts[gifts["date"].dt.to_period("M").isin(looked_at)]
    return recent


def gifts_ahead(history: Floats, months: int, n_draws: int, rng: np.random.Generator) -> Floats:
    """Gifts of coming months, drawn from those of the past.

    Parameters
    ----------
    history : shape (h,), oldest first. [money]
    months : how many months ahead. [month]
    n_draws : how many futures.

    Returns
    -------
    Shape (n_draws, months). [money]; zero when there is no history.

    Notes
    -----
    Stationary bootstrap (D. N. Politis & J. P. Romano, *J. Am. Stat. Assoc.* 89 (1994) 1303), twice: first
    another past that could as well have been, then the future from that past. The second alone would take
    the mean of a few lumpy years as known.
    """
    if len(history) == 0 or months == 0:
        return np.zeros((n_draws, months))
    past = _runs(n_draws, len(history), len(history), rng)
    ahead = _runs(n_draws, months, len(history), rng)
    return history[np.take_along_axis(past, ahead, axis=1)]


def _runs(n: int, length: int, modulus: int, rng: np.random.Generator) -> Ints:
    """Indices in runs of geometric length that begin anywhere and wrap around, shape (n, length)."""
    fresh = rng.random((n, length)) < 1.0 / MEAN_RUN_MONTHS
    fresh[:, 0] = True
    begins = rng.integers(0, modulus, (n, length))
    column = np.arange(length)
    last = np.maximum.accumulate(np.where(fresh, column, 0), axis=1)
    return (np.take_along_axis(begins, last, axis=1) + column - last) % modulus


def gift_rate(history: pd.Series, rng: np.random.Generator, *, n_draws: int = 4000) -> GiftRate | None:
    """Present rate of giving with its range; None when fewer than six months are on record."""
    if len(history) < FEWEST_MONTHS:
        return None
    yearly = gifts_ahead(history.to_numpy(), 12, n_draws, rng).mean(axis=1)
    low, high = np.quantile(yearly, [0.1, 0.9])
    return GiftRate(
        float(history.mean()), float(low), float(high), len(history), history.index[0], history.index[-1]
    )


def chance_funded(
    need: Floats, due_share: Floats, in_hand: float, gifts: Floats, in_month: Ints | None = None
) -> float:
    """Chance that no bill comes due before the money for it is there.

    Parameters
    ----------
    need : shape (n_draws,). What the work costs. [money]
    due_share : shape (months,). Share of it that falls due in each coming month; adds up to 1. [1]
    in_hand : what the fund holds now. [money]
    gifts : shape (n_draws, months). What comes in, in each month. [money]
    in_month : months (indices) that are looked at; all when not given.

    Returns
    -------
    Share of the draws in which what was in hand and had come in covered what had fallen due, at the end of
    each month. [1]
    """
    have = in_hand + np.cumsum(gifts, axis=1)
    due = need[:, None] * np.cumsum(due_share)[None, :]
    short = have < due - 0.005
    return float(1.0 - (short if in_month is None else short[:, in_month]).any(axis=1).mean())
