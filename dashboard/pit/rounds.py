"""One engine's round as the page takes it down: places, wear points, gauges, limits. No forecast, no money.

What was last read and what is expected is not in it in any form that can be read; see ``sealed``.
"""

from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pandas as pd

from dashboard.pit.due import due
from dashboard.pit.sealed import seal
from dashboard.pit.walking import picture
from dashboard.words.gauge_words import gauges_of
from dashboard.words.units_shown import Units
from dashboard.words.walking import walked
from ingest.errors import NotPossible
from ingest.figures import limit
from ingest.look.plausible import possible_between
from ingest.notation.elsewhere import notation_rules
from ingest.store import Store
from ingest.store.mileage import instruments, place, shown
from ingest.value_state import LAST_FIGURE
from ingest.verdicts.odometers import fitting_between, odometer_needed
from ingest.verdicts.remeasure import forecasts_in_order, measure_again, reworked

Frames = dict[str, pd.DataFrame]

_TABLES = ("vehicles", "wear_points", "readings", "mileage", "work", "gauges", "usage")
_UNITS = {  # other units in which an instrument of that kind may show
    "in": ("in", "thou", "1/64 in", "mm"),
    "thou": ("thou", "in", "mm"),
    "mm": ("mm", "in", "thou"),
}

_ENDS = {"least": "low", "most": "high"}


def vehicles(store: Store) -> list[dict[str, str]]:
    """Vehicles that have wear points: vehicle, name."""
    if not store.path.exists():
        return []
    tables = store.read_all("vehicles", "wear_points")
    names = dict(zip(tables["vehicles"]["vehicle"], tables["vehicles"]["name"].fillna(""), strict=True))
    measured = tables["wear_points"]["vehicle"].drop_duplicates()
    return [{"vehicle": str(name), "name": str(names.get(name, ""))} for name in measured]


def round_of(store: Store, vehicle: str, today: date) -> dict[str, Any]:
    """What the page needs to take the readings of a vehicle without a connection.

    Raises
    ------
    NotPossible : no such vehicle, or nothing is measured on it.
    """
    with store.at_once() as state:
        tables = state.read_all(*_TABLES)
        points = tables["wear_points"]
        points = points[points["vehicle"] == vehicle]
        if points.empty:
            raise NotPossible(f"Nothing is measured on a vehicle '{vehicle[:80]}'. Choose one of the list.")
        expected = _expected(state, tables, points, today)
        last = tables["readings"].groupby("point")["date"].max()
        blind = state.read_blind()
        why = due(state, vehicle, points, last, today)
    order = walked(points)
    arrangement = _arrangement(tables["vehicles"], vehicle)
    places = list(order["place"].unique())
    drawing = picture(places, vehicle, arrangement)
    return {
        "vehicle": vehicle,
        "name": _name(tables["vehicles"], vehicle),
        "as_of": today.isoformat(),
        "odometer": _odometer(vehicle, today, tables),
        "places": [{"key": key, "where": where} for key, where in _placed(order)],
        "points": _points(order, tables, expected, why, today.isoformat()),
        "gauges": gauges_of(tables["gauges"], blind, today),
        "scene": None if drawing is None else drawing.scene,
        "size": None if drawing is None else (drawing.width, drawing.height),
        "rules": notation_rules(),
    }


def _placed(order: pd.DataFrame) -> list[tuple[str, str]]:
    first = order.drop_duplicates("place")
    return list(zip(first["place"], first["where"], strict=True))


def _points(
    order: pd.DataFrame, tables: Frames, expected: pd.DataFrame, why: dict[str, str], word: str
) -> list[dict[str, Any]]:
    """The wear points in walking order, values in each one's own unit; `word` is that of the day's seals."""
    reach = possible_between(order["point"], tables)
    out = []
    for i, row in enumerate(order.to_dict("records")):
        name, per = str(row["point"]), float(row["per_base"])
        low, high = (_own(reach[side].iloc[i], per) for side in ("low", "high"))
        out.append(
            {
                "point": name,
                "place": row["place"],
                "where": row["where"],
                "what": f"{row['component']}, {row['quantity']}",
                "unit": row["unit"],
                "units": _UNITS.get(str(row["unit"]), (row["unit"],)),
                "lowest": low,
                "highest": high,
                **_limits(row, per),
                "due": why.get(name, ""),
                "sealed": seal(*_range_of(expected, name), f"{word} {name}"),
            }
        )
    return out


