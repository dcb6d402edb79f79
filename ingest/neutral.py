"""Text from strangers made harmless to show: in a message, on a terminal, on a page.

A file name or a cell may carry control characters that move a terminal's cursor, characters that turn
the direction of reading round, or markup. What is shown is the same text with those made visible.
"""

import re

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


def _visible(match: re.Match[str]) -> str:
    return f"<U+{ord(match.group()):04X}>"
