"""How people write figures, distances and dates into the cells of a sheet, and what a cell is then worth.

The paper is the truth: a value is rounded as it is written, and what the cell says is what must be stored.
"""

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from messy.invented_railways import PER_UNIT


@dataclass(frozen=True)
class Cell:
    """One cell: text, number, day or nothing; how a number is shown; whether it is struck out."""

    content: str | float | date | None
    shown_as: str = ""
    struck: bool = False
    struck_before: str = ""
    """Text that stands struck out before the content, in the same cell."""


@dataclass(frozen=True)
class Notation:
    """How one hand writes values.

    ``decimal`` the mark; ``form`` decimal, trimmed (no trailing zeros), fraction, or parts (of an inch: a
    count); ``cell`` text, number or shown (a number whose unit only its format tells); ``inline`` whether the
    unit stands in the cell; ``thousands`` whether thousands are marked.
    """

    name: str
    units: tuple[str, ...]
    decimal: str = "."
    form: str = "decimal"
    cell: str = "number"
    inline: bool = False
    thousands: bool = False
    spellings: dict[str, str] = field(default_factory=dict)


NOTATIONS = {
    made.name: made
    for made in (
        Notation("plain", ("in", "mm", "thou")),
        Notation("text", ("in", "mm", "thou"), cell="text"),
        Notation("comma", ("in", "mm"), decimal=",", cell="text"),
        Notation("comma trimmed", ("in", "mm"), decimal=",", form="trimmed", cell="text"),
        Notation("comma thousands", ("mm",), decimal=",", cell="text", thousands=True),
        Notation("point thousands", ("mm", "thou"), cell="text", thousands=True),
        Notation("fraction", ("in",), form="fraction", cell="text"),
        Notation("inline", ("in", "mm", "thou"), cell="text", inline=True),
        Notation("inline inches", ("in",), form="fraction", cell="text", inline=True, spellings={"in": '"'}),
        Notation("inline comma", ("mm",), decimal=",", cell="text", inline=True),
        Notation("shown", ("in", "mm", "thou"), cell="shown", inline=True),
    )
}
_FIGURES = {"in": 3, "mm": 2, "thou": 0}
_SHOWN = {"in": '0.000 "in"', "mm": '0.00 "mm"', "thou": '0 "thou"'}


def written(notation: Notation, mm: float, unit: str) -> tuple[Cell, float]:
    """The cell for a value, and what it is worth as written. [mm]"""
    per = PER_UNIT[unit]
    if notation.form == "fraction":
        sixty_fourths = round(mm / per * 64)
        text = _fraction(sixty_fourths)
        worth = sixty_fourths / 64 * per
        return Cell(text + _unit(notation, unit)), worth
    figures = _FIGURES[unit]
    amount = round(mm / per, figures)
    worth = amount * per
    if notation.cell == "number":
        return Cell(float(amount)), worth
    if notation.cell == "shown":
        return Cell(float(amount), shown_as=_SHOWN[unit]), worth
    text = f"{amount:,.{figures}f}" if notation.thousands else f"{amount:.{figures}f}"
    if notation.form == "trimmed" and "." in text:
        text = text.rstrip("0").rstrip(".")
    if notation.decimal == ",":
        text = text.translate(str.maketrans(",.", ".,"))
    return Cell(text + _unit(notation, unit)), worth


def _fraction(sixty_fourths: int) -> str:
    sign, count = ("-", -sixty_fourths) if sixty_fourths < 0 else ("", sixty_fourths)
    whole, part = divmod(Fraction(count, 64), 1)
    if not part:
        return f"{sign}{whole}"
    return f"{sign}{whole} {part}" if whole else f"{sign}{part}"


def _unit(notation: Notation, unit: str) -> str:
    if not notation.inline:
        return ""
    spelling = notation.spellings.get(unit, unit)
    return spelling if spelling == '"' else f" {spelling}"


DATE_FORMS = {
    "iso": "%Y-%m-%d",
    "dmy slashes": "%d/%m/%Y",
    "dmy dots": "%d.%m.%Y",
    "mdy slashes": "%m/%d/%Y",
    "short dmy": "%d/%m/%y",
    "in words": "%d %b %Y",
}
MONTHS = {
    "German words": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "French words": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "Polish words": "stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października "
    "listopada grudnia",
    "Czech words": "ledna února března dubna května června července srpna září října listopadu prosince",
    "Roman months": "I II III IV V VI VII VIII IX X XI XII",
}
"""Forms of dates whose month is a word of a language, from January on."""
ORDER = {"dmy slashes": "dmy", "dmy dots": "dmy", "mdy slashes": "mdy", "short dmy": "dmy"}
"""The order of day and month that a form has, where its figures do not tell."""


def day_cell(form: str, day: date) -> Cell:
    """A day as it is written; ``real`` is a date of the spreadsheet."""
    if form in MONTHS:
        return Cell(f"{day.day}. {MONTHS[form].split()[day.month - 1]} {day.year}")
    return Cell(day, shown_as="yyyy-mm-dd") if form == "real" else Cell(day.strftime(DATE_FORMS[form]))
