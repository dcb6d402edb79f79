"""The fundraising case for one window, as one object: every figure of the brief and of the page.

Frames that carry ``points`` name the wear points under each row, so that any figure can be followed down.
"""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from models.case.fund import FundPosition, GiftRate
from models.case.inputs import ChosenBy
from models.case.mile import RunningCost, SinkingFund


@dataclass(frozen=True)
class Amount:
    """What the work costs. [money]; ``p50`` is enough 5 times in 10, ``p80`` 8 times in 10."""

    p10: float
    p50: float
    p80: float
    p90: float

    @staticmethod
    def of(totals: np.ndarray) -> "Amount":
        """Amounts from draws of the total, shape (n_draws,)."""
        p10, p50, p80, p90 = (float(value) for value in np.quantile(totals, [0.1, 0.5, 0.8, 0.9]))
        return Amount(p10, p50, p80, p90)


def nothing_beside() -> pd.DataFrame:
    """The cost of a mile in all where it is not known."""
    types = {"what": "object", "p10": "float64", "mean": "float64", "p90": "float64"}
    return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in types.items()})


@dataclass(frozen=True)
class Case:
    """The case for one window of one vehicle. Money in one currency, miles counted from ``as_of``.

    Attributes
    ----------
    vehicle, name : its key and what people call it.
    as_of : last day of the mileage that the forecast knows.
    opens : day on which the window opens, and the work begins.
    currency : code as in ISO 4217.
    confidence : chance that the amount asked for is enough. [1]
    ask : the amount asked for, enough at ``confidence``. [money]
    amount : what the work costs.
    lines : line, kind (planned, opening, worn, hidden), component, action, parts (how many), points (list),
        at50, ask [money] (these two add up to ``amount.p50`` and ``ask``), p10, p90 [money].
    bills : line, payment, month, amount [money], is_late, source; amounts add up to ``ask``.
    schedule : index month; due, to_raise, balance [money].
    fund, rate : what is in hand, and the present rate of giving (None where too little is on record).
    one_offs : date, amount [money], note: gifts that are no part of that rate.
    claims : columns ``case.fund.SHARED_COLUMNS`` and own (this window): all windows that the one fund must
        pay for, by date, and the part of it that each may count on.
    chance_in_time : chance that each bill finds its money at the present rate; None without a rate. [1]
    delays : columns ``case.delay.DELAY_COLUMNS``; the first row is this window.
    mile : component, action, jobs, p10, mean, p90 [money/mi], share, points; the whole in the last row.
    mile_whole : what, p10, mean, p90 [money/mi]: the parts, opening the engine, hidden damage, all.
    day : cost of a running day, None where the log tells no days. miles_per_day [mi/d]
    sinking : what should be put aside for each mile, and what was.
    gifts : columns ``case.gifts.GIFT_COLUMNS``.
    remaining : label, note, p10, p50, p90 [mi], chance_by_window [1], points; the first of each component.
    seasons : label, start, end [mi from as_of at expected usage].
    window_miles : miles expected until the window opens, and their range (p10, p50, p90). [mi]
    assumptions : what, value, source.
    unpriced : component, reason: work of the scope that no price is known of; in no sum.
    unforecast : point, component, reason: wear points without a forecast; in no sum.
    is_planned : a plan chose the work; otherwise the accepted risk did.
    chosen_by : the plan that holds for the vehicle, whether or not it has work in this window; None without.
    at_limit : wear points that are at their limit already, with a forecast or without.
    opens_up : the work takes rods down or wheels out; then only what lies behind them stops the engine in
        ``delays``, as what is reached in place is renewed between trains.
    invented : the railway is the demo's, and papers say so.
    draws, readings, points : futures, readings and wear points that the figures rest on.
    """

    vehicle: str
    name: str
    as_of: pd.Timestamp
    opens: pd.Timestamp
    currency: str
    confidence: float
    ask: float
    amount: Amount
    lines: pd.DataFrame
    bills: pd.DataFrame
    schedule: pd.DataFrame
    fund: FundPosition
    rate: GiftRate | None
    one_offs: pd.DataFrame
    claims: pd.DataFrame
    chance_in_time: float | None
    delays: pd.DataFrame
    mile: pd.DataFrame
    day: RunningCost | None
    miles_per_day: float
    sinking: SinkingFund
    gifts: pd.DataFrame
    remaining: pd.DataFrame
    seasons: pd.DataFrame
    window_miles: tuple[float, float, float]
    assumptions: pd.DataFrame
    unpriced: pd.DataFrame
    unforecast: pd.DataFrame
    is_planned: bool
    chosen_by: ChosenBy | None
    at_limit: tuple[str, ...]
    draws: int
    readings: int = 0
    points: int = 0
    data_version: int = 0
    invented: bool = False
    opens_up: bool = True
    mile_whole: pd.DataFrame = field(default_factory=nothing_beside)

    @property
    def own_claim(self) -> pd.Series:
        """The row of ``claims`` of this window."""
        return self.claims[self.claims["own"]].iloc[0]

    @property
    def counted(self) -> float:
        """The part of the fund that this window may count on. [money]"""
        return float(self.own_claim["from_fund"])

    @property
    def to_raise(self) -> float:
        """What is still to come in for the amount asked for. [money], >= 0"""
        return float(self.own_claim["to_raise"])

    @property
    def owed_before(self) -> float:
        """What must still come in before money is there for this window: for those before it, and for a fund
        that has spent more than it received. [money], >= 0"""
        return max(0.0, float(self.own_claim["before"]) - self.fund.in_hand)

    @property
    def first_bill(self) -> pd.Timestamp:
        """Month of the first bill."""
        return pd.Timestamp(self.bills["month"].min())
