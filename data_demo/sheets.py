"""The railway's papers: what happened in the shop, as rows of the sheets that people kept."""

from datetime import date

import numpy as np
import pandas as pd

from data_demo.draws import normal, uniform
from data_demo.notation import HANDS, hand_of, note_of, position_written, written
from data_demo.service import Service
from data_demo.shop import sheet_of
from data_demo.traffic import LAST_DAY, Running, mileage_log

NEW_SHEETS_FROM = date(2014, 1, 1)
"""From here on the readings are kept in workbooks."""
HUB_METER_FROM = date(2014, 6, 14)
"""Day on which Hobnail's odometer was replaced by a hub meter that counts kilometers from 0."""
KM_PER_MILE = 1.609344
WINTER_CHECK_ON = date(2026, 11, 14)
"""Two weeks after the last day of running: the engine stands, its log has no entry any more."""
WINTER_CODES = ("HOLLOW", "FLANGE", "SIDEROD", "MAINROD-BACK")
WINTER_HAND = next(hand for hand in HANDS if hand.initials == "E.L.")
READINGS = ["point", "date", "value", "unit", "odometer", "gauge", "observer", "note"]


def readings(service: Service) -> pd.DataFrame:
    """Return the readings of one engine as written, with the sheet that each stands on."""
    rows = []
    for (i, day), value in service.readings.items():
        point = service.rows[i]
        sheet = sheet_of(str(point["code"]))
        hand = hand_of(day, point["vehicle"], sheet, day)
        text, unit = written(value, str(point["unit"]), float(point["step"]), hand)
        gauge = str(point["gauge"]).removesuffix(" mm")
        odometer = _noted(service.running, day, str(point["vehicle"]), sheet)
        note = note_of(point["point"], day)
        rows.append((point["point"], day, text, unit, odometer, gauge, hand.initials, note, sheet))
    frame = pd.DataFrame(rows, columns=[*READINGS, "sheet"])
    return frame.sort_values(["date", "point"], kind="stable", ignore_index=True)


def named_in_words(frame: pd.DataFrame, points: pd.DataFrame) -> pd.DataFrame:
    """Return readings whose wear points are named by engine, part, position and dimension."""
    hands = {hand.initials: hand for hand in HANDS}
    about = points.set_index("point").loc[frame["point"]]
    places = zip(about["position"], frame["observer"], strict=True)
    words = {name: about[name].to_numpy() for name in ("vehicle", "component", "quantity")}
    words["position"] = np.array(
        [position_written(place, hands[hand]) for place, hand in places], dtype=object
    )
    return frame.drop(columns="point").assign(**words)[[*words, *frame.columns.drop("point")]]


def winter_check(service: Service) -> pd.DataFrame:
    """Return the readings of one morning after the season: drivers and rod bushings of an engine that stands.

    Nobody writes an odometer down: the engine has not moved since the last entry of its log.
    """
    rows = []
    for i, point in enumerate(service.rows):
        if str(point["code"]) not in WINTER_CODES or not str(point["position"]).startswith("driver"):
            continue
        gauge_error = float(point["sd"]) * normal(point["point"], WINTER_CHECK_ON, "gauge")
        value = max(service.value(i, service.wear(i, service.running.index(LAST_DAY))) + gauge_error, 0.0)
        text, unit = written(value, str(point["unit"]), float(point["step"]), WINTER_HAND)
        gauge = str(point["gauge"]).removesuffix(" mm")
        rows.append((point["point"], WINTER_CHECK_ON, text, unit, "", gauge, WINTER_HAND.initials, ""))
    return pd.DataFrame(rows, columns=READINGS)


def _noted(running: Running, day: date, vehicle: str, sheet: str) -> str:
    """Return the odometer that was noted with a day's readings; often it was not."""
    if uniform(vehicle, sheet, day, "odometer noted") > (0.45 if day < NEW_SHEETS_FROM else 0.7):
        return ""
    return shown(running, day)


def shown(running: Running, day: date) -> str:
    """Return what the odometer in use showed on a day."""
    if running.engine.code == "H" and day >= HUB_METER_FROM:
        return f"{(running.at(day) - running.at(HUB_METER_FROM)) * KM_PER_MILE:.0f} km"
    return f"{running.at(day):.0f}"


def mileage(running: Running) -> list[pd.DataFrame]:
    """Return the mileage log of one engine; a replaced odometer begins a new sheet in its own unit."""
    log = mileage_log(running)
    if running.engine.code != "H":
        return [log.assign(odometer=log["odometer"].round().astype(int), unit="mi")]
    old = log[log["date"] < HUB_METER_FROM]
    old = old.assign(odometer=old["odometer"].round().astype(int), unit="mi")
    began = running.at(HUB_METER_FROM)
    run = (began - log.loc[old.index[-1], "odometer"]) * KM_PER_MILE
    change = {"vehicle": [running.engine.vehicle], "date": [HUB_METER_FROM], "odometer": [began]}
    new = log[log["date"] > HUB_METER_FROM]
    new = pd.concat([pd.DataFrame({**change, "service_days": [1]}), new], ignore_index=True)
    new["odometer"] = ((new["odometer"] - began) * KM_PER_MILE).round(1)
    new = new.assign(unit="km", distance=np.nan, event="", note="")
    new[["distance", "event", "note"]] = new[["distance", "event", "note"]].astype(object)
    new.loc[0, ["distance", "event", "note"]] = [round(run, 1), "replaced", "hub meter fitted"]
    return [old, new]


def work(services: list[Service]) -> pd.DataFrame:
    """Return the shop's work book, sizes to the thousandth or the tenth of a millimeter."""
    rows = []
    for service in services:
        units = service.law.points.set_index("point")["unit"]
        for point, day, action, before, after, note in service.work:
            digits = 1 if units[point] == "mm" else 3
            known = not np.isnan(before) and uniform(point, day, "before noted") < 0.85
            old = f"{before:.{digits}f}" if known else ""
            rows.append((point, day, action, old, f"{max(after, 0.0):.{digits}f}", units[point], note))
    columns = ["point", "date", "action", "value_before", "value_after", "unit", "note"]
    return pd.DataFrame(rows, columns=columns).sort_values(
        ["date", "point"], kind="stable", ignore_index=True
    )
