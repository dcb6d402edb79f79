"""Days that stand once for a group of rows; real dates among dates written as text.

Real dates among texts are the mark of a spreadsheet that turned day and month.

A spreadsheet that expects the month first makes 4 March of ``03/04/2005`` and leaves ``25/12/2005`` as it is,
for there is no 25th month. What then stands in the sheet is days up to the 12th as dates, all others as text.
Each date cell may be turned; nothing in it tells. Where chance leaves no day after the 12th, the order of the
rows may tell: out of order as shown, in order once turned.
"""

from collections.abc import Iterator

import pandas as pd

from ingest.look.day_order import THREE
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.notation.dates import ORDERS, parse_dates
from ingest.notation.stated import DAY_ABOVE, ORDER, WITHOUT
from ingest.schema import PARTS, TABLES

_REAL = r"[0-9]{4}-[0-9]{2}-[0-9]{2}(?: [0-9:]{8})?"
_LAST_MONTH = 12
_SHOWN = 5


def judge_days_above(sheet: Sheet) -> Iterator[Question]:
    """Ask whether the day above holds for rows without one, unless each group goes round the same places."""
    at = sheet.raw.index[sheet.text(DAY_ABOVE) != ""]
    if not len(at) or _same_round(sheet):
        return
    shown = at[:_SHOWN]
    days = tuple(sheet.text("date")[shown])
    names = [name for name in ("point", *PARTS, "value") if name in sheet.raw]
    cells = sheet.raw.loc[shown, names].to_numpy(dtype=object).tolist()
    written = (", ".join(filter(None, map(str, row))) for row in cells)
    no_day = Settled(stated={WITHOUT: pd.Series("date", at, dtype="str")})
    yield Question(
        "days",
        "date",
        f"{len(at):,} rows have no date of their own below one that has. Does the date above hold for them?",
        at,
        tuple(zip(shown.tolist(), written, strict=True)),
        {
            "above": Answer("the date above holds for them too", Settled(), days),
            "none": Answer("their day is not known", no_day, ("no date",) * len(shown)),
        },
    )


def _same_round(sheet: Sheet) -> bool:
    """Whether each row that bears a date begins the same list of places, two at least, none of them twice."""
    names = [name for name in ("point", *PARTS) if name in sheet.raw]
    if not names:
        return False
    places = pd.Series(sheet.raw[names].to_numpy(dtype=object).tolist(), sheet.raw.index).map(tuple)
    begins = (sheet.text(DAY_ABOVE) == "") & (sheet.text("date") != "")
    rounds = [tuple(part) for _, part in places.groupby(begins.cumsum())]
    return len(rounds) > 1 and len(set(rounds)) == 1 and 1 < len(rounds[0]) == len(set(rounds[0]))


def judge_turned_dates(sheet: Sheet) -> Iterator[Question]:
    """Ask whether date cells are turned, where all that could be stand among texts that could not."""
    for column in TABLES[sheet.table].columns:
        if column.kind == "date" and column.name in sheet.raw:
            yield from _judge(sheet, column.name)


def _judge(sheet: Sheet, name: str) -> Iterator[Question]:
    text = sheet.text(name)[sheet.text(ORDER) == ""]
    real = text[text.str.fullmatch(_REAL)]
    written = text.drop(real.index)
    written = written[written.str.match(THREE)]
    day, month = real.str[8:10].astype("int64"), real.str[5:7].astype("int64")
    at = real.index[day != month]
    if not len(at) or (day > _LAST_MONTH).any():
        return
    if len(written):
        as_text = pd.Series(written.unique(), dtype="str")
        orders = [order for order in ORDERS if parse_dates(as_text, order)["date"].notna().all()]
        clear = (parse_dates(as_text)["problem"] == "").any()
        if not clear or orders == ["ymd"]:
            return
        why = f"among dates written as text such as {as_text.iloc[0]}"
    elif _in_order_only_if_turned(sheet, real):
        why = "and its rows are in order only with day and month exchanged"
    else:
        return
    turned = real[at].str[:5] + real[at].str[8:10] + "-" + real[at].str[5:7]
    shown = real[at].drop_duplicates().head(_SHOWN)
    answers = {
        "as_shown": Answer(
            "the date cells are right as the workbook shows them",
            Settled(stated={ORDER: pd.Series("ymd", at, dtype="str")}),
            tuple(shown.str[:10]),
        ),
        "turned": Answer(
            "day and month of the date cells are turned",
            Settled(stated={ORDER: pd.Series("ydm", at, dtype="str")}),
            tuple(turned[shown.index]),
        ),
    }
    words = (
        f"Column {name} holds real dates, none after the 12th of a month, {why}: a spreadsheet "
        f"that expects another order leaves just this behind. Is {shown.iloc[0][:10]} right, "
        f"or is it {turned[shown.index[0]]}?"
    )
    pairs = tuple(zip(shown.index.tolist(), shown.tolist(), strict=True))
    yield Question("turned", name, words, at, pairs, answers)


def _in_order_only_if_turned(sheet: Sheet, real: "pd.Series[str]") -> bool:
    """Whether the rows of each place are in order once day and month of all are exchanged, and not as they
    are shown; rows of two days alone are in order either way or neither."""
    shown = pd.to_datetime(real.str[:10])
    turned = pd.to_datetime(real.str[:5] + real.str[8:10] + "-" + real.str[5:7])
    names = [name for name in ("point", *PARTS) if name in sheet.raw]
    places = [tuple(cells) for cells in sheet.raw.loc[real.index, names].to_numpy(dtype=object).tolist()]

    def in_order(days: "pd.Series[pd.Timestamp]") -> bool:
        each = days.groupby(pd.Series(places, days.index))
        return bool(each.is_monotonic_increasing.all() or each.is_monotonic_decreasing.all())

    return in_order(turned) and not in_order(shown)
