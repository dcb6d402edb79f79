"""Tables of the office: prices, money, running and means ahead."""

from ingest.schema.declared import Column, Table

COSTS = Table(
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

USAGE = Table(
    "usage",
    "Planned running by month.",
    (
        Column("vehicle", "text", "vehicle", needed=True),
        Column("month", "month", "month: 2026-05", needed=True, ahead=True),
        Column("miles_planned", "number", "miles in that month", needed=True, unit="mi", low=0.0, high=1e5),
        Column("miles_sd", "number", "standard deviation of these miles", unit="mi", low=0.0, high=1e5),
    ),
    key=("vehicle", "month"),
    again="replaces",
)

FUNDS = Table(
    "funds",
    "Money pledged, received and spent.",
    (
        Column("date", "date", "day", needed=True, ahead=True),
        Column("amount", "number", "money", needed=True, low=-1e12, high=1e12),
        Column("currency", "text", "USD, GBP, ..."),
        Column("kind", "choice", "what it is", needed=True, choices=("pledged", "received", "spent")),
        Column("note", "text", "anything"),
    ),
    key=("date", "kind", "amount"),
    again="counts",
)

TRIPS = Table(
    "trips",
    "Days to be run, with the train and the engines that are able to take it.",
    (
        Column("date", "date", "day", needed=True, ahead=True),
        Column("train", "text", "train or turn, unique on its day", needed=True),
        Column("engines_able", "text", "vehicles that can take it, with ; between; empty: every one"),
        Column("vehicle", "text", "vehicle that it is given to"),
        Column("miles", "number", "miles of the day", unit="mi", low=0.0, high=1e4),
        Column("load", "text", "what hangs behind: 5 coaches, 180 tons"),
        Column("note", "text", "anything"),
    ),
    key=("date", "train"),
    again="replaces",
)

CAPACITIES = Table(
    "capacities",
    "What the shop has in a month: hours by trade, days of the pit, money.",
    (
        Column("resource", "choice", "what it is", needed=True, choices=("hours", "pit", "money")),
        Column("trade", "text", "fitting, machining, welding, ...; of hours"),
        Column("month", "month", "month: 2026-11; empty: every month that has no row of its own", ahead=True),
        Column("amount", "number", "hours, days of the pit, or money", needed=True, low=0.0, high=1e12),
        Column("currency", "text", "USD, GBP, ...; of money"),
        Column("note", "text", "anything"),
    ),
    key=("resource", "trade", "month"),
    again="replaces",
)

LEAD_TIMES = Table(
    "lead_times",
    "How long before the work a thing must be ordered.",
    (
        Column("component", "text", "what is worked on", needed=True),
        Column("action", "text", "what is done; empty: whatever is done to it"),
        Column("item", "text", "what must be had: casting, tires, a contractor's slot"),
        Column(
            "months", "number", "months from the order until it is there", needed=True, low=0.0, high=240.0
        ),
        Column("supplier", "text", "who supplies it"),
        Column("date", "date", "day on which this was said"),
        Column("note", "text", "anything"),
    ),
    key=("component", "action", "item"),
    again="replaces",
)
