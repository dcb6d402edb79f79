"""Wheelsets that changed places: from that day on their readings, work and truth stand at the other place.

A wheelset wears as it would have at its old place: what is drawn for it stays drawn for it.
"""

from datetime import date

import pandas as pd

from data_demo.service import Service

EXCHANGED = (("Hobnail", "tender 2", "tender 3", date(2021, 4, 12)),)
"""Vehicle, two axles, and the day on which their wheelsets were exchanged; told in ``fitted.csv``."""
OF_WHEELSET = ("HOLLOW", "FLANGE", "HEIGHT", "RIM", "JOURNAL")
"""Kinds that go with a wheelset."""


def exchange(service: Service) -> None:
    """Put what was measured and done after an exchange at the place where the wheelset was by then."""
    for vehicle, one, other, day in EXCHANGED:
        if service.running.engine.vehicle != vehicle:
            continue
        to = _places(service, one, other)
        row_of = {str(row["point"]): i for i, row in enumerate(service.rows)}
        moved = {i: row_of[to[point]] for point, i in row_of.items() if point in to}
        service.readings = {
            (moved.get(i, i) if on >= day else i, on): value for (i, on), value in service.readings.items()
        }
        service.work = [
            (to.get(point, point) if on >= day else point, on, action, before, after, note)
            for point, on, action, before, after, note in service.work
        ]


def truth_of(service: Service) -> pd.DataFrame:
    """The truth of an engine, each life at the place where its wheelset is on the last day."""
    told = service.truth()
    for vehicle, one, other, _ in EXCHANGED:
        if service.running.engine.vehicle == vehicle:
            to = _places(service, one, other)
            order = told["point"].tolist()
            told = told.assign(point=[to.get(point, point) for point in order])
            told = told.set_index("point").loc[order].reset_index()
    return told


def _places(service: Service, one: str, other: str) -> dict[str, str]:
    """Wear points of the wheelsets of two axles, each with the one of the other axle."""
    code = {
        (row["axle"], row["position"].rsplit(" ", 1)[-1], row["code"]): str(row["point"])
        for row in service.rows
        if row["code"] in OF_WHEELSET and row["axle"] in (one, other)
    }
    return {point: code[(other if axle == one else one, *kind)] for (axle, *kind), point in code.items()}
