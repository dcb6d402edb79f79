"""Parts with numbers of their own: where each is, where it was, and what it ran there."""

import numpy as np
import pandas as pd

from models.lives.record import mileage_logs
from models.lives.stints import stints_of

FITTED, RACK, NEVER, UNTOLD = "fitted", "spares rack", "never fitted", "not told"
"""Where a part is: at a place, on the rack, on record but never fitted, taken off and nothing said since."""


def stints_run(tables: dict[str, pd.DataFrame], as_of: pd.Timestamp | None = None) -> pd.DataFrame:
    """Every time that a part spent at a place, with the miles of its vehicle's own log.

    Parameters
    ----------
    tables : parts, fittings, wear_points, mileage, readings, work; as
        :func:`models.lives.stints.stints_of` takes them.
    as_of : day up to which the tables are believed; None: all of them.

    Returns
    -------
    part_no, kind, vehicle (empty: on the rack), position, since, until (dates; NaT: since before the record,
    still so), why, miles (none on the rack; NaN without a log). Ordered by part and day.
    """
    stints = stints_of(tables, as_of)
    mileage = tables["mileage"]
    mileage = mileage if as_of is None else mileage[mileage["date"] <= as_of]
    vehicles = pd.Index(pd.unique(stints.loc[stints["vehicle"] != "", "vehicle"]))
    logs = mileage_logs(mileage, vehicles)
    code = vehicles.get_indexer(pd.Index(stints["vehicle"])).astype(np.int64)
    placed = code >= 0
    miles = np.zeros(len(stints))
    ends = [np.clip(stints[name].to_numpy(float)[placed], -1e6, 1e6) for name in ("since", "until")]
    if placed.any():
        began, ended = (logs.at(code[placed], day) for day in ends)
        miles[placed] = ended - began
    dates = {name: _dates(stints[name]) for name in ("since", "until")}
    return stints.drop(columns="told").assign(**dates, miles=miles)


def parts_now(tables: dict[str, pd.DataFrame], stints: pd.DataFrame) -> pd.DataFrame:
    """Every part on record: where it is and what it has run.

    Parameters
    ----------
    stints : as :func:`stints_run` gives them.

    Returns
    -------
    part_no, component, class, where (``FITTED``, ``RACK``, ``NEVER``, ``UNTOLD``), vehicle, position, since,
    miles (in all, NaN where those before the record are not known), miles_on_record, places (it was fitted
    at). In order of ``where``, then number.
    """
    rows = []
    for part in tables["parts"].to_dict("records"):
        own = stints[stints["part_no"] == str(part["part_no"])]
        fitted = own[own["vehicle"] != ""]
        now = own[own["until"].isna()].tail(1).to_dict("records")
        last = now[0] if now else {"vehicle": "", "position": "", "since": pd.NaT}
        where = NEVER if not len(own) else UNTOLD
        if now:
            where = FITTED if last["vehicle"] else RACK
        ran, before = float(fitted["miles"].sum()), float(part.get("miles_before", np.nan))
        rows.append(
            {
                "part_no": str(part["part_no"]),
                "component": str(part["component"]),
                "class": str(part.get("class", "") or ""),
                "where": where,
                "vehicle": str(last["vehicle"]),
                "position": str(last["position"]),
                "since": last["since"],
                "miles": ran + before,
                "miles_on_record": ran,
                "places": len(fitted[["vehicle", "position"]].drop_duplicates()),
            }
        )
    columns = ["part_no", "component", "class", "where", "vehicle", "position", "since", "miles"]
    made = pd.DataFrame(rows, columns=[*columns, "miles_on_record", "places"])
    made["since"] = pd.to_datetime(made["since"]).astype("datetime64[us]")
    order = made["where"].map({FITTED: 0, RACK: 1, NEVER: 2, UNTOLD: 3})
    return made.iloc[np.lexsort((made["part_no"], order))].reset_index(drop=True)


def _dates(days: pd.Series) -> pd.Series:
    """Dates of days; none for those before or after all."""
    number = days.to_numpy(float)
    known = np.isfinite(number)
    day = np.where(known, number, 0.0).astype("datetime64[D]")
    return pd.Series(np.where(known, day, np.datetime64("NaT")), days.index).astype("datetime64[us]")
