"""Photos taken at the engine: made anew apart from this process, kept with the wear point shown."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import pandas as pd

from dashboard.pit.confirmed import ONE_AT_A_TIME
from dashboard.pit.entries import FILE, checked_id, checked_texts
from dashboard.shop.photos import Photo, check_photo, row_of_photo
from ingest.store import Store
from ingest.store.store import now
from ingest.verdicts.add import add_rows
from ingest.verdicts.handed_in import SHEETS, HandedIn
from ingest.verdicts.report import ALREADY_KNOWN


def take_in_picture(
    store: Store, content: bytes, about: Mapping[str, str], who: str, today: date
) -> dict[str, Any]:
    """Keep a photo and its row, unless it came in before.

    Parameters
    ----------
    about : id, point, date, observer, note, as the phone says them.

    Returns
    -------
    id, verdict (accepted, held back, already known) and reasons.

    Raises
    ------
    UnreadableFile : no picture that can be drawn.
    WrongUsage : what is said about it is no such thing.
    """
    number, said = checked_id(about.get("id"), "The photo"), checked_texts(about, "The photo")
    photo = check_photo(content, "photo")
    with ONE_AT_A_TIME:
        if len(store.entries_of("pictures", [number])):
            return {"id": number, "verdict": ALREADY_KNOWN, "reasons": ""}
        shown = {**_place(store, said["point"]), "date": said["date"], "note": said["note"]}
        shown |= {"taken_by": said["observer"], "client_id": number, "file_name": ""}
        handed_in = _handed_in(row_of_photo(photo, shown, who), photo)
        report = add_rows(store, handed_in, who=who, today=today)
    told = report.verdicts.iloc[0]
    return {"id": number, "verdict": str(told["verdict"]), "reasons": str(told["reasons"])}


def _place(store: Store, point: str) -> dict[str, str]:
    points = store.read("wear_points")
    shown = points[points["point"] == point]
    about = {name: "".join(shown[name].head(1)) for name in ("vehicle", "component", "position")}
    return {**about, "point": point}


def _handed_in(row: Mapping[str, object], photo: Photo) -> HandedIn:
    stamp = f"{FILE} {now():%Y-%m-%d %H:%M:%S}"
    origin = {"source_file": stamp, "source_sheet": "", "source_row": 1}
    sheets = pd.DataFrame([(stamp, "", "pictures", "")], columns=SHEETS)
    rows = {"pictures": pd.DataFrame([{**row, **origin}])}
    return HandedIn(rows, sheets, pictures=(photo.content,))
