"""Reasons for holding rows back: which row, which column, what was found there, and why it will not do."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

COLUMNS = ["at", "column", "found", "reason", "firm", "question", "waits"]
CELLS, NAMES, POINT, ASKED, UNTIL = "cells", "names", "point", "asked at the point", "until "
"""What would have to change before a reason falls: the cells themselves; what is called how; entries of the
same table and work at the same wear point, or the vehicle's log (a reading's own value may follow,
:func:`at_point`); for a question these, or the rows that came with it; the day (with it). Empty: anything.
"""


def at_point(value: float) -> str:
    """``POINT`` of a reading of that value [base unit]: of other readings there only those that go, or that
    have the very value, can make its reasons fall. It contradicts what it does, whatever else comes."""
    return f"{POINT} {float(value)!r}"


def value_at_point(waits: str) -> float | None:
    """The value that :func:`at_point` was given; None of anything else that a reason may wait for."""
    what, _, value = waits.partition(" ")
    return float(value) if what == POINT and value else None


@dataclass
class Problems:
    """A growing list of reasons; a row may have several.

    ``at`` is the label of the row in the frame being judged; ``firm`` says that the row cannot be stored; any
    other row may be accepted as it is by a person; ``question`` is the id of the question for whose answer it
    waits; ``waits`` is what would have to change before the reason falls.
    """

    parts: list[pd.DataFrame] = field(default_factory=list)
    firm: bool = True
    waits: str = ""

    def add(
        self,
        at: pd.Index,
        column: str,
        found: pd.Series | str,
        reason: pd.Series | str,
        question: str = "",
        waits: pd.Series | None = None,
    ) -> None:
        """Add a reason for each row label in ``at``; texts for all of them or one a row."""
        if len(at):
            texts = {"column": column, "found": _texts(found), "reason": _texts(reason)}
            until = self.waits if waits is None else _texts(waits)
            texts |= {"question": question, "waits": until}
            self.parts.append(pd.DataFrame({"at": at}).assign(**texts, firm=self.firm))

    def drop(self, at: pd.Index, *, column: str | None = None, doubts: bool = False) -> None:
        """Take back what was said of rows: about one column, or all doubts."""
        self.parts = [
            part[~(part["at"].isin(at) & ((part["column"] == column) | (doubts & ~part["firm"])))]
            for part in self.parts
        ]

    def where(
        self,
        mask: pd.Series,
        column: str,
        found: pd.Series,
        reason: pd.Series | str,
        waits: pd.Series | None = None,
    ) -> None:
        """Add a reason for each row where the mask holds; texts are taken by label."""
        if mask.any():
            rows = mask.index[mask]
            words = reason.loc[rows] if isinstance(reason, pd.Series) else reason
            until = None if waits is None else waits.loc[rows]
            self.add(rows, column, found.loc[rows], words, waits=until)

    @contextmanager
    def doubts(self) -> Iterator[None]:
        """Reasons added within the block are doubts: a person who knows better may accept the row."""
        self.firm = False
        try:
            yield
        finally:
            self.firm = True

    @contextmanager
    def waiting_for(self, what: str) -> Iterator[None]:
        """Reasons added within the block stand until that changes: ``CELLS``, ``NAMES``, ``POINT``."""
        before, self.waits = self.waits, what
        try:
            yield
        finally:
            self.waits = before

    def frame(self) -> pd.DataFrame:
        """All reasons so far: at, column, found, reason."""
        if not self.parts:
            empty = pd.DataFrame({name: pd.Series([], dtype="str") for name in COLUMNS})
            return empty.astype({"firm": bool})
        return pd.concat(self.parts, ignore_index=True)

    def rows(self, *, firm: bool = False) -> pd.Index:
        """Labels of the rows with at least one reason; with ``firm``, one that is more than a doubt."""
        parts = [part["at"][part["firm"]] if firm else part["at"] for part in self.parts]
        labels = [part.to_numpy() for part in parts if len(part)]
        return pd.Index(pd.unique(np.concatenate(labels))) if labels else pd.Index([], dtype="int64")

    def has(self, column: str, index: pd.Index) -> NDArray[np.bool_]:
        """Which rows of an index already have a reason in a column."""
        labels = [part["at"] for part in self.parts if (part["column"] == column).any()]
        return index.isin(np.concatenate(labels)) if labels else np.zeros(len(index), dtype=bool)


def _texts(texts: pd.Series | str) -> NDArray[np.object_] | str:
    return texts if isinstance(texts, str) else texts.to_numpy(dtype=object)
