"""A reading at the engine, judged at once: in limits, as expected, or to be taken again. No screen here."""

from dataclasses import dataclass
from datetime import date
from io import StringIO

import numpy as np
import pandas as pd

from ingest.notation.values import parse_values
from ingest.units import from_base, to_base, unit_of
from ingest.value_state import value_states
from ingest.verdicts.remeasure import far_off, measure_again


@dataclass(frozen=True)
class Judged:
    """What a reading says at once.

    Attributes
    ----------
    value : in the wear point's own unit; None where it could not be read.
    problem : why it could not be read, else empty.
    limit : ``implausible``, ``past`` the condemning limit, ``shop`` (past the shop limit only), ``within``,
        ``unknown``.
    expected : expected value and its standard deviation in the own unit; None where there is no forecast.
    again : whether it lies so far from the expected value that it should be taken again.
    """

    value: float | None
    problem: str = ""
    limit: str = "unknown"
    expected: tuple[float, float] | None = None
    again: bool = False


def judge(text: str, point: pd.Series, expected: tuple[float, float] | None, *, unit: str = "") -> Judged:
    """Read what the gauge shows and judge it.

    Parameters
    ----------
    text : as it was typed: ``1 3/8``, ``12 thou``, ``34.9 mm``.
    point : row of ``wear_points``: unit, limits in base unit, condemned_when, per_base.
    expected : of :func:`expected_at`.
    unit : unit of a bare number; the wear point's own if empty.
    """
    own = str(point["unit"])
    beside = unit or own
    read = parse_values(pd.Series([text], dtype="str"), beside).iloc[0]
    if read["problem"]:
        return Judged(None, str(read["problem"]))
    written = str(read["unit"]) or (unit_of(beside) or beside)
    value = from_base(float(to_base(float(read["value"]), written)), own)
    return Judged(value, "", state_of(value, point), expected, _far(value, expected))


def state_of(value: float, point: pd.Series) -> str:
    """State of a value in the wear point's own unit (``ingest.value_state``)."""
    about = pd.DataFrame([point])
    return str(value_states(pd.Series([value / float(point["per_base"])], about.index), about).iloc[0])


def _far(value: float, expected: tuple[float, float] | None) -> bool:
    return expected is not None and bool(far_off(value - expected[0], expected[1]))


def expected_at(path: pd.DataFrame, odometer: float, point: pd.Series) -> tuple[float, float] | None:
    """What the stored path expects at an odometer, and the standard deviation of a reading there.

    The same as a batch is judged by once it is stored (:mod:`ingest.verdicts.remeasure`).

    Parameters
    ----------
    path : frame ``path`` of one wear point, values in its own unit.
    odometer : of the vehicle now. [mi]
    point : its row of ``wear_points``: new_value, condemning_limit, gauge_sd in base unit, per_base.

    Returns
    -------
    Value and standard deviation in the own unit; None beyond the ends of the path.
    """
    asked = pd.DataFrame({"point": ["it"], "date": [pd.NaT], "value": [np.nan], "odometer": [odometer]})
    about = pd.DataFrame([point]).assign(point="it")
    found = measure_again(asked, path.assign(point="it"), about).iloc[0]
    expected, sd = float(found["expected"]), float(found["expected_sd"])
    return None if np.isnan(expected) else (expected, sd)


def as_file(readings: list[dict[str, str]], day: date, observer: str) -> bytes:
    """The readings of a sitting as a file of the table ``readings``."""
    frame = pd.DataFrame(readings, columns=["point", "value", "unit", "odometer", "gauge", "note"])
    frame.insert(1, "date", day.isoformat())
    frame["observer"] = observer
    out = StringIO()
    frame.to_csv(out, index=False)
    return out.getvalue().encode()
