"""The contract: tables, their columns, kinds, units and keys. One declaration drives everything else.

The public columns are those of the files that people hand in and get out; the internal columns are
what normalising adds. Cheap to import: the checks built from it are in ``ingest.verdicts.contracts``.
"""

from collections.abc import Mapping
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

_VEHICLES = Table(
    "vehicles",
    "Locomotives and tenders.",
    (
        Column("vehicle", "text", "name or number of the vehicle, as everywhere else", needed=True),
        Column("name", "text", "what people call it"),
        Column("arrangement", "text", "wheel arrangement in Whyte notation, 4-8-2; empty for a tender"),
        Column("class", "text", "vehicles of one class wear alike"),
        Column("service_from", "date", "first day in service"),
    ),
    key=("vehicle",),
    again="replaces",
)

_WEAR_POINTS = Table(
    "wear_points",
    "One measured quantity at one position of one vehicle, with its limits and their source.",
    (
        Column("point", "text", "short name of the wear point, unique in the store", needed=True),
        Column("vehicle", "text", "vehicle that it belongs to", needed=True),
        Column("component", "text", "tire, journal, crank pin, ...", needed=True),
        Column("position", "text", "where on the vehicle: wheelset from the front of its group, side L or R"),
        Column("quantity", "text", "hollow, flange thickness, diameter, clearance, ...", needed=True),
        Column("unit", "text", "unit in which people see it: in, mm, 1/64 in, %, ...", needed=True),
        Column("new_value", "number", "value of a new or rebuilt part", unit="base"),
        Column("shop_limit", "number", "value that it must meet to leave the shop", unit="base"),
        Column("condemning_limit", "number", "value at which the part may not run", unit="base"),
        Column(
            "condemned_when",
            "choice",
            "may it not run at the limit itself, or only beyond it",
            choices=("at", "beyond"),
        ),
        Column("limit_source", "text", "law, standard or own rule that sets the limit"),
        Column("gauge_sd", "number", "repeatability of the gauge, standard deviation", unit="base", low=0.0),
        Column(
            "access",
            "choice",
            "how deep the machine must be opened to renew it",
            choices=("in_place", "rods_down", "wheels_out"),
        ),
        Column("matched_set", "text", "points that must be kept alike (one turning for all) share a name"),
    ),
    key=("point",),
    again="replaces",
    internal=(
        Column("base_unit", "text", "mm for a length, otherwise the point's own unit"),
        Column(
            "per_base", "number", "value in the point's own unit = value in base unit × per_base", unit="1"
        ),
    ),
)

_POSITION_ALIASES = Table(
    "position_aliases",
    "The railway's own words for positions and wear points.",
    (
        Column("as_written", "text", "what your sheets say; case and punctuation do not matter", needed=True),
        Column("point", "text", "the wear point that is meant; or leave it empty and fill position"),
        Column("position", "text", "the position that is meant, as in the wear points"),
        Column("vehicle", "text", "the vehicle on which it means that; empty: on every vehicle"),
        Column("note", "text", "anything"),
    ),
    key=("as_written", "vehicle"),
    again="replaces",
)

_MILEAGE = Table(
    "mileage",
    "The mileage log: odometer readings or trip distances by date.",
    (
        Column("vehicle", "text", "vehicle", needed=True),
        Column("date", "date", "day of the entry", needed=True),
        Column(
            "odometer",
            "number",
            "miles on the vehicle, counted on across changes of the instrument",
            unit="mi",
            kept_as="odometer_read",
        ),
        Column("unit", "choice", "unit of odometer and distance in the file", choices=("mi", "km")),
        Column(
            "service_days", "number", "days in steam since the entry before", unit="d", low=0.0, high=366.0
        ),
        Column(
            "distance", "number", "run since the entry before; instead of an odometer", unit="mi", low=0.0
        ),
        Column(
            "event",
            "choice",
            "replaced: the count does not go on from before; rolled_over: it passed its last figure",
            choices=("", "replaced", "rolled_over"),
        ),
        Column("note", "text", "anything"),
    ),
    key=("vehicle", "date"),
    again="contradicts",
    internal=(
        Column("odometer_read", "number", "what the instrument showed", unit="mi"),
        Column(
            "odometer_source",
            "choice",
            "read, or estimated (some miles before it are not on record)",
            choices=("read", "estimated"),
        ),
        Column(
            "odometer_sd", "number", "standard deviation of odometer against the end of the log", unit="mi"
        ),
    ),
)

