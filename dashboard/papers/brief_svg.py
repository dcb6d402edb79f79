"""Small pieces of SVG for the pictures of the brief: every text escaped, no script, nothing from outside."""

import re
import unicodedata
from xml.sax.saxutils import escape, quoteattr

FONT = "Libertinus Serif, Georgia, Times New Roman, serif"
"""The first is built into the PDF writer; the others are what a reader's browser has."""

JOINERS = "\u200c\u200d"
"""Kept: without them words of some scripts and joined signs fall apart."""

INK = "#1c2b33"
QUIET = "#5b6b73"  # 5.6 : 1 on white
LINE = "#c3ccd0"
SURE = "#1f5a6e"
LIKELY = "#7fb0be"
LATE = "#b3541e"
PAPER = "#ffffff"
BAND = "#f1f4f5"


def clean(text: object) -> str:
    """One line of text without control and formatting characters, which no picture or document needs.

    A hard or narrow blank stays what it is: numbers of many languages are set apart by one.
    """
    kept = []
    for c in str(text):
        kind = unicodedata.category(c)
        if kind == "Zs" or c in JOINERS or kind[0] != "C":
            kept.append(c)
        elif kind == "Cc":
            kept.append(" ")
    return re.sub(r"[ \u2028\u2029]+", " ", "".join(kept)).strip()


def attributes(values: dict[str, object]) -> str:
    """Attributes of an element; ``stroke_width`` is written ``stroke-width``."""
    pairs = (f"{key.rstrip('_').replace('_', '-')}={quoteattr(_plain(v))}" for key, v in values.items())
    return " ".join(pairs)


def _plain(value: object) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else clean(value)


def rect(x: float, y: float, width: float, height: float, **more: object) -> str:
    """A rectangle; never of negative width."""
    box = {"x": float(x), "y": float(y), "width": float(max(width, 0.0)), "height": float(height)}
    return f"<rect {attributes(box | more)}/>"


def line(x1: float, y1: float, x2: float, y2: float, **more: object) -> str:
    """A straight line."""
    ends = {"x1": float(x1), "y1": float(y1), "x2": float(x2), "y2": float(y2)}
    return f"<line {attributes({'stroke': LINE} | ends | more)}/>"


def path(d: str, **more: object) -> str:
    """A path."""
    return f"<path {attributes({'d': d} | more)}/>"


def words(x: float, y: float, text: object, **more: object) -> str:
    """A line of text at its baseline."""
    style: dict[str, object] = {"x": float(x), "y": float(y), "fill": INK, "font_size": 14}
    return f"<text {attributes(style | more)}>{escape(clean(text))}</text>"


def document(width: float, height: float, title: str, alt: str, body: list[str], defs: str = "") -> str:
    """The whole picture; ``title`` and ``alt`` are what a screen reader says."""
    head = attributes(
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {width:g} {height:g}",
            "width": f"{width:g}",
            "height": f"{height:g}",
            "role": "img",
            "aria_label": f"{clean(title)}. {clean(alt)}",
            "font_family": FONT,
        }
    )
    texts = f"<title>{escape(clean(title))}</title><desc>{escape(clean(alt))}</desc>"
    return f"<svg {head}>{texts}{defs}{''.join(body)}</svg>"


STRIPES = (
    '<defs><pattern id="stripes" width="7" height="7" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="7" height="7" fill="#ffffff"/>'
    f'<rect width="3" height="7" fill="{LIKELY}"/></pattern></defs>'
)
"""A striped fill, so that colour is never alone."""
