"""How the hands of the railway write a measurement: fractions, sixty-fourths, thousandths, millimeters."""

from dataclasses import dataclass
from datetime import date
from math import gcd

from data_demo.draws import pick, uniform

MM = 25.4


@dataclass(frozen=True)
class Hand:
    """Someone who measures: initials, first and last season, and how coarse and fine sizes are written."""

    initials: str
    first: int
    last: int
    coarse: str
    fine: str


HANDS = (
    Hand("R.T.", 2005, 2013, "fraction", "decimal"),
    Hand("J.D.", 2005, 2016, "64ths", "thou"),
    Hand("P.S.", 2010, 2021, "marked fraction", "bare decimal"),
    Hand("A.V.", 2014, 2026, "mm", "mm"),
    Hand("M.K.", 2016, 2026, "decimal", "unit thou"),
    Hand("E.L.", 2021, 2026, "fraction in", "decimal in"),
)


def hand_of(day: date, *name: object) -> Hand:
    """Return who measured on a day."""
    there = [hand for hand in HANDS if hand.first <= day.year <= hand.last]
    chosen = pick([hand.initials for hand in there], *name, "hand")
    return next(hand for hand in there if hand.initials == chosen)


def fraction(sixty_fourths: int, join: str = " ") -> str:
    """Return a whole number of sixty-fourths as a fraction in lowest terms: 1 3/8."""
    whole, part = divmod(sixty_fourths, 64)
    if part == 0:
        return str(whole)
    common = gcd(part, 64)
    text = f"{part // common}/{64 // common}"
    return f"{whole}{join}{text}" if whole else text


def written(value: float, unit: str, step: float, hand: Hand) -> tuple[str, str]:
    """Return a measurement as a hand writes it, with what stands in the unit column.

    Parameters
    ----------
    value : measured, in `unit`.
    unit : in or mm, the unit of the wear point.
    step : what the gauge can be read to. [unit]
    """
    if unit == "mm":
        return f"{round(value / step) * step:.1f}", "" if hand.first < 2010 else "mm"
    if step < 1 / 64:
        return _fine(value, hand.fine)
    if hand.coarse == "mm":
        grid = 0.5 if step > 1 / 64 else 0.1
        return f"{round(value * MM / grid) * grid:.1f} mm", ""
    return _coarse(round(value / step) * round(step * 64), hand.coarse)


def _coarse(sixty_fourths: int, style: str) -> tuple[str, str]:
    match style:
        case "64ths":
            return f"{sixty_fourths}/64" if sixty_fourths else "0", ""
        case "marked fraction":
            return fraction(sixty_fourths, "-") + '"', ""
        case "decimal":
            return f"{sixty_fourths / 64:.4f}".rstrip("0").rstrip("."), "in"
        case "fraction in":
            return fraction(sixty_fourths) + " in", ""
    return fraction(sixty_fourths), "in"


def _fine(value: float, style: str) -> tuple[str, str]:
    thou = round(value * 1000)
    if style == "mm":
        return f"{value * MM:.2f} mm", ""
    if style == "thou" and thou < 1000:
        return f"{thou} thou", ""
    if style == "unit thou" and thou < 1000:
        return str(thou), "thou"
    if style == "bare decimal":
        return f"{thou / 1000:.3f}".removeprefix("0"), ""
    if style == "decimal in":
        return f"{thou / 1000:.3f} in", ""
    return f"{thou / 1000:.3f}", "in"


_ORDINALS = {"1": "1st", "2": "2nd", "3": "3rd", "4": "4th"}


def position_written(position: str, hand: Hand) -> str:
    """Return a position as a hand writes it: ``driver 2 left``, ``#2 driver L``, ``2nd driver left``."""
    words = position.split()
    if len(words) < 3 or not words[-2].isdigit():
        return position
    group, number, side = " ".join(words[:-2]), words[-2], words[-1]
    match hand.initials:
        case "M.K.":
            return f"#{number} {group} {side[0].upper()}"
        case "E.L.":
            return f"{_ORDINALS[number]} {group} {side}"
        case "P.S.":
            return f"{group} {number} {side[0].upper()}.H."
    return position


def note_of(*name: object) -> str:
    """Return the odd remark that a sheet carries."""
    if uniform(*name, "note") > 0.03:
        return ""
    remarks = [
        "by lamp",
        "wet",
        "grease not wiped off",
        "paint on the rim",
        "taken twice, same",
        "gauge lent",
    ]
    return pick(remarks, *name, "remark")
