"""Text from strangers made harmless to show: in a message, on a terminal, on a page, in a spreadsheet.

A file name or a cell may carry control characters that move a terminal's cursor, characters that turn
the direction of reading round, or markup. What is shown is the same text with those made visible.
"""

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd  # only for signatures: messages must not wait for it

_FORMULA = re.compile(r"'*[=+\-@\t\r]")  # a spreadsheet may run what begins like this (CWE-1236)
_ESCAPED = r"^'('*[=+\-@\t\r])"
_NUMBER = re.compile(r"[-+]?[0-9.]+(e[-+]?[0-9]+)?")

# Controls but tab and line ends; DEL and the C1 block.
_CONTROLS = "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"
# Embeddings, overrides and isolates: Unicode Standard Annex 9, section 2.
_TURNING = "\u202a-\u202e\u2066-\u2069"
HOSTILE_IN_CELLS = f"[{_CONTROLS}{_TURNING}\ufffe\uffff]"
"""Pattern of the characters that no reading, name or note needs: controls, direction overrides."""

HOSTILE = re.compile(HOSTILE_IN_CELLS[:-1] + "\ud800-\udfff]")
"""The same and halves of characters, which only a file's name can hold."""


def neutral(text: str, longest: int = 80) -> str:
    """One line of harmless text: hostile characters as ``<U+202E>``, line ends as spaces, cut when long.

    Parameters
    ----------
    text : anything.
    longest : characters kept, at least 1.
    """
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    return HOSTILE.sub(_visible, " ".join(cut.split()))


def quoted(text: str, longest: int = 60) -> str:
    """`neutral` text within quotation marks, for messages."""
    return f"'{neutral(text, longest)}'"


def quoted_path(path: object, longest: int = 100) -> str:
    """A path within quotation marks; a long one is cut at its beginning, for its end says most."""
    text = neutral(str(path), 10_000)
    return f"'{text if len(text) <= longest else '…' + text[-longest:]}'"


def visible(text: str) -> str:
    """The whole text, hostile characters made visible; line ends and length kept."""
    return HOSTILE.sub(_visible, text)


def toml_of(text: str) -> dict[str, Any]:
    """TOML that people wrote, each text in it `harmless`.

    Raises
    ------
    ValueError : no TOML, longer than any settings are, or built so that reading it would take long.
    """
    import tomllib  # messages must not wait for these

    from ingest.figures import bound

    longest, most_dots = bound("toml", "longest_text"), bound("toml", "most_dots")
    if len(text) > longest:
        raise ValueError(f"it has {len(text):,} characters; at most {longest:,} are read")
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > most_dots:  # a key of thousands of parts takes time with their square
            raise ValueError(f"line {number} has more than {most_dots} full stops; break it into several")
    try:
        read: dict[str, Any] = harmless(tomllib.loads(text))
    except RecursionError:
        raise ValueError("its brackets stand too deep within each other") from None
    return read


def harmless(value: Any) -> Any:  # noqa: ANN401  # what JSON can say
    """The same value, each text in it `visible`: what people and other railways give goes through here."""
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, Mapping):
        return {harmless(key): harmless(inner) for key, inner in value.items()}
    return [harmless(inner) for inner in value] if isinstance(value, list | tuple) else value


def _visible(match: re.Match[str]) -> str:
    return f"<U+{ord(match.group()):04X}>"


def without_formulas(frame: "pd.DataFrame") -> "pd.DataFrame":
    """A table for a spreadsheet: a text that it could take for a formula gets an apostrophe in front.

    Improper neutralization of formula elements in a CSV file, CWE-1236. Numbers stay, also those written as
    text. Headings are treated like cells.
    """
    safe = frame.copy()
    for name in frame:
        if frame[name].dtype == "str":  # a million texts at once
            text = frame[name]
            risky = text.str.match(_FORMULA.pattern, na=False) & ~text.str.fullmatch(
                _NUMBER.pattern, na=False
            )
            safe[name] = text.mask(risky, "'" + text) if risky.any() else text
        elif frame[name].dtype.kind not in "biufcmM":
            safe[name] = frame[name].map(_unstarted)
    return safe.rename(columns=_unstarted)


def with_formulas(text: "pd.Series") -> "pd.Series":
    """Texts of a column as they were before :func:`without_formulas`."""
    if not text.str.startswith("'").any():
        return text
    return text.str.replace(_ESCAPED, r"\1", regex=True)


def _unstarted(cell: object) -> object:
    if isinstance(cell, str) and _FORMULA.match(cell) and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell
