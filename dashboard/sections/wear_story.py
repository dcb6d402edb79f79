"""What one wear point's page shows, put together from stored frames; nothing is fitted here."""

import pandas as pd

from dashboard.pictures.charts import WearPicture
from dashboard.words.batch_words import place_words
from dashboard.words.units_shown import Units

ODD_BELOW = 0.5
"""A reading that counted less than half is pointed out. [1]"""


def picture(
    point: pd.Series, path: pd.DataFrame, readings: pd.DataFrame, work: pd.DataFrame, units: Units
) -> WearPicture:
    """Readings, path, limits and renewals of one wear point in the units shown.

    Parameters
    ----------
    point : its row of ``wear_points``: limits in base unit, ``per_base``, ``unit``.
    path : of the forecast run, values in the point's own unit.
    readings : of the forecast run's reading_check, values in the point's own unit, with ``weight``.
    work : with ``odometer``.
    """
    own = str(point["unit"])
    shown = units.unit(own)
    lines = path.assign(
        distance=units.miles(path["odometer"]),
        low=units.value(path["p10"], own),
        middle=units.value(path["p50"], own),
        high=units.value(path["p90"], own),
    )
    dots = readings.assign(
        distance=units.miles(readings["odometer"]),
        value=units.value(readings["value"], own),
        verdict=(readings["weight"].fillna(1.0) < ODD_BELOW).map({True: "odd", False: "taken"}),
    )
    renewed = work[work["action"] == "renewed"]
    return WearPicture(
        readings=dots[["distance", "value", "date", "verdict"]],
        path=lines[["distance", "low", "middle", "high", "kind"]],
        limits=_limits(point, units),
        renewals=pd.DataFrame(
            {
                "distance": units.miles(renewed["odometer"]),
                "name": renewed["date"].dt.strftime("renewed %b %Y"),
            }
        ).dropna(),
        value_title=f"{point['quantity']} [{shown}]",
        distance_title=f"run in all [{units.distance}]",
    )


def _limits(point: pd.Series, units: Units) -> pd.DataFrame:
    own, per_base = str(point["unit"]), float(point["per_base"])
    rows = [
        (
            units.value(float(point[column]) * per_base, own),
            f"{word} {units.text(float(point[column]) * per_base, own)}",
        )
        for column, word in (("condemning_limit", "condemning limit"), ("shop_limit", "shop limit"))
        if pd.notna(point[column])
    ]
    return pd.DataFrame(rows, columns=["value", "name"])


OF_ANOTHER = "of the part that was here before"
AFTER, GONE = "came in after this forecast", "withdrawn or changed since"
NO_ROW = -1
"""Stands for the row of what is no reading, or a reading that no longer holds."""


ORIGIN = ["gauge", "observer", "note", "source"]
"""What a row leads back to: with what, by whom, what was remarked; file, sheet and row, and the batch."""


def origins(rows: pd.DataFrame) -> dict[str, list[str]]:
    """``ORIGIN`` of stored rows."""
    places = rows[["source_file", "source_sheet", "source_row", "batch"]].itertuples(index=False)
    texts = {name: list(rows[name]) if name in rows else [""] * len(rows) for name in ORIGIN[:-1]}
    return texts | {"source": [f"{place_words(*place)} (batch {batch})" for *place, batch in places]}


