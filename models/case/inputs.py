"""What the case is built from, and what the fundraiser turns."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from models.case.hidden import BEYOND_TRUING
from models.futures.simulation import Simulation
from models.plan.scope import LINE_COLUMNS, WINDOW_COLUMNS


def nothing_taken() -> pd.DataFrame:
    """No assumption: what, value, source."""
    return pd.DataFrame({"what": [], "value": [], "source": []}, dtype=object)


@dataclass(frozen=True)
class WindowToPay:
    """A window that the one fund must pay for.

    Attributes
    ----------
    vehicle, name : its key and what people call it. opens : day on which it opens.
    amount : what is enough at a confidence [1], worked out when asked for. [money]
    is_planned : a plan chose its work; otherwise the accepted risk did.
    """

    vehicle: str
    name: str
    opens: pd.Timestamp
    amount: Callable[[float], float]
    is_planned: bool = True


@dataclass(frozen=True)
class PlannedWork:
    """A plan of one vehicle.

    Attributes
    ----------
    lines : columns ``plan.scope.LINE_COLUMNS``, one row a job and window.
    windows : columns ``plan.scope.WINDOW_COLUMNS``.
    renewals : days on which each wear point is renewed, in order.
    """

    lines: pd.DataFrame
    windows: pd.DataFrame
    renewals: Mapping[str, Sequence[pd.Timestamp]]

    @staticmethod
    def none() -> "PlannedWork":
        """No plan."""
        return PlannedWork(pd.DataFrame(columns=LINE_COLUMNS), pd.DataFrame(columns=WINDOW_COLUMNS), {})

    def has(self, opens: pd.Timestamp) -> bool:
        """Whether it has work in the window that opens on a day."""
        return bool((self.lines["opens"] == opens).any())


@dataclass(frozen=True)
class ChosenBy:
    """The plan that chose the work.

    Attributes
    ----------
    name, made_on : what people call it, and when it was made.
    state : approved, or proposed where none is approved.
    older_as_of : as-of day of the forecast that it was made from, where that is not the newest; else None.
    """

    name: str
    state: str
    made_on: pd.Timestamp
    older_as_of: pd.Timestamp | None = None


@dataclass(frozen=True)
class CaseInputs:
    """What the case is built from: one vehicle, one data version, one currency.

    Attributes
    ----------
    vehicle, name : its key and what people call it.
    simulation : the joint simulation, this vehicle in it.
    jobs, openings : of this vehicle, as ``plan.jobs`` gives them.
    windows : opens, closes; the vehicle's windows, as ``windows.combine`` gives them.
    plan : the plan that chose the work; none lets the accepted risk choose, as for a window that the plan
        does not use.
    end : day up to which parts must last where no later opening is planned.
    findings : earlier tear-downs of the vehicle; none where nothing hidden is reckoned.
    mileage, funds : tables of the store, the log of all vehicles: the fund is that of the whole railway.
    life_miles : miles on each part in service at the as-of day, by wear point. [mi]
    currency : code of the currency in which all of it is.
    as_of, data_version, readings, points : where the figures come from.
    unforecast : point, component, reason: what cannot be forecast.
    fund_as_of : last day of the fund's book; the as-of day of the wear when not given.
    others : windows of all vehicles that the one fund must pay for; the case's own may be among them.
    invented : the railway is the demo's, and papers say so.
    chosen_by : the plan that holds for the vehicle; None where there is none.
    past : wear points that count as past their limit at the as-of day, whoever says so; None lets the
        simulation say it.
    taken : what, value, source: what had to be taken as given while the tables were read.
    accepted : the same: the chances that the plan accepts which holds for the vehicle.
    """

    vehicle: str
    name: str
    simulation: Simulation
    jobs: pd.DataFrame
    openings: pd.DataFrame
    windows: pd.DataFrame
    mileage: pd.DataFrame
    funds: pd.DataFrame
    life_miles: pd.Series
    as_of: pd.Timestamp
    currency: str = "USD"
    findings: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame({"component": [], "examined": [], "defective": []})
    )
    plan: PlannedWork = field(default_factory=lambda: PlannedWork.none())
    end: pd.Timestamp | None = None
    data_version: int = 0
    readings: int = 0
    points: int = 0
    unforecast: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame({"point": [], "component": [], "reason": []})
    )
    fund_as_of: pd.Timestamp | None = None
    others: tuple[WindowToPay, ...] = ()
    past: frozenset[str] | None = None
    chosen_by: ChosenBy | None = None
    invented: bool = False
    taken: pd.DataFrame = field(default_factory=nothing_taken)
    accepted: pd.DataFrame = field(default_factory=nothing_taken)

    @property
    def money_day(self) -> pd.Timestamp:
        """Day of the fund's stated balance; bills begin in its month."""
        return self.fund_as_of or self.as_of


@dataclass(frozen=True)
class CaseChoices:
    """What the fundraiser turns.

    Attributes
    ----------
    opens : day on which the work begins.
    confidence : chance that the amount asked for is enough. [1], in (0, 1)
    risk : accepted chance that a wear point reaches its limit before it is renewed. [1]
    terms : terms of payment, columns ``case.schedule.TERMS_COLUMNS``.
    beyond_truing : chance that a part found defective must be renewed where it could be machined. [1]
    gift_months : months of the fund's book that tell the present rate. [month]
    one_off_words : words of a note that show a gift to be no part of that rate.
    most_seasons : how many seasons of waiting are shown.
    income_per_day : income of a running day, lost when the engine stands. [money/d]
    """

    opens: pd.Timestamp
    terms: pd.DataFrame
    confidence: float = 0.8
    risk: float = 0.05
    beyond_truing: float = BEYOND_TRUING
    gift_months: int = 36
    one_off_words: tuple[str, ...] = ()
    most_seasons: int = 3
    income_per_day: float = 0.0