def _limits(row: dict[Any, Any], per: float) -> dict[str, Any]:
    """New value and limits in the own unit, and the limit in words."""
    new, condemning, shop = (_own(row[n], per) for n in ("new_value", "condemning_limit", "shop_limit"))
    unit = str(row["unit"])
    return {
        "new": new,
        "condemning": condemning,
        "shop": shop,
        "beyond": row["condemned_when"] == "beyond",
        "slack": LAST_FIGURE,
        "limit": "" if condemning is None else Units().text(condemning, unit),
    }


def _own(value: object, per: float) -> float | None:
    """A stored value in the own unit; None where there is none."""
    number = float(str(value))
    return None if np.isnan(number) else number * per


def _expected(state: Store, tables: Frames, points: pd.DataFrame, today: date) -> pd.DataFrame:
    """What the newest forecast expects now: expected, expected_sd [own unit] by point."""
    runs = forecasts_in_order(state)
    if runs.empty:
        return pd.DataFrame({"expected": [], "expected_sd": []})
    names = list(points["point"])
    path = state.read_run(str(runs["run_id"].iloc[-1]), "path", point=names)
    known = int(runs["data_version"].iloc[-1])
    asked = pd.DataFrame({"point": names, "vehicle": list(points["vehicle"]), "value": np.nan})
    asked["date"] = pd.Timestamp(today).as_unit("us")
    asked["odometer"] = place(asked.assign(odometer_read=np.nan), tables["mileage"])["odometer"]
    work = tables["work"]
    asked = asked[~reworked(asked, work[work["batch"] > known])]
    return measure_again(asked, path, points).set_index("point")[["expected", "expected_sd"]]


def _range_of(expected: pd.DataFrame, point: str) -> tuple[float, float]:
    if point not in expected.index:
        return np.nan, np.nan
    middle, sd = map(float, expected.loc[point].to_numpy(dtype=np.float64))
    reach = limit("reading", "unexpected_after") * sd
    return middle - reach, middle + reach


def _odometer(vehicle: str, today: date, tables: Frames) -> dict[str, Any]:
    """Unit in which the instrument shows, its last entry in words, whether readings need its figure now, and
    least and most of what fits the log (None: nothing bounds it)."""
    log = tables["mileage"]
    row = pd.DataFrame({"vehicle": [vehicle], "date": [pd.Timestamp(today).as_unit("us")]})
    instrument = instruments(row["vehicle"], row["date"], log)
    its, between = instrument.iloc[0], fitting_between(row, log)
    last = "no entry yet"
    if pd.notna(its["last_shown"]):
        last = f"{its['last_shown']:,.0f} {its['unit']} on {its['last_date']:%-d %B %Y}"
    needed = bool(odometer_needed(row, log, tables["usage"]).iloc[0])
    ends_of = {name: shown(between[side], instrument).iloc[0] for name, side in _ENDS.items()}
    bounds = {name: None if pd.isna(figure) else float(figure) for name, figure in ends_of.items()}
    return {"unit": str(its["unit"]), "last": last, "needed": needed, **bounds}


def _arrangement(table: pd.DataFrame, vehicle: str) -> str:
    return _name(table, vehicle, "arrangement")


def _name(table: pd.DataFrame, vehicle: str, column: str = "name") -> str:
    found = table.loc[table["vehicle"] == vehicle, column]
    return str(found.iloc[0]) if len(found) and pd.notna(found.iloc[0]) else ""


def today_here() -> date:
    """The present day: the later one where this machine's and UTC's differ, for phones tell their own."""
    return max(datetime.now(UTC).date(), datetime.now().astimezone().date())
