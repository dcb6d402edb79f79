"""What a plan is asked to keep to, and what its trade-offs cost."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from ingest.errors import WrongUsage
from models.plan.problem import Floats


@dataclass(frozen=True)
class Rules:
    """Accepted risk and the prices of what a price list does not hold; each is the railway's to change.

    Attributes
    ----------
    risk : accepted chance that a wear point has reached its limit before it is renewed. [1], in (0, 1)
    stop_risk : accepted chance that an engine must be taken out of service in a season, the mean of the
        seasons planned. [1], in (0, 1). None: each wear point is bounded by itself, and nothing else.
    risk_by : the same for wear points whose quantity or component is named so. [1]
    discount : what money later is worth less, a year, prices taken as today's. [1/year] Assumption, no
        source.
    labor_rate : money for an hour of work that the listed prices do not hold. [money/h]
    lost_day : what a day costs that the work takes beyond its window. [money/d] Assumption, no source.
    stop_days, stop_cost : days lost when a limit is reached in mid-season, and money beyond them. [d],
        [money] Assumptions, no source.
    gangs : jobs worked on at the same time. Assumption, no source.
    value_kept : share of the price of unused miles that still counts at the end of the horizon. [1]
    now : wear points to be renewed in the first window, whatever the rest.
    """

    risk: float = 0.05
    stop_risk: float | None = None
    risk_by: Mapping[str, float] = field(default_factory=dict)
    discount: float = 0.02
    labor_rate: float = 0.0
    lost_day: float = 1000.0
    stop_days: float = 14.0
    stop_cost: float = 0.0
    gangs: int = 3
    value_kept: float = 1.0
    now: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name, risk in {"risk": self.risk, "stop risk": self.stop_risk, **self.risk_by}.items():
            if risk is not None and not 0 < risk < 1:
                raise WrongUsage(
                    f"Accepted {name}: {risk} was found. Expected a chance between 0 and 1, 0.05 for 5 %."
                )
        if self.gangs < 1:
            raise WrongUsage(f"Gangs: {self.gangs} was found. Expected 1 or more jobs at the same time.")

    @property
    def stop(self) -> float:
        """What it costs when a limit is reached in mid-season. [money]"""
        return self.stop_days * self.lost_day + self.stop_cost

    def risk_of(self, points: pd.DataFrame) -> Floats:
        """Accepted risk of each wear point: by its quantity, else by its component, else the common one."""
        named = {str(name).strip().lower(): value for name, value in self.risk_by.items()}
        words = points[["quantity", "component"]].astype(str).apply(lambda text: text.str.strip().str.lower())
        by = [words[column].map(named) for column in ("quantity", "component")]
        accepted = by[0].fillna(by[1]).fillna(self.risk)
        return np.asarray(accepted, dtype=np.float64)

    def worth(self, years: Floats) -> Floats:
        """What money so many years from now is worth today. [1]"""
        return np.asarray((1.0 + self.discount) ** -np.maximum(years, 0.0), dtype=np.float64)
