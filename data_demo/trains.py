"""The timetable of the season to come: its trains, and the engines that can take them. All invented."""

from datetime import date, timedelta

import pandas as pd

SEASON = (date(2027, 5, 1), date(2027, 10, 31))
MAIN, BRANCH = 62.0, 36.0
"""Round trips, as ``traffic.ENGINES`` runs them. [mi]"""


def trains() -> pd.DataFrame:
    """Return the table ``trips``: two trains a day, each engine on the line that it always ran."""
    first, last = SEASON
    days = [first + timedelta(i) for i in range((last - first).days + 1)]
    rows = []
    for day in days:
        weekend, summer = day.weekday() >= 5, day.month in (7, 8)
        if not weekend and not (summer and day.weekday() in (2, 4)):
            continue
        saturday = day.weekday() == 5
        heavy = saturday and summer
        able = "Quillon" if heavy else "Quillon; Hobnail"
        load = "8 coaches" if heavy else "5 coaches"
        rows.append((day, "main line", able, "Quillon", MAIN, load, "too long for Hobnail" if heavy else ""))
        trips = 2 if saturday else 1
        rows.append((day, "branch", "Quillon; Hobnail", "Hobnail", trips * BRANCH, "3 coaches", ""))
    columns = ["date", "train", "engines_able", "vehicle", "miles", "load", "note"]
    return pd.DataFrame(rows, columns=columns)
