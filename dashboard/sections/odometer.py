"""The odometer where people type it: what the instrument shows, in its unit, with its last entry beside."""

from dataclasses import dataclass
from datetime import date

import pandas as pd

from dashboard.screen import data
from ingest.store.mileage import instruments
from ingest.verdicts.odometers import odometer_needed


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

    @property
    def asked_for(self) -> str:
        """Why a reading of the day needs its figure; empty where it can be left out."""
        row = _row(self.vehicle, self.day)
        return str(odometer_needed(row, data.table("mileage"), data.table("usage")).iloc[0])


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
