"""The printed round: an engine's places in walking order with boxes to write in, and a code on each sheet."""

import hashlib
import json
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from dashboard.papers.brief import PAPERS
from dashboard.papers.brief_svg import clean
from dashboard.pictures.drawing import Drawing, to_svg

TEMPLATE = Path(__file__).parent / "round_templates" / "round.typ"
ROWS = {"a4": 24, "letter": 21}
"""Wear points on one sheet, by its paper."""
HEAD = (
    "",
    "Place and wear point",
    "unit",
    "reading",
    "read again",
    "not reached",
    "looks cracked",
    "gauge, note",
)
FIELDS = (("Day", 18), ("Who reads", 27), ("Gauge", 20), ("Odometer, as the instrument shows it", 33))
_LETTERS = "ACDEFHJKLMNPQRTUVWXY34679"
"""Letters and figures of a code that no hand makes look like another."""
_LONG = 5


def parts_of(points: list[str], paper: str) -> list[list[str]]:
    """Names of wear points cut into sheets of a paper."""
    most = ROWS[paper]
    return [points[start : start + most] for start in range(0, len(points), most)]


def code_of(points: list[str], turn: int = 0) -> str:
    """Code of a sheet with these wear points in this order; another one for each `turn`."""
    told = "\0".join([*points, *[str(turn)] * (turn > 0)])
    number = int.from_bytes(hashlib.sha256(told.encode()).digest()[:8])
    letters = ""
    for _ in range(_LONG):
        number, at = divmod(number, len(_LETTERS))
        letters += _LETTERS[at]
    return letters


def round_pdf(
    told: Mapping[str, Any], sheets: Sequence[Mapping[str, Any]], *, title: str, paper: str = "a4"
) -> bytes:
    """The sheets as PDF.

    Parameters
    ----------
    told : the round as the page takes it: vehicle, name, as_of, points, odometer, scene, size.
    sheets : code and points (names, in walking order) of each.
    title : what stands above each sheet.
    paper : ``a4`` or ``letter``.
    """
    import typst

    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "round.typ").write_bytes(TEMPLATE.read_bytes())
        if told["scene"]:
            drawing = Drawing(told["scene"], *told["size"])
            (root / "engine.svg").write_text(to_svg(drawing), encoding="utf-8")
        (root / "round.json").write_text(json.dumps(_printed(told, sheets, title, paper)), encoding="utf-8")
        compiler: Any = typst.Compiler(str(root / "round.typ"), root=str(root))
        return bytes(compiler.compile(format="pdf"))


def _printed(
    told: Mapping[str, Any], sheets: Sequence[Mapping[str, Any]], title: str, paper: str
) -> dict[str, Any]:
    """Every word of the sheets."""
    name = clean(told["name"] or told["vehicle"])
    by_point = {each["point"]: each for each in told["points"]}
    numbers = {place["key"]: str(i) for i, place in enumerate(told["places"], start=1)}
    unit = clean(told["odometer"]["unit"])
    return {
        "title": clean(title),
        "alt": f"The places of {name}, numbered in the order in which one walks",
        "paper": PAPERS[paper],
        "picture": bool(told["scene"]),
        "fields": [
            (f"{words} [{unit}]" if "instrument" in words else words, width) for words, width in FIELDS
        ],
        "head": list(HEAD),
        "footer": f"Printed on {told['as_of']}. At the desk: type the code, then the readings in this order; "
        "n: not reached, c: looks cracked.",
        "sheets": [
            {"code": each["code"], "rows": _rows([by_point[name] for name in each["points"]], numbers)}
            for each in sheets
        ],
    }


def _rows(points: list[dict[str, Any]], numbers: Mapping[str, str]) -> list[dict[str, str]]:
    """Rows of a sheet; the place is said where it begins."""
    rows, before = [], ""
    for each in points:
        fresh = each["where"] != before
        before = each["where"]
        row = {"number": numbers[each["place"]], "place": clean(each["where"]) if fresh else ""}
        rows.append({**row, **{name: clean(each[name]) for name in ("what", "unit", "due")}})
    return rows
