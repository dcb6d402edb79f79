"""Printed sheets, each kept under its code: a written one finds its engine and lines when it comes back."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.papers.round_sheet import code_of, parts_of, round_pdf
from ingest.errors import NotPossible
from ingest.store import Store

KIND = "round"
"""Kind of the runs that keep sheets: code, vehicle and wear points of one."""
DUE, ALL = "due", "all"
TITLES = {DUE: "Readings of {name}: what is due", ALL: "Readings of {name}: all places"}


def printed(store: Store, told: Mapping[str, Any], places: str, paper: str) -> bytes:
    """A round as PDF; its sheets are kept.

    Parameters
    ----------
    told : the round as ``rounds.round_of`` gives it.
    places : ``due`` or ``all``. paper : ``a4`` or ``letter``.

    Raises
    ------
    NotPossible : nothing is due to be read.
    """
    points = [str(each["point"]) for each in told["points"] if places == ALL or each["due"]]
    if not points:
        raise NotPossible("Nothing is due to be read on this engine. Print all places.")
    sheets = kept(store, str(told["vehicle"]), parts_of(points, paper))
    title = TITLES[places].format(name=told["name"] or told["vehicle"])
    return round_pdf(told, sheets, title=title, paper=paper)


def kept(store: Store, vehicle: str, parts: Sequence[list[str]]) -> list[dict[str, Any]]:
    """Code and points of each sheet. One printed before has the same code; no other sheet ever has it."""
    known = _known(store)
    out = []
    for points in parts:
        sheet = {"vehicle": vehicle, "points": points}
        turn = 0
        while (code := code_of(points, turn)) in known and known[code] != sheet:
            turn += 1
        if code not in known:
            store.save_run(KIND, {"code": code, **sheet}, {})
            known[code] = sheet
        out.append({"code": code, "points": points})
    return out


def sheet_of(store: Store, code: str) -> dict[str, Any]:
    """Vehicle and points of the sheet with a code, as it was printed; letters of either size.

    Raises
    ------
    NotPossible : no sheet was printed with that code.
    """
    wanted = code.strip().upper()
    found = _known(store).get(wanted)
    if found is None:
        raise NotPossible(
            f"No sheet with the code '{wanted[:8]}' was printed here. Compare it with the sheet, or choose "
            "the engine and find each line by its name."
        )
    return {"code": wanted, **found}


def _known(store: Store) -> dict[str, dict[str, Any]]:
    about = [json.loads(text) if isinstance(text, str) else dict(text) for text in store.runs(KIND)["about"]]
    return {each["code"]: {"vehicle": each["vehicle"], "points": each["points"]} for each in about}
