"""Tables of vehicles: what they are, what is measured on them, what they ran and what befell them."""

from ingest.schema.declared import Column, Table

VEHICLES = Table(
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

WEAR_POINTS = Table(
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

POSITION_ALIASES = Table(
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

MILEAGE = Table(
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

GAUGES = Table(
    "gauges",
    "The instruments, how well they repeat and read, and until when a certificate holds.",
    (
        Column("gauge", "text", "number or name of the instrument, as in the readings", needed=True),
        Column("instrument", "text", "what it is: outside micrometer, tread gauge, feeler, ..."),
        Column("unit", "text", "unit of the figures in this row: in, mm, thou", needed=True),
        Column("resolution", "number", "smallest step that is read on it", unit="base", low=0.0),
        Column(
            "repeatability", "number", "standard deviation of the same part read again", unit="base", low=0.0
        ),
        Column("accuracy", "number", "largest error that it may have", unit="base", low=0.0),
        Column(
            "reads_high",
            "number",
            "known error: how much it reads too high; below zero: too low",
            unit="base",
        ),
        Column("certificate", "text", "number of the certificate, and who gave it"),
        Column("since", "date", "from this day on the row holds; empty: always"),
        Column("until", "date", "last day on which the certificate holds", ahead=True),
        Column("source", "text", "where the figures are from"),
        Column("note", "text", "anything"),
    ),
    key=("gauge", "since"),
    again="replaces",
)

FACTS = Table(
    "facts",
    "What is true of an engine and decides which limits and checks hold: axle load, main axle, country, ...",
    (
        Column("vehicle", "text", "vehicle", needed=True),
        Column(
            "fact", "text", "what is stated: axle_load_lb, main_axle, limit_set, country, ...", needed=True
        ),
        Column("value", "text", "the figure or the word", needed=True),
        Column("unit", "text", "unit of a figure, where the name of the fact does not say it"),
        Column("source", "text", "drawing, weighing, certificate, or who says so"),
        Column("date", "date", "day on which it was found"),
        Column("note", "text", "anything"),
    ),
    key=("vehicle", "fact"),
    again="replaces",
)

EVENTS = Table(
    "events",
    "What befell an engine and may have changed its wear: hot bearing, derailment, another lubricant, ...",
    (
        Column("vehicle", "text", "vehicle", needed=True),
        Column("date", "date", "day", needed=True),
        Column(
            "event", "text", "what happened: hot bearing, derailment, lubricant, lining, ...", needed=True
        ),
        Column("component", "text", "components that it concerns; empty: the whole vehicle"),
        Column("point", "text", "the wear point that it concerns, where it is one"),
        Column("part_no", "text", "the part that it concerns, where parts are named"),
        Column("note", "text", "anything: from what to what, how long"),
    ),
    key=("vehicle", "date", "event", "component", "point", "part_no"),
    again="replaces",
)
