"""Checks of wheels against each other: diameters on one axle and over the coupled axles, back to back."""

from collections.abc import Iterator

import pandas as pd

AXLE = ["vehicle", "group", "axle"]
SET = ["vehicle", "coupled"]


def wheels(values: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """What the wheels show.

    Parameters
    ----------
    values : wear points with part, measure, group, axle, side, and value, low, high, date of the last
        reading.

    Yields
    ------
    Frames as ``models.findings_frame.judged`` takes them: same axle diameters, coupled diameters, back to
    back and its variation around the axle, over flanges. A difference of diameters is taken from the
    thickness of the tires where no diameter was measured: then the wheel centers are taken as of one
    diameter, and ``detail`` says so.
    """
    sizes = diameters(values)
    yield _spread(one_kind(sizes, AXLE), AXLE, "same axle diameters")
    drivers = sizes[sizes["group"] == "driver"]
    yield _spread(one_kind(drivers, SET), SET, "coupled diameters")
    spaced = values[(values["part"] == "wheelset") & values["measure"].isin(["back to back", "over flanges"])]
    yield _plain(spaced, spaced["value"], spaced["measure"])
    around = spaced[(spaced["places"] > 1) & (spaced["measure"] == "back to back")]
    yield _plain(around, around["high"] - around["low"], "back to back around the axle")


def diameters(values: pd.DataFrame) -> pd.DataFrame:
    """Diameter of every wheel, measured, or twice its tire's thickness: enough for a difference.

    Parameters
    ----------
    values : wear points with part, measure, axle, side, matched_set and ``value``. [mm]

    Returns
    -------
    Rows of the wheels, ``value`` a diameter [mm], how (empty: measured), scale (2 for a thickness), coupled
    (name of the set that is turned together).
    """
    tires = values[values["part"].isin(["tire", "wheel"]) & (values["side"] != "") & (values["axle"] > 0)]
    measured = tires[tires["measure"] == "diameter"].assign(how="", scale=1.0)
    thick = tires[(tires["part"] == "tire") & (tires["measure"] == "thickness")]
    doubled = thick.assign(
        value=2.0 * thick["value"], how="from tire thickness, wheel centers taken alike", scale=2.0
    )
    both = pd.concat([measured, doubled], ignore_index=True)
    named = both["matched_set"].fillna("")
    return both.assign(coupled=named.where(named != "", both["vehicle"].astype(str)))


def one_kind(rows: pd.DataFrame, key: list[str]) -> pd.DataFrame:
    """Of each axle (key ``AXLE``) or set (``SET``) the kind that more wheels have.

    A measured diameter is never held against a doubled thickness.
    """
    sizes = rows.groupby([*key, "how"]).size().reset_index(name="wheels")
    kept = sizes.sort_values([*key, "wheels", "how"], ascending=[True] * len(key) + [False, True])
    return rows.merge(kept.drop_duplicates(key)[[*key, "how"]], on=[*key, "how"])


def _spread(rows: pd.DataFrame, key: list[str], check: str) -> pd.DataFrame:
    found = []
    for name, mine in rows.groupby(key, sort=True):
        if len(mine) < 2:
            continue
        high, low = (mine.iloc[int(at)] for at in (mine["value"].argmax(), mine["value"].argmin()))
        words = f"{mine['group'].iloc[0]} {mine['axle'].iloc[0]}" if "axle" in key else str(name[-1])
        size = f"largest {high['position']}, smallest {low['position']}"
        found.append(
            {
                "vehicle": mine["vehicle"].iloc[0],
                "check": check,
                "position": words,
                "points": ", ".join(mine["point"]),
                "found": high["value"] - low["value"],
                "base_unit": "mm",
                "detail": "; ".join(part for part in (size, mine["how"].iloc[0]) if part),
                "instead": "Measure the diameters over the tread." if mine["how"].iloc[0] else "",
                "date": mine["date"].min(),
            }
        )
    return pd.DataFrame(found)


def _plain(rows: pd.DataFrame, found: pd.Series, check: pd.Series | str) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "vehicle": rows["vehicle"],
            "check": check,
            "position": rows["position"],
            "points": rows["point"],
            "found": found,
            "base_unit": "mm",
            "detail": "",
            "date": rows["date"],
        }
    )
