"""Reasons for holding rows back: which row, which column, what was found there, and why it will not do."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

COLUMNS = ["at", "column", "found", "reason"]


@dataclass
class Problems:
    """A growing list of reasons; a row may have several.

    ``at`` is the label of the row in the frame being judged.
    """

    parts: list[pd.DataFrame] = field(default_factory=list)

    def add(self, at: pd.Index, column: str, found: pd.Series | str, reason: pd.Series | str) -> None:
        """Add a reason for each row label in ``at``; texts for all of them or one a row."""
        if len(at):
            texts = {"column": column, "found": _texts(found), "reason": _texts(reason)}
            self.parts.append(pd.DataFrame({"at": at}).assign(**texts))

    def where(self, mask: pd.Series, column: str, found: pd.Series, reason: pd.Series | str) -> None:
        """Add a reason for each row where the mask holds; texts are taken by label."""
        if mask.any():
            at = mask.index[mask]
            self.add(at, column, found.loc[at], reason.loc[at] if isinstance(reason, pd.Series) else reason)

    def frame(self) -> pd.DataFrame:
        """All reasons so far: at, column, found, reason."""
        if not self.parts:
            return pd.DataFrame({name: pd.Series([], dtype="str") for name in COLUMNS})
        return pd.concat(self.parts, ignore_index=True)

    def rows(self) -> pd.Index:
        """Labels of the rows with at least one reason."""
        return (
            pd.Index(np.unique(np.concatenate([part["at"] for part in self.parts])))
            if self.parts
            else pd.Index([])
        )

    def has(self, column: str, index: pd.Index) -> NDArray[np.bool_]:
        """Which rows of an index already have a reason in a column."""
        at = [part["at"] for part in self.parts if (part["column"] == column).any()]
        return index.isin(np.concatenate(at)) if at else np.zeros(len(index), dtype=bool)


def _texts(texts: pd.Series | str) -> NDArray[np.object_] | str:
    return texts if isinstance(texts, str) else texts.to_numpy(dtype=object)
