"""What people wrote in comments on the cells of a workbook (.xlsx): a reader of cells passes them over.

A comment says of one cell what a column of notes says of a row: that the value was estimated, that the part
is new. It goes with its cell, behind the cell's text, in characters that no cell holds.
"""

import posixpath
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree  # safe after `check_workbook`: it refuses declarations and bombs

from ingest.figures import bound
from ingest.neutral import visible
from ingest.sheets.contents import LETTER_0, REMARK
from ingest.sheets.sheetxml import reference

_OF_TALK = frozenset({"comment", "kommentar", "commentaire", "comentario", "commento", "opmerking"})
"""The line below which the words of a conversation stand, in its copy for programs that know only plain
comments; the copy begins with a bracket (from memory)."""


def cell_remarks(archive: zipfile.ZipFile, part: str) -> dict[tuple[int, int], str]:
    """Comments on the cells of a sheet, by row and column, both counted from 1.

    Parameters
    ----------
    part : of the sheet in the archive; one that is not there, or has no comments, gives none.

    Notes
    -----
    ECMA-376 Part 1, 18.7 (comments), 12.3.3 (their part); conversations: [MS-XLSX] 2.6.205.
    """
    found: dict[tuple[int, int], str] = {}
    longest = bound("cell", "longest_remark")
    for target in _targets(archive, part):
        try:
            root = ElementTree.fromstring(archive.read(target))  # noqa: S314
        except (KeyError, ElementTree.ParseError):
            continue
        for item in root.iter():
            if item.tag.rpartition("}")[2] in ("comment", "threadedComment"):
                said = _said(_text(item)[: 4 * longest])
                row, column = reference(item.get("ref", ""))
                said = " ".join(said.split())[:longest]
                before = found.get((row, column), "")
                if row and column and said and said not in before:
                    found[row, column] = f"{before}; {said}".removeprefix("; ")[:longest]
    return found


def _targets(archive: zipfile.ZipFile, part: str) -> Iterator[str]:
    """Parts of the archive that hold comments of a sheet."""
    folder, name = posixpath.split(part)
    try:
        links = ElementTree.fromstring(archive.read(f"{folder}/_rels/{name}.rels"))  # noqa: S314
    except (KeyError, ElementTree.ParseError):
        return
    for link in links:
        if link.get("Type", "").endswith(("/comments", "/threadedComment")):
            target = link.get("Target", "")
            yield target.lstrip("/") if target[:1] == "/" else posixpath.normpath(f"{folder}/{target}")


def _text(item: ElementTree.Element) -> str:
    return "".join(part.text or "" for part in item.iter() if part.tag.rpartition("}")[2] in ("t", "text"))


def _said(text: str) -> str:
    """What a comment says, without what a program puts before the words of a conversation."""
    lines = text.splitlines()
    heads = [place for place, line in enumerate(lines) if line.strip(" :").casefold() in _OF_TALK]
    return "\n".join(lines[heads[0] + 1 :]) if text.startswith("[") and heads else text


def behind(said: str) -> str:
    """A comment as marks behind the text of its cell."""
    return REMARK + "".join(chr(ord(LETTER_0) + byte) for byte in said.encode()) if said else ""


def told(marks: str) -> str:
    """The comment among the marks of a cell; hostile characters are made visible."""
    _, _, letters = marks.partition(REMARK)
    codes = [ord(letter) - ord(LETTER_0) for letter in letters]
    said = bytes(code for code in codes if 0 <= code <= 255).decode(errors="replace")
    return visible(said)[: bound("cell", "longest_remark")]
