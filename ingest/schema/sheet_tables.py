"""Tables about the sheets that are handed in: what was answered about a kind of sheet, and layouts."""

from ingest.schema.declared import Column, Table

ANSWERS = Table(
    "answers",
    "What was answered about a kind of sheet, so that it is asked once.",
    (
        Column(
            "sheet_kind",
            "text",
            "mark of the kind of sheet: what its headings and notation share",
            needed=True,
        ),
        Column("question", "text", "id of the question", needed=True),
        Column("answer", "text", "the answer", needed=True),
        Column("who", "text", "who answered"),
        Column("date", "date", "day of the answer"),
        Column("note", "text", "anything"),
    ),
    key=("sheet_kind", "question"),
    again="replaces",
)

LAYOUTS = Table(
    "layouts",
    "Layouts of sheets that are kept under a name.",
    (
        Column("layout", "text", "name of the layout", needed=True),
        Column("sheet_kind", "text", "mark of the kind of sheet for which it is proposed"),
        Column("content", "text", "the layout itself, as TOML", needed=True),
        Column("who", "text", "who made it"),
        Column("date", "date", "day on which it was made"),
        Column("note", "text", "anything"),
    ),
    key=("layout",),
    again="replaces",
)