def readings_listed(
    check: pd.DataFrame,
    stored: pd.DataFrame,
    point: pd.Series,
    version: int,
    elsewhere: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Every reading of a wear point, each with the row that it is stored in.

    Parameters
    ----------
    check : of the forecast run's reading_check: what it made of the readings that it knew.
    stored : the readings that hold now, values in base unit, with row_id and batch.
    point : its row of ``wear_points``: ``per_base``.
    version : data version of the forecast.
    elsewhere : where the part came from another place, its readings there, as ``stored``; what was read here
        before it came is then of the part that went.

    Returns
    -------
    The columns of ``check`` and ``ORIGIN``; row_id is ``NO_ROW`` where the reading no longer holds.
    """
    read_at = pd.Series("", stored.index, dtype="str")
    if elsewhere is not None:
        stored = pd.concat([stored, elsewhere], ignore_index=True)
        read_at = pd.Series([*read_at, *("read at " + elsewhere["point"].astype("str"))], dtype="str")
    now = stored[["row_id", "date", "odometer"]].assign(value=stored["value"] * float(point["per_base"]))
    now = now.assign(**origins(stored))
    check = check if "row_id" in check else _rows_found(check, now)
    told = check.set_index("row_id")[["life", "expected", "expected_sd", "verdict"]]
    listed = now.join(told, on="row_id")
    newer = (stored["batch"] > version).to_numpy()
    listed["verdict"] = (
        listed["verdict"].astype("str").where(listed["verdict"].notna(), "").mask(newer, AFTER)
    )
    if elsewhere is not None:
        untold = listed["life"].isna() & ~newer & (listed["verdict"] == "")
        listed["verdict"] = listed["verdict"].mask(untold, OF_ANOTHER)
        sound = listed["verdict"].isin(["", "sound"]) & (read_at != "").to_numpy()
        listed["verdict"] = listed["verdict"].mask(sound, read_at.set_axis(listed.index))
    gone = check[~check["row_id"].isin(now["row_id"])].assign(row_id=NO_ROW, verdict=GONE)
    gone = gone.assign(**dict.fromkeys(ORIGIN, ""))
    return pd.concat([part for part in (listed, gone[listed.columns]) if len(part)] or [listed])


def _rows_found(check: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """The rows of what an older forecast knew, which named none: by day and value, equal ones in turn."""

    def named(frame: pd.DataFrame) -> pd.DataFrame:
        keys = pd.DataFrame({"date": frame["date"], "value": frame["value"].round(9)})
        return keys.assign(turn=keys.groupby(["date", "value"]).cumcount())

    found = named(check).merge(
        named(now).assign(row_id=now["row_id"]), on=["date", "value", "turn"], how="left"
    )
    return check.assign(row_id=found["row_id"].fillna(NO_ROW).astype("int64").to_numpy())


def events(readings: pd.DataFrame, work: pd.DataFrame, own: str, units: Units) -> pd.DataFrame:
    """Readings and work in one list, newest first, as people read them; ``row_id`` is that of a reading.

    Parameters
    ----------
    readings : as :func:`readings_listed` gives them.
    """
    measured = pd.DataFrame(
        {
            "life": readings["life"].astype("Int64"),
            "date": readings["date"],
            "odometer": readings["odometer"],
            "what": "reading",
            "value": [units.text(v, own) for v in readings["value"]],
            "expected": [
                _expected(e, s, own, units)
                for e, s in zip(readings["expected"], readings["expected_sd"], strict=True)
            ],
            "verdict": readings["verdict"].astype("str").replace("sound", ""),
            "row_id": readings["row_id"],
            **{name: readings[name] for name in ORIGIN},
        }
    )
    done = pd.DataFrame(
        {
            "life": pd.Series(pd.NA, index=work.index, dtype="Int64"),
            "date": work["date"],
            "odometer": work["odometer"],
            "what": work["action"],
            "value": [units.text(v, own) for v in work["value_after"]],
            "expected": "",
            "verdict": "",
            "row_id": NO_ROW,
            **origins(work),
        }
    )
    both = pd.concat([f for f in (measured, done) if len(f)] or [measured])
    both["odometer"] = units.miles(both["odometer"]).round()
    return both.sort_values("date", ascending=False, kind="stable").reset_index(drop=True)


def _expected(expected: float, sd: float, own: str, units: Units) -> str:
    if pd.isna(expected):
        return ""
    spread = "" if pd.isna(sd) else f" ± {units.text(1.28 * sd, own)}"  # 80 %: normal 90 % quantile 1.2816
    return f"{units.text(expected, own)}{spread}"
