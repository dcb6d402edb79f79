"""Checks of rods, pins and bushings: tram, clearances of separate bores and pins, lost motion, press fits."""

from collections.abc import Iterator

import pandas as pd

_PLACE = ["vehicle", "group", "axle", "axle_to", "side"]
_OUT = ["vehicle", "check", "position", "points", "found", "base_unit", "detail", "date"]
TAKE_UP = (
    "half the bearing clearances at both pins: a greater misfit is taken up by the bearings at every turn "
    "and the rods bind (common practice, no source)"
)


def rods(values: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """What rods, pins and bushings show.

    Parameters
    ----------
    values : wear points with part, measure, group, axle, axle_to, side, and value and date of the last
        reading.

    Yields
    ------
    Frames as ``models.findings_frame.judged`` takes them: tram (rod bores center to center against the axle
    spacing of the same side), axle spacing left against right, rod bearing clearance and bearing clearance
    (bore less pin or journal where both were measured), main rod lost motion (both ends together), bushing
    interference (outside diameter of the bushing less bore of the rod, a mm of diameter).
    """
    yield _tram(values)
    yield _parallel(values)
    pin = _of(values, "crank pin", "diameter")
    yield _difference(_of(values, "side rod bushing", "bore"), pin, "rod bearing clearance", "bore less pin")
    bore, journal = _of(values, "crown brass", "bore"), _of(values, "journal", "diameter")
    yield _difference(bore, journal, "bearing clearance", "brass bore less journal")
    yield _lost_motion(values)
    yield _interference(values)


def _of(values: pd.DataFrame, part: str, measure: str) -> pd.DataFrame:
    return values[(values["part"] == part) & (values["measure"] == measure)]


def _pairs(first: pd.DataFrame, second: pd.DataFrame) -> pd.DataFrame:
    """Readings of two kinds at one place."""
    right = second[[*_PLACE, "point", "value", "date"]]
    pairs = first.merge(right, on=_PLACE, suffixes=("", "_2"))
    return pairs.assign(
        points=pairs["point"] + ", " + pairs["point_2"], date=pairs[["date", "date_2"]].min(axis=1)
    )


def _difference(first: pd.DataFrame, second: pd.DataFrame, check: str, detail: str) -> pd.DataFrame:
    pairs = _pairs(first, second)
    rows = pairs.assign(check=check, found=pairs["value"] - pairs["value_2"], base_unit="mm", detail=detail)
    return rows[_OUT]


def _tram(values: pd.DataFrame) -> pd.DataFrame:
    pairs = _pairs(_of(values, "side rod", "bore centers"), _of(values, "axle spacing", "axle centers"))
    clear = _of(values, "side rod", "clearance").set_index(["vehicle", "group", "axle", "side"])["value"]
    clear = clear[~clear.index.duplicated()]
    front, back = (
        clear.reindex(pd.MultiIndex.from_frame(pairs[["vehicle", "group", column, "side"]])).to_numpy()
        for column in ("axle", "axle_to")
    )
    misfit = pairs["value"] - pairs["value_2"]
    longer = misfit.map(lambda gap: "rod longer than the axle spacing" if gap > 0 else "rod shorter")
    rows = pairs.assign(
        check="tram",
        found=misfit.abs(),
        base_unit="mm",
        detail=longer.where(misfit != 0, "equal"),
        row_limit=(front + back) / 2.0,
        row_source=TAKE_UP,
    )
    return rows[[*_OUT, "row_limit", "row_source"]]


def _parallel(values: pd.DataFrame) -> pd.DataFrame:
    spacing = _of(values, "axle spacing", "axle centers")
    left, right = (spacing[spacing["side"] == side] for side in ("left", "right"))
    key = ["vehicle", "group", "axle", "axle_to"]
    pairs = left.merge(right[[*key, "point", "value", "date"]], on=key, suffixes=("", "_2"))
    rows = pairs.assign(
        check="axle spacing, left against right",
        position=pairs["position"].str.removesuffix(" left"),
        points=pairs["point"] + ", " + pairs["point_2"],
        found=(pairs["value"] - pairs["value_2"]).abs(),
        base_unit="mm",
        detail="axles stand square only where both sides agree",
        date=pairs[["date", "date_2"]].min(axis=1),
    )
    return rows[_OUT]


def _lost_motion(values: pd.DataFrame) -> pd.DataFrame:
    ends = [_of(values, "main rod", f"{end} end clearance") for end in ("back", "front")]
    # The ends of one rod share vehicle and position: "left", or "engine 2 left" of an articulated one.
    pairs = ends[0].merge(
        ends[1][["vehicle", "position", "point", "value", "date"]],
        on=["vehicle", "position"],
        suffixes=("", "_2"),
    )
    rows = pairs.assign(
        check="main rod lost motion",
        points=pairs["point"] + ", " + pairs["point_2"],
        found=pairs["value"] + pairs["value_2"],
        base_unit="mm",
        detail="back end and front end together",
        date=pairs[["date", "date_2"]].min(axis=1),
    )
    return rows[_OUT]


def _interference(values: pd.DataFrame) -> pd.DataFrame:
    bushing, bore = _of(values, "side rod bushing", "outside diameter"), _of(values, "side rod", "bore")
    pairs = _pairs(bushing, bore)
    rows = pairs.assign(
        check="bushing interference",
        found=(pairs["value"] - pairs["value_2"]) / pairs["value_2"],
        base_unit="1",
        detail="outside diameter less bore, for one of diameter",
    )
    return rows[_OUT]