_READINGS = Table(
    "readings",
    "Measurements of wear points.",
    (
        Column("point", "text", "wear point", needed=True),
        Column("date", "date", "day of the measurement", needed=True),
        Column("value", "number", "what was measured", needed=True, unit="base", text="value_text"),
        Column("unit", "text", "unit of the value in the file; empty: that of the wear point"),
        Column(
            "odometer",
            "number",
            "miles on the vehicle when it was measured",
            unit="mi",
            low=0.0,
            text="odometer_text",
            kept_as="odometer_read",
        ),
        Column("gauge", "text", "instrument used"),
        Column("observer", "text", "who measured"),
        Column("note", "text", "anything"),
    ),
    key=("point", "date"),
    again="contradicts",
    parts=PARTS,
    internal=(
        Column("value_text", "text", "the value as it was written"),
        Column("odometer_text", "text", "the odometer as it was written, with its unit; empty if none was"),
        Column(
            "odometer_source",
            "choice",
            "read, interpolated in the mileage log, or estimated (some miles are not on record)",
            choices=("read", "interpolated", "estimated"),
        ),
        Column(
            "odometer_sd", "number", "standard deviation of odometer against the end of the log", unit="mi"
        ),
    ),
)

_WORK = Table(
    "work",
    "What the shop did: renewals and cuts.",
    (
        Column("point", "text", "wear point", needed=True),
        Column("date", "date", "day on which the work was done", needed=True),
        Column("action", "choice", "what was done", needed=True, choices=("renewed", "cut")),
        Column("value_before", "number", "measured before the work", unit="base"),
        Column("value_after", "number", "measured after the work", unit="base"),
        Column("unit", "text", "unit of the values in the file; empty: that of the wear point"),
        Column("note", "text", "anything"),
    ),
    key=("point", "date", "action"),
    again="contradicts",
    parts=PARTS,
)

_FINDINGS = Table(
    "findings",
    "What earlier tear-downs found.",
    (
        Column("vehicle", "text", "vehicle", needed=True),
        Column("date", "date", "day of the examination", needed=True),
        Column("component", "text", "what was examined", needed=True),
        Column("examined", "whole", "how many were examined", needed=True, unit="1", low=0.0, high=1e6),
        Column("defective", "whole", "how many of them were found defective", needed=True, unit="1", low=0.0),
        Column("note", "text", "anything"),
    ),
    key=("vehicle", "date", "component"),
    again="counts",
)

_COSTS = Table(
    "costs",
    "What a piece of work costs, in money, hours and days.",
    (
        Column("component", "text", "what is worked on", needed=True),
        Column("action", "text", "what is done", needed=True),
        Column("cost", "number", "money for one", needed=True, low=0.0, high=1e12),
        Column("currency", "text", "USD, GBP, ..."),
        Column("labor_hours", "number", "hours of work for one", unit="h", low=0.0, high=1e6),
        Column("days_out", "number", "days out of service", unit="d", low=0.0, high=1e5),
        Column("price_date", "date", "day to which the price belongs"),
    ),
    key=("component", "action", "price_date"),
    again="replaces",
)

_USAGE = Table(
    "usage",
    "Planned running by month.",
    (
        Column("vehicle", "text", "vehicle", needed=True),
        Column("month", "month", "month: 2026-05", needed=True),
        Column("miles_planned", "number", "miles in that month", needed=True, unit="mi", low=0.0, high=1e5),
        Column("miles_sd", "number", "standard deviation of these miles", unit="mi", low=0.0, high=1e5),
    ),
    key=("vehicle", "month"),
    again="replaces",
)

_FUNDS = Table(
    "funds",
    "Money pledged, received and spent.",
    (
        Column("date", "date", "day", needed=True),
        Column("amount", "number", "money", needed=True, low=-1e12, high=1e12),
        Column("currency", "text", "USD, GBP, ..."),
        Column("kind", "choice", "what it is", needed=True, choices=("pledged", "received", "spent")),
        Column("note", "text", "anything"),
    ),
    key=("date", "kind", "amount"),
    again="counts",
)

TABLES: Mapping[str, Table] = {
    table.name: table
    for table in (
        _VEHICLES,
        _WEAR_POINTS,
        _POSITION_ALIASES,
        _MILEAGE,
        _WORK,
        _READINGS,
        _FINDINGS,
        _COSTS,
        _USAGE,
        _FUNDS,
    )
}
"""All tables in the order in which rows are taken in: what others refer to comes first."""
