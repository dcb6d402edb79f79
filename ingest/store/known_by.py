"""What was known on the evening of a past day: rows of later days are left out before anything is counted.

A reading without an odometer of its own is placed between two entries of the mileage log; the miles before a
new instrument are estimated from the rest of the log. Rows of later days must therefore be gone before the
miles are counted, or a forecast of that day would know miles that nobody could know then.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.store.frames import to_pandas
from ingest.store.sql import statement
from ingest.store.transaction import Connection

DAY_OF = {
    "mileage": "date",
    "readings": "date",
    "work": "date",
    "findings": "date",
    "facts": "date",
    "events": "date",
    "defects": "date",
    "scope_lines": "date",
    "gauges": "since",
    "fittings": "since",
    "openings": "since",
    "usage": "month",
}
"""The column that says since when a row of a table could be known. An empty day: always."""
PLAN_AHEAD_MONTHS = 18
"""A plan of running that begins later than this after a day was made after it: railways plan a season, at
most two, ahead. Practice, no source."""


@dataclass(frozen=True)
class KnownBy:
    """A past day and what of the plans was known on it.

    Attributes
    ----------
    day : rows of later days are left out; None: nothing is left out.
    plan_until : months of planned running after this day are left out; None: all stay.
    """

    day: pd.Timestamp | None = None
    plan_until: pd.Timestamp | None = None

    def until(self, table: str) -> pd.Timestamp | None:
        """Last day of a table's rows that were known; None: all."""
        return self.plan_until if table == "usage" else self.day

    def rows(self, table: str, frame: pd.DataFrame) -> pd.DataFrame:
        """The rows of a table that were known, in their order."""
        last = self.until(table)
        if last is None or table not in DAY_OF:
            return frame
        later: NDArray[np.bool_] = (frame[DAY_OF[table]] > last).to_numpy(dtype=bool)
        return frame[~later].reset_index(drop=True) if later.any() else frame


def known_by(connection: Connection, day: pd.Timestamp | None, version: int) -> KnownBy:
    """What was known by a day.

    Notes
    -----
    Nothing says when a plan of running was made. It counts as made after the day where the record itself goes
    on beyond the day, or where its first month is more than ``PLAN_AHEAD_MONTHS`` away.
    """
    if day is None:
        return KnownBy()
    last = pd.Timestamp(day).normalize()
    bound = {"version": version, "until": last.to_pydatetime()}
    found = to_pandas(connection.sql(statement("record_after"), params=bound).to_arrow_table()).iloc[0]
    begins = found["plan_begins"]
    late = pd.notna(begins) and pd.Timestamp(begins) > last + pd.DateOffset(months=PLAN_AHEAD_MONTHS)
    return KnownBy(last, last if bool(found["goes_on"]) or late else None)
