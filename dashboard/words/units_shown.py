"""The units that people see: chosen once, used on every page. Inside, nothing is converted."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.units import DISTANCE_MI, is_length, per_unit

LENGTHS = {"sheet": "as on the sheet", "in": "inches", "64ths": "64ths of an inch", "mm": "millimetres"}
DISTANCES = {"mi": "miles", "km": "kilometres"}
_CANONICAL = {"in": "in", "64ths": "1/64 in", "mm": "mm"}
_METRIC = {"mm", "cm", "m", "µm"}
_DECIMALS = {
    "in": 3,
    "mm": 2,
    "cm": 3,
    "m": 4,
    "ft": 4,
    "yd": 4,
    "thou": 1,
    "µm": 0,
    "1/64 in": 1,
    "1/32 in": 1,
}

Number = TypeVar("Number", float, NDArray[np.float64], pd.Series)


@dataclass(frozen=True)
class Units:
    """The choice: ``length`` is a key of :data:`LENGTHS`, ``distance`` one of :data:`DISTANCES`."""

    length: str = "sheet"
    distance: str = "mi"

    def unit(self, own: str) -> str:
        """The unit in which a value of a wear point is shown; a quantity that is no length keeps its own."""
        return _CANONICAL.get(self.length, own) if is_length(own) else own

    def value(self, value: Number, own: str) -> Number:
        """A value given in the wear point's own unit, in the unit shown."""
        return value * (per_unit(own) / per_unit(self.unit(own)))

    def own(self, value: float, own: str) -> float:
        """A value typed in the unit shown, in the wear point's own unit."""
        return value * per_unit(self.unit(own)) / per_unit(own)

    def text(self, value: float, own: str) -> str:
        """A value with its unit: ``2.469 in``, ``158/64 in``, ``62.71 mm``; a dash where there is none."""
        if value is None or not math.isfinite(value):
            return "–"
        shown, unit = self.value(float(value), own), self.unit(own)
        number = _number(shown, unit)
        if unit.startswith("1/") and unit.endswith(" in"):
            return f"{number}{unit[1:]}"
        return f"{number} {unit}".strip()

    def miles(self, miles: Number) -> Number:
        """A distance in miles, in the unit shown."""
        return miles / DISTANCE_MI[self.distance]

    def distance_text(self, miles: float) -> str:
        """A remaining distance with as many figures as it deserves: ``3,400 mi``."""
        return "–" if miles is None or math.isnan(miles) else f"{self.rounded(miles):,.0f} {self.distance}"

    def odometer_text(self, miles: float) -> str:
        """A distance in full: ``48,211 mi``."""
        return "–" if miles is None or math.isnan(miles) else f"{self.miles(miles):,.0f} {self.distance}"

    def within_text(self, miles: float) -> str:
        """How far off a limit is: ``3,400 mi``, or ``now`` where no mile is left."""
        return "now" if miles <= 0 else self.distance_text(miles)

    def short(self, miles: float) -> str:
        """At most five characters, for the drawing: ``now``, ``340``, ``3.4k``, ``12k``."""
        if math.isinf(miles):
            return "∞"
        if miles <= 0:
            return "now"
        shown = self.rounded(miles)
        if shown < 1000:
            return f"{shown:.0f}"
        return f"{shown / 1000:.1f}k" if shown < 9950 else f"{shown // 1000:.0f}k"

    def rounded(self, miles: float) -> float:
        """Down, to two or three figures: more would promise what a forecast cannot hold."""
        shown = max(self.miles(miles), 0.0)
        if not math.isfinite(shown):
            return shown
        step = 1.0 if shown < 100 else 10.0 if shown < 1000 else 100.0 if shown < 20_000 else 1000.0
        return math.floor(shown / step + 1e-9) * step


def usual_units(own: Iterable[str], chosen: Units | None = None) -> Units:
    """The units for figures that belong to no one wear point: those chosen; as on the sheet means the unit of
    most of the railway's wear points.

    Parameters
    ----------
    own : unit of each wear point.
    chosen : None: as on the sheet.
    """
    units = chosen or Units()
    if units.length != "sheet":
        return units
    lengths = [unit for unit in map(str, own) if is_length(unit)]
    metric = sum(unit in _METRIC for unit in lengths)
    return Units("mm" if 2 * metric > len(lengths) else "in", units.distance)


@dataclass(frozen=True)
class RailwayUnits:
    """Units for figures that belong to no one wear point of a vehicle: those of its own wear points, as a
    railway may keep one engine in inches and another in millimetres. ``railway`` is for all others."""

    railway: Units = Units()
    own: Mapping[str, Units] = field(default_factory=dict)

    def of(self, vehicle: object) -> Units:
        """Those of one vehicle."""
        return self.own.get(str(vehicle), self.railway)


def railway_units(points: pd.DataFrame, chosen: Units | None = None) -> RailwayUnits:
    """As :func:`usual_units`, for each vehicle. ``points`` : vehicle and unit of each wear point."""
    units, vehicles = points["unit"].astype(str), points["vehicle"].astype(str)
    lengths = units.map(is_length).astype(bool)
    own = {str(name): usual_units(group, chosen) for name, group in units[lengths].groupby(vehicles[lengths])}
    return RailwayUnits(usual_units(units, chosen), own)


def figure_in(units: Units) -> Callable[[object, object], str]:
    """Words a value that is given with its base unit, in the units shown."""

    def figure(value: object, unit: object) -> str:
        return units.text(float(str(value)), str(unit)).removesuffix(" 1")

    return figure


def without_base(quantity: str) -> str:
    """A quantity that is learned together, by its name alone: shares and counts of ``clearance [mm]`` have no
    length, and the railway may write inches."""
    return quantity.removesuffix(" [mm]")


def in_units(forecast: pd.DataFrame, units: Units) -> pd.DataFrame:
    """Rows of a forecast with values, limits and remaining distances in the units shown.

    Remaining distances are rounded down to what a forecast can hold; ``last_value`` and
    ``condemning_limit`` become texts with their unit.
    """
    shown = forecast.copy()
    for name in ("last_value", "condemning_limit"):
        shown[name] = [units.text(v, str(u)) for v, u in zip(forecast[name], forecast["unit"], strict=True)]
    for name in ("miles_p05", "miles_p50"):
        shown[name] = [units.rounded(miles) if pd.notna(miles) else miles for miles in forecast[name]]
    return shown


def _number(value: float, unit: str) -> str:
    """With the decimals that a gauge of that unit has; a 64th of an inch (0.015625) needs four to be true."""
    is_64th, is_thou = (abs(value * parts - round(value * parts)) < 1e-6 for parts in (64, 1000))
    decimals = _DECIMALS.get(unit, 3)
    if unit == "in" and is_64th and not is_thou:
        value, decimals = (
            round(value * 64) / 64,
            4,
        )  # 3/32 in is the same figure whatever it was worked out from
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if text.lstrip("-0.") == "" else text
