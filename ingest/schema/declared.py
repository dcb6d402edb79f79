"""What a table and a column of the contract are."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "number", "whole", "date", "month", "choice"]


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name : as in the files.
    kind : what a cell holds once normalised: text (``str``, empty = missing), number (float, NaN =
        missing), whole (float without a fraction), date and month (``datetime64[us]``; a month is its
        first day), choice (one of ``choices``).
    meaning : one line for people.
    needed : a row without it is held back.
    unit : unit of a number after normalising: ``mi``, ``base`` (mm for a length, otherwise the wear
        point's own unit), ``1``, ``d``, ``h``; empty for what is no quantity.
    choices : allowed words of a choice; the first is taken where the cell is empty, unless ``needed``.
    low, high : allowed range of a number, both ends allowed.
    text : internal column that keeps a number as it was written; empty where the number alone is kept.
    kept_as : internal column in which the store keeps what was read, where the public one is worked out from
        it; see ``stored``.
    ahead : a date that may lie in the future: what is planned, expected or valid until then.
    """

    name: str
    kind: Kind
    meaning: str
    needed: bool = False
    unit: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    text: str = ""
    kept_as: str = ""
    ahead: bool = False

    @property
    def stored(self) -> str:
        """Name of the column that holds what was read, as the store keeps it."""
        return self.kept_as or self.name


@dataclass(frozen=True)
class Table:
    """One table: its public columns in the order of the files, what normalising adds, and its key.

    Attributes
    ----------
    key : columns that name a row.
    parts : columns of the wear points by which a row may name its point instead; vehicle, component, ...
    again : what a second row of the same key means: ``replaces`` (a new version of the row; the old one
        is retracted, never overwritten), ``contradicts`` (held back unless it says the same) or
        ``counts`` (another row; equal rows are counted, so that two equal gifts are two gifts).
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    again: Literal["replaces", "contradicts", "counts"]
    internal: tuple[Column, ...] = ()
    parts: tuple[str, ...] = ()

    @property
    def public(self) -> tuple[str, ...]:
        """Names of the public columns."""
        return tuple(column.name for column in self.columns)

    @property
    def needed(self) -> tuple[str, ...]:
        """Names of the public columns that every row must fill."""
        return tuple(column.name for column in self.columns if column.needed)

    @property
    def all_columns(self) -> tuple[Column, ...]:
        """Public and internal columns."""
        return self.columns + self.internal

    def column(self, name: str) -> Column:
        """Return the column of that name; KeyError if there is none."""
        for column in self.all_columns:
            if column.name == name:
                return column
        raise KeyError(name)


PARTS = ("vehicle", "component", "position", "quantity")
"""What a wear point is, in words: the columns by which a reading or work may name it."""

SOURCE = ["source_file", "source_sheet", "source_row"]
"""Where a row was read: file, sheet, row in the file."""
