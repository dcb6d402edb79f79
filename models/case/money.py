"""Money: totals split into parts that add up, one currency.

Knows nothing of wear. Every total that people see is split here, so that it equals the sum of its parts
after rounding too.
"""

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.errors import NotPossible

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEW = 3
"""So many rows a message names."""


def rounding_step(total: float) -> int:
    """Step to which a sum of money is rounded for print: about three figures of the total. [money], >= 1."""
    if not np.isfinite(total) or total <= 0:
        return 1
    return int(10 ** max(0, int(np.floor(np.log10(total))) - 2))


def share_out(parts: Floats, step: int = 1, *, total: int | None = None) -> Ints:
    """Round parts to a step so that they still add up to the rounded total.

    Parameters
    ----------
    parts : shape (n,). [money], >= 0
    step : step of rounding. [money], >= 1
    total : what the parts must add up to, a multiple of ``step``; their own rounded sum when not given.

    Returns
    -------
    Rounded parts, shape (n,). [money]; each within one step of its part when ``total`` is their rounded sum.

    Raises
    ------
    ValueError : a total that is no multiple of the step, or no part to carry it.

    Notes
    -----
    Largest-remainder method (Hamilton 1792; Balinski & Young, *Fair Representation*, 2nd ed. 2001, ch. 3).
    """
    parts = np.asarray(parts, dtype=float)
    exact = parts / step
    target = round(float(parts.sum()) / step) if total is None else total // step
    if total is not None and total % step:
        raise ValueError(f"total {total} is no multiple of {step}")
    if target and not parts.sum() > 0:
        raise ValueError(f"no part to carry {target * step}")
    if total is not None and target:
        exact = exact * (target / exact.sum())
    elif total is not None:
        exact = np.zeros_like(exact)
    whole = np.floor(exact + 1e-9)
    missing = int(target - whole.sum())
    order = np.argsort(-(exact - whole), kind="stable")
    whole[order[:missing]] += 1
    return (whole * step).astype(np.int64)


def split_quantile(parts: Floats, probability: float) -> tuple[float, Floats]:
    """Quantile of a total, and what each part brings to it.

    Parameters
    ----------
    parts : shape (n_draws, n_parts). [money], >= 0
    probability : chance that the total is enough. [1], in (0, 1)

    Returns
    -------
    The quantile of the row sums [money], and the parts at it, shape (n_parts,), which add up to it exactly.
    The 80 % figure of the whole is less than the sum of the 80 % figures of the parts, which seldom all go
    wrong together.

    Notes
    -----
    What a part brings is E[part | total = quantile] (D. Tasche, *Risk contributions and performance
    measurement*, 1999, section 5), by its regression on the total: mean + cov(part, total) / var(total) times
    the distance of the quantile from the mean total (covariance principle; A. J. McNeil, R. Frey & P.
    Embrechts, *Quantitative Risk Management*, 2005, section 6.3.3). Exact for normal parts; it uses every
    draw, so that a part does not shrink from one confidence to a higher one by chance. Parts that it would
    bring below zero are held at zero.
    """
    totals = parts.sum(axis=1)
    amount = float(np.quantile(totals, probability))
    if parts.shape[1] == 0:
        return 0.0, np.zeros(0)
    mean, spread = parts.mean(axis=0), totals - totals.mean()
    variance = float((spread**2).mean())
    slope = (parts - mean).T @ spread / len(totals) / variance if variance > 0 else np.zeros(parts.shape[1])
    at_quantile = np.maximum(mean + slope * (amount - totals.mean()), 0.0)
    whole = float(at_quantile.sum())
    if not whole > 0:
        return amount, np.full(parts.shape[1], amount / parts.shape[1])
    return amount, at_quantile * (amount / whole)


def only_currency(codes: pd.Series) -> str:
    """The currency that amounts are in, where all that name one name the same; else an empty text."""
    named = {str(code).strip().upper() for code in codes.dropna()} - {""}
    return named.pop() if len(named) == 1 else ""


def sole_currency(amounts: Mapping[str, pd.Series], purpose: str) -> str:
    """The one currency of amounts that are added up; an empty text where none names one.

    Parameters
    ----------
    amounts : by table, the currencies of its amounts, with what each amount is for as index; an amount
        without a currency is in that of the others. purpose : what adds them up, for the message.

    Raises
    ------
    NotPossible : they name several currencies; the message names the rows of all but the most frequent.
    """
    codes = pd.concat({name: codes.fillna("").str.strip().str.upper() for name, codes in amounts.items()})
    known = codes[codes != ""]
    frequent = known.value_counts(sort=True).index
    if len(frequent) < 2:
        return str(frequent[0]) if len(frequent) else ""
    others = known[known != frequent[0]]
    rows = [f"{table}: {row} is in {code}" for (table, row), code in others.head(FEW).items()]
    more = f" (and {len(others) - FEW} more)" if len(others) > FEW else ""
    raise NotPossible(
        f"{purpose} adds money up and knows no rate between {', '.join(frequent)}. {'; '.join(rows)}{more}; "
        f"the rest is in {frequent[0]}. Hand these rows in once more, with their amounts in {frequent[0]}."
    )


def in_one_currency(
    frame: pd.DataFrame, amount: str, currency: str, rates: Mapping[str, float], *, table: str
) -> pd.DataFrame:
    """Copy of a table with its amounts in one currency.

    Parameters
    ----------
    frame : table with the column ``amount`` and a column ``currency``; a row without one is in ``currency``.
    currency : code of the currency wanted, as ISO 4217 has it.
    rates : what one unit of another currency is worth in the wanted one, by code.
    table : its name, for the message.

    Raises
    ------
    NotPossible : a currency without a rate.
    """
    codes = frame["currency"].fillna("").str.strip().str.upper().replace("", currency)
    known = {currency: 1.0} | {code.upper(): rate for code, rate in rates.items()}
    unknown = sorted(set(codes) - set(known))
    if unknown:
        raise NotPossible(
            f"{table}: amounts in {', '.join(unknown)}; the case is worked out in {currency}, and no rate is "
            f"known. Give the rate in the settings file, under [rates]: {unknown[0]} = what one "
            f"{unknown[0]} is worth in {currency}; or ask for the case in {unknown[0]}."
        )
    converted = frame.copy()
    converted[amount] = frame[amount] * codes.map(known).astype(float)
    converted["currency"] = currency
    return converted
