"""Units as people write them, and their canonical names. Cheap to import: ``ingest.units`` converts them."""

import re
import unicodedata

# What people write, after `_folded`. Lower case, no dots, one space between words.
_SPELLINGS = {
    "mm": "mm|millimetre|millimetres|millimeter|millimeters|mms|mil metres",
    "cm": "cm|centimetre|centimetres|centimeter|centimeters|cms",
    "m": "m|metre|metres|meter|meters",
    "µm": "µm|µ|um|micron|microns|micrometre|micrometres|micrometer|micrometers",
    "1/10 mm": "1/10 mm|1/10mm|0.1 mm|0.1mm|.1 mm|0,1 mm|0,1mm|zehntel|zehntel mm|zehntelmillimeter|"
    "dixième|dixièmes|dixièmes de mm|desetiny mm|dziesiąte mm|decimi|decimi di mm|tienden mm|tenths of a mm",
    "1/100 mm": "1/100 mm|1/100mm|0.01 mm|0.01mm|.01 mm|0,01 mm|0,01mm|hundertstel|hundertstel mm|"
    "hundertstelmillimeter|centième|centièmes|centièmes de mm|setiny mm|setne mm|centesimi|centesimi di mm|"
    "honderdsten mm|hundredths of a mm",
    "in": "in|ins|inch|inches|\"|''|zoll|pouce|pouces|cal|cale|cali|palec|palce",
    "thou": "thou|thous|thousandth|thousandths|mil|mils|thou in|0.001 in|.001 in|1/1000 in"
    '|0.001"|.001"|1/1000"',
    "1/8 in": '1/8 in|1/8 ins|1/8 inch|1/8"|8ths|8th|eighths|eighth|8ths in|eighths of an inch',
    "1/16 in": '1/16 in|1/16 ins|1/16 inch|1/16"|16ths|16th|sixteenths|sixteenth|16ths in|'
    "sixteenths of an inch",
    "1/32 in": '1/32 in|1/32 ins|1/32 inch|1/32"|32nds|32nd|32ds|thirty-seconds|thirty-second|32nds in|'
    "thirty-seconds of an inch",
    "1/64 in": '1/64 in|1/64 ins|1/64 inch|1/64"|64ths|64th|sixty-fourths|sixty-fourth|64ths in|'
    "sixty-fourths of an inch",
    "ft": "ft|foot|feet|'",
    "yd": "yd|yds|yard|yards",
    "mi": "mi|mile|miles|meile|meilen|statute mile|statute miles",
    "km": "km|kms|kilometre|kilometres|kilometer|kilometers|kilomètre|kilomètres|kilometr|kilometry",
    "%": "%|percent|per cent|pct",
    "hours": "hours|hour|h|hr|hrs",
    "days": "days|day",
    "psi": "psi|lb/in2|lbs/in2|lbf/in2",
    "bar": "bar",
    "kPa": "kpa",
    "lb": "lb|lbs|pound|pounds",
    "kg": "kg|kgs|kilogram|kilograms",
    "°": "°|deg|degree|degrees",
    "HB": "hb|hbw|bhn|brinell",
}
_CANONICAL = {word: unit for unit, words in _SPELLINGS.items() for word in words.split("|")}
MARKS = {"″": '"', "”": '"', "“": '"', "„": '"', "′": "'", "’": "'", "‘": "'", "⁄": "/", "μ": "µ"}
_MARKS = str.maketrans(MARKS)
LONGEST_UNIT = 24  # characters; a longer text in a unit column is a remark, not a unit


def unit_of(text: str) -> str | None:
    """Canonical name of a unit as people write it.

    Parameters
    ----------
    text : what the unit column, the heading or the cell says: ``inches``, ``"``, ``Thou.``, ``%``.

    Returns
    -------
    str or None : a key of `LENGTH_MM` or `DISTANCE_MI`; for any other unit its usual name, or the text
        itself, trimmed, in lower case; None where the text is empty or can be no unit (it holds a
        figure, or is longer than a unit is).
    """
    folded = _folded(text)
    if not folded:
        return None
    known = _CANONICAL.get(folded)
    if known is not None:
        return known
    impossible = len(folded) > LONGEST_UNIT or re.match(r"[-+.]?[0-9]", folded) or not folded.isprintable()
    return None if impossible else folded


def spellings(unit: str) -> list[str]:
    """How people write a canonical unit, in lower case; KeyError if there is no such unit."""
    return _SPELLINGS[unit].split("|")


def as_written() -> dict[str, str]:
    """Canonical unit by each way in which people write it."""
    return dict(_CANONICAL)


def is_known(unit: str) -> bool:
    """Whether `unit` is a canonical unit of this module, convertible or not (``in``, ``km``, ``%``)."""
    return unit in _SPELLINGS


def _folded(text: str) -> str:
    """Lower case, one space between words, no full stops, brackets or odd marks: only what tells units
    apart."""
    marked = unicodedata.normalize("NFC", str(text)).translate(_MARKS).strip().strip("()[]{}").lower()
    return " ".join(re.sub(r"[.,](?![0-9])", "", marked).split())
