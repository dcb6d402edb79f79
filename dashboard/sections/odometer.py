"""The odometer where people type it: what the instrument shows, in its unit, with its last entry beside."""

from dataclasses import dataclass
from datetime import date

import pandas as pd

from dashboard.screen import data
from ingest.store.mileage import counted, instruments, place
from ingest.verdicts.odometers import asked_about, not_fitting


@dataclass(frozen=True)
class Instrument:
    """The instrument of a vehicle on a day, and the log that it belongs to.

    Attributes
    ----------
    vehicle, day : whose and when.
    its : row of ``ingest.store.mileage.instruments``.
    """

    vehicle: str
    day: date
    its: pd.DataFrame

    @property
    def unit(self) -> str:
        """The unit in which it shows: mi or km."""
        return str(self.its["unit"].iloc[0])

    @property
    def label(self) -> str:
        """Heading of a field in which its figure is typed."""
        return f"Odometer, as the instrument shows it [{self.unit}]"

    @property
    def last(self) -> str:
        """Its last entry in the log: ``48,211 km on 31 October 2026``."""
        figure, day = self.its["last_shown"].iloc[0], self.its["last_date"].iloc[0]
        return "no entry yet" if pd.isna(figure) else f"{figure:,.0f} {self.unit} on {day:%-d %B %Y}"

    def miles(self, figure: float | None) -> float:
        """Miles of the vehicle's count at a figure, or now where none was typed; NaN where nothing tells."""
        if figure is not None:
            return float(counted(pd.Series([figure], self.its.index), self.its).iloc[0])
        placed = place(self._row().assign(odometer_read=float("nan")), data.table("mileage"))
        return float(placed["odometer"].iloc[0])

    def doubt(self, figure: float | None) -> str:
        """What speaks against a figure, or against none; the same as is said when the reading is stored."""
        log, row = data.table("mileage"), self._row()
        if figure is not None:
            return str(not_fitting(row, pd.Series([self.miles(figure)], row.index), log).iloc[0])
        return str(asked_about(row, log, data.table("usage")).iloc[0]) if self.is_after_the_log else ""

    @property
    def is_after_the_log(self) -> bool:
        """Whether the log ends before the day."""
        log = data.table("mileage")
        dates = log.loc[log["vehicle"] == self.vehicle, "date"]
        return len(dates) > 0 and dates.max() < pd.Timestamp(self.day)

    def _row(self) -> pd.DataFrame:
        return _row(self.vehicle, self.day)


def instrument_of(vehicle: str, day: date) -> Instrument:
    """The instrument of a vehicle on a day, by the log as it is now."""
    row = _row(vehicle, day)
    return Instrument(vehicle, day, instruments(row["vehicle"], row["date"], data.table("mileage")))


def last_entries(day: date) -> str:
    """The last entry of every vehicle that has a log, for those who write sheets."""
    vehicles = sorted(data.table("mileage")["vehicle"].unique()) if data.exists() else []
    return "; ".join(f"{vehicle} {instrument_of(str(vehicle), day).last}" for vehicle in vehicles)


def _row(vehicle: str, day: date) -> pd.DataFrame:
    return pd.DataFrame({"vehicle": [vehicle], "date": [pd.Timestamp(day).as_unit("us")]})
