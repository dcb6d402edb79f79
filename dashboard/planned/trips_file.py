"""Trains as given out, and the running that follows, as a workbook that ``add`` takes in."""

from io import BytesIO

import pandas as pd

from dashboard.papers.brief_svg import clean
from ingest.errors import NotPossible
from models.trips.share import usage_as_given


def trips_workbook(trips: pd.DataFrame, usage: pd.DataFrame) -> bytes:
    """Sheets of the tables ``trips`` and ``usage``.

    Parameters
    ----------
    trips : frame of a plan. usage : table of the store: vehicle, month, miles_planned, miles_sd.

    Raises
    ------
    NotPossible : the plan gave out no trains.
    """
    if trips.empty:
        raise NotPossible(
            "Trips: the store holds no trains of the season after the first window. Add a sheet with the"
            " headings date, train, engines_able, miles, and plan again."
        )
    import xlsxwriter

    given = pd.DataFrame(
        {
            "date": trips["date"].dt.strftime("%Y-%m-%d"),
            "train": trips["train"],
            "engines_able": trips["engines_able"].fillna(""),
            "vehicle": trips["vehicle"],
            "miles": trips["miles"],
            "load": trips["load"].fillna(""),
            "note": trips["note"].fillna(""),
        }
    )
    months = trips["date"].dt.to_period("M")
    after = usage_as_given(usage, trips)
    after = after[after["month"].dt.to_period("M").isin(months)]
    running = after.assign(month=after["month"].dt.strftime("%Y-%m"))
    made = BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True, "strings_to_formulas": False}) as book:
        for name, table in (("trips", given), ("usage", running)):
            page = book.add_worksheet(name)
            page.freeze_panes(1, 0)
            for column, head in enumerate(table.columns):
                page.set_column(column, column, 14)
                page.write_string(0, column, str(head))
                for row, value in enumerate(table[head], start=1):
                    if isinstance(value, str):
                        page.write_string(row, column, clean(value))
                    elif pd.notna(value):
                        page.write_number(row, column, float(value))
    return made.getvalue()
