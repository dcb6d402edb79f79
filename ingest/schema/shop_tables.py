"""Tables of the shop: readings, work, parts and openings, what was found."""

from ingest.schema.declared import PARTS, Column, Table

PART_NO = Column("part_no", "text", "number of the part itself, where parts have numbers of their own")
OPENING = Column("opening", "text", "the opening of the engine that it belongs to")
CLIENT_ID = Column("client_id", "text", "number that the device gave the entry: sent twice, it is one entry")
WHY = Column(
    "why",
    "choice",
    "why it was taken off: worn, by age, after an accident, or because it lay open; empty: not known",
    choices=("", "worn", "age", "accident", "while_open"),
)
"""A life that was ended early ran longer than its end says; without a reason nobody knows which did."""

DEPTHS = ("", "in_place", "rods_down", "wheels_out")
METHODS = ("", "looked_at", "hammer", "dye", "magnetic_particle", "ultrasonic")
VERDICTS = ("", "run_on", "watch", "repair", "renew")

READINGS = Table(
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
        PART_NO,
        OPENING,
        Column(
            "found_or_left",
            "choice",
            "at an opening: as found, or as left after the work",
            choices=("", "found", "left"),
        ),
        CLIENT_ID,
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
            "read, interpolated in the mileage log, estimated (some miles are not on record), or that of the "
            "log's last entry",
            choices=("read", "interpolated", "estimated", "last entry"),
        ),
        Column(
            "odometer_sd", "number", "standard deviation of odometer against the end of the log", unit="mi"
        ),
    ),
)

WORK = Table(
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
        PART_NO,
        OPENING,
        WHY,
    ),
    key=("point", "date", "action"),
    again="contradicts",
    parts=PARTS,
)

FINDINGS = Table(
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

PARTS_WITH_NUMBERS = Table(
    "parts",
    "Parts with a number of their own: they wear wherever they are fitted.",
    (
        Column("part_no", "text", "number stamped on the part, or given to it", needed=True),
        Column("component", "text", "what it is: driving wheelset, driving box, main rod, ...", needed=True),
        Column("class", "text", "parts of one class fit each other's places"),
        Column("material", "text", "bronze, white metal, steel grade, ..."),
        Column("maker", "text", "who made it"),
        Column("made", "text", "when it was made, as far as it is known"),
        Column("miles_before", "number", "run before its first fitting on record", unit="mi", low=0.0),
        Column("note", "text", "anything"),
    ),
    key=("part_no",),
    again="replaces",
)

OPENINGS = Table(
    "openings",
    "Times in which an engine was opened in the shop.",
    (
        Column("opening", "text", "name of the opening, unique in the store", needed=True),
        Column("vehicle", "text", "vehicle", needed=True),
        Column("since", "date", "first day", needed=True, ahead=True),
        Column("until", "date", "last day; empty while it lies open", ahead=True),
        Column("depth", "choice", "how deep the machine is opened", choices=DEPTHS),
        Column("place", "text", "where: own shop, contractor"),
        Column("plan_line", "text", "the window of the plan that it carries out"),
        Column("note", "text", "anything"),
    ),
    key=("opening",),
    again="replaces",
)

FITTINGS = Table(
    "fittings",
    "Where parts were fitted, from when until when.",
    (
        Column("part_no", "text", "the part, as in the table parts", needed=True),
        Column("vehicle", "text", "vehicle that it was fitted to; empty: on the spares rack"),
        Column("position", "text", "where on the vehicle, as in the wear points"),
        Column("since", "date", "day on which it was fitted", needed=True),
        Column("until", "date", "day on which it was taken off; empty while it is fitted"),
        WHY,
        OPENING,
        Column("note", "text", "anything"),
    ),
    key=("part_no", "since"),
    again="replaces",
)

SCOPE_LINES = Table(
    "scope_lines",
    "Lines of an opening's scope that are not, or no longer, as the plan has them: added, done, dropped.",
    (
        Column("opening", "text", "the opening whose scope it is", needed=True),
        Column("component", "text", "what is worked on", needed=True),
        Column("action", "text", "what is done: renewed, cut, welded", needed=True),
        Column("position", "text", "where on the vehicle; several with commas between"),
        Column("origin", "choice", "how it came into the scope", choices=("added", "planned", "found")),
        Column("state", "choice", "where it stands", choices=("open", "done", "dropped")),
        Column("parts", "whole", "how many parts", unit="1", low=0.0, high=1e4),
        Column("cost", "number", "money for all of it, as quoted or paid", low=0.0, high=1e12),
        Column("currency", "text", "USD, GBP, ..."),
        Column("labor_hours", "number", "hours of work for all of it", unit="h", low=0.0, high=1e6),
        Column("trade", "text", "machining, foundry, welding, testing, fitting"),
        Column("ordered", "date", "day on which what it needs was ordered"),
        Column("date", "date", "day on which this was told"),
        Column("who", "text", "who told it"),
        Column("note", "text", "anything: why it was dropped"),
        CLIENT_ID,
    ),
    key=("opening", "component", "action", "position"),
    again="replaces",
)

DEFECTS = Table(
    "defects",
    "Defects that were found: on what, where on it, by which method, how large, and what was decided.",
    (
        Column("vehicle", "text", "vehicle", needed=True),
        Column("date", "date", "day on which it was found", needed=True),
        Column("component", "text", "what it was found on", needed=True),
        Column("position", "text", "where on the vehicle, as in the wear points"),
        Column("point", "text", "the wear point that it concerns, where it is one"),
        PART_NO,
        OPENING,
        Column("defect", "text", "what was found: crack, pitting, loose, scored, ...", needed=True),
        Column("place", "text", "where on the part: fillet, bore, spoke 4"),
        Column("method", "choice", "how it was found", choices=METHODS),
        Column("size", "number", "how large it is", unit="base", low=0.0),
        Column("unit", "text", "unit of the size: in, mm"),
        Column("verdict", "choice", "what was decided about it", choices=VERDICTS),
        Column("watch_until", "date", "day by which it is looked at again", ahead=True),
        Column("found_by", "text", "who found it"),
        Column("picture", "text", "its picture, as in the table pictures"),
        Column("note", "text", "anything"),
        CLIENT_ID,
    ),
    key=("vehicle", "date", "component", "position", "part_no", "defect", "place", "client_id"),
    again="replaces",
)

PICTURES = Table(
    "pictures",
    "Pictures and what they show; the files themselves lie in the store.",
    (
        Column("picture", "text", "SHA-256 of the file's content, in hexadecimal figures", needed=True),
        Column("file_name", "text", "name that the file had"),
        Column("media_type", "text", "image/jpeg, image/png, application/pdf"),
        Column("vehicle", "text", "vehicle"),
        Column("component", "text", "component that it shows"),
        Column("position", "text", "where on the vehicle, as in the wear points"),
        Column("point", "text", "wear point that it shows"),
        PART_NO,
        OPENING,
        Column("date", "date", "day on which it was taken"),
        Column("taken_by", "text", "who took it"),
        Column("note", "text", "anything"),
        CLIENT_ID,
    ),
    key=("picture",),
    again="replaces",
)
