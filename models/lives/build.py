"""From the tables to lives: which readings belong to which life, at which miles, on which scale."""

import pandas as pd

from models.lives.follow import follow_parts
from models.lives.life_table import life_table
from models.lives.record import on_record
from models.lives.table import LifeTable
from models.lives.unrecorded import split_at_unrecorded
from models.lives.wear_scale import wear_scale


def build_lives(
    tables: dict[str, pd.DataFrame], as_of: pd.Timestamp | None = None, *, as_written: bool = False
) -> LifeTable:
    """Build the lives of all wear points from the tables.

    Parameters
    ----------
    tables : vehicles, wear_points, mileage, readings, work in normalised form (``ingest.schema``); where
        parts are named also parts, fittings, ``told``, as :func:`models.lives.follow.follow_parts` takes
        them.
    as_of : day up to which the tables are believed; None: all of them, as of the last day of
        each vehicle's mileage log or its last reading, whichever is later.
    as_written : keep the lives as the record has them; False: cut them where a renewal is missing from it.
    """
    tables = follow_parts(tables, as_of)
    scale = wear_scale(tables["wear_points"], tables["vehicles"])
    record = on_record(tables, scale, as_of)
    table = life_table(record, scale)
    return table if as_written else split_at_unrecorded(table)
