"""Which of two figures of a date is the day: from all dates of the sheet, else it is asked.

One date that can be read in one order alone (25/12/1998), or that lies in the future in the other, proves the
order of the sheet, as long as none proves another.
"""

import re
from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd

from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.notation.dates import ORDERS, SEVERAL_ORDERS, parse_dates
from ingest.notation.stated import ORDER
from ingest.schema import TABLES

THREE = r"^\s*[0-9]{1,4}([-/.])[0-9]{1,2}\1(?:[0-9]{4}|[0-9]{2})(?![0-9]).*$"
_MEANS = {
    "dmy": "the day stands first, then the month",
    "mdy": "the month stands first, then the day",
    "ymd": "the year stands first, then month and day",
}
STRAY = 0.01
"""Of a sheet's dates: fewer that can be read in several orders are slips among dates of another form, each
held back by itself. [1] No published source."""
_SHOWN = 5
_CLOSE = 45  # days: entries further apart tell no month
_LEAST = 24  # such intervals, two years of monthly entries, from which seasons are told
_SHARE = 0.01  # of a month's even share of the miles: below it nobody ran, but for moves in the shed
_MONTHS = 12


def judge_day_order(sheet: Sheet) -> Iterator[Question | Settled]:
    """Settle the order of day and month, or ask for it."""
    columns = [column.name for column in TABLES[sheet.table].columns if column.kind == "date"]
    cells = {name: sheet.text(name) for name in columns if name in sheet.raw}
    unstated = sheet.text(ORDER) == ""
    three = {name: text[unstated & text.str.match(THREE)] for name, text in cells.items()}
    three = {name: text for name, text in three.items() if len(text)}
    if not three:
        return
    written = pd.Series(pd.concat(list(three.values())).unique(), dtype="str")
    unclear = written[parse_dates(written)["problem"].str.contains(SEVERAL_ORDERS)]
    if unclear.empty:
        return
    read = {order: parse_dates(written, order)["date"] for order in ORDERS}
    at = pd.Index(sorted(set().union(*(text.index[text.isin(unclear)] for text in three.values()))))
    proven = _proven(read, sheet.today, [column.ahead for column in TABLES[sheet.table].columns])
    possible = [order for order in ORDERS if read[order][unclear.index].notna().all()]
    first = next(iter(three.values()))
    if len(proven) == 1 and _against_the_rows(next(iter(proven)), possible, read, (written, first, sheet)):
        proven = set()
    if len(proven) == 1:
        yield Settled(stated={ORDER: pd.Series(proven.pop(), at, dtype="str")})
    elif not proven and len(possible) > 1 and len(at) >= STRAY * int((cells[next(iter(three))] != "").sum()):
        column = next(name for name, text in three.items() if text.isin(unclear).any())
        means = {name: _means(name, unclear, sheet) for name in possible}
        yield _question(column, cells[column], at, means, unclear)


def _proven(read: dict[str, pd.Series], today: object, ahead: list[bool]) -> set[str]:
    """Orders of which some date says that it can be no other."""
    late = pd.Timestamp.max if any(ahead) else pd.Timestamp(str(today))
    can = pd.DataFrame({order: dates.notna() & (dates <= late) for order, dates in read.items()})
    alone = can[can.sum(axis=1) == 1]
    return {str(order) for order in can if alone[order].any()}


def _against_the_rows(
    order: str, possible: list[str], read: dict[str, pd.Series], of: tuple[pd.Series, pd.Series, Sheet]
) -> bool:
    """Whether an order that only days in the future speak for has the rows out of turn, which another order,
    without those days, has in turn: one year written wrong would turn the days of a whole sheet.

    Parameters
    ----------
    read : order -> days of the dates as written. of : the dates as written, the cells, the sheet.
    """
    written, cells, sheet = of
    others = pd.DataFrame({name: days for name, days in read.items() if name != order})
    if (read[order].notna() & others.isna().all(axis=1)).any():
        return False  # one of the dates is none in any other order

    def in_turn(name: str) -> bool:
        days = cells.map(pd.Series(read[name].to_numpy(), written))
        return bool(days[days <= pd.Timestamp(str(sheet.today))].is_monotonic_increasing)

    return not in_turn(order) and any(in_turn(name) for name in possible if name != order)


def _means(order: str, unclear: pd.Series, sheet: Sheet) -> str:
    """What an order means, and how many of the days would then lie in months without running."""
    days = parse_dates(unclear, order)["date"]
    idle = int(days.dt.month.isin(list(_idle_months(sheet.known))).sum())
    many = f"{idle} of {len(days)} days" if len(days) > 1 else "the day"
    return _MEANS[order] + (f"; {many} would be in months without running" if idle else "")


def _question(
    column: str, text: pd.Series, at: pd.Index, possible: dict[str, str], unclear: pd.Series
) -> Question:
    shown = text[text.isin(unclear)].drop_duplicates().iloc[:_SHOWN]
    answers = {
        order: Answer(
            means,
            Settled(stated={ORDER: pd.Series(order, at, dtype="str")}),
            tuple(parse_dates(shown, order)["date"].dt.strftime("%Y-%m-%d")),
        )
        for order, means in possible.items()
    }
    first = shown.iloc[0]
    reads = " or ".join(answer.reads[0] for answer in answers.values())
    return Question(
        "dates",
        column,
        f"The dates can be read in more than one order, and none of them says which: is {first} {reads}?",
        at,
        tuple(zip(shown.index.tolist(), shown.tolist(), strict=True)),
        answers,
        of_kind=True,
        key=" ".join(sorted({_notation(cell) for cell in unclear})),
    )


def _notation(cell: str) -> str:
    """How a date is written, whatever day it is: ``99/99/9999``."""
    return re.sub("[0-9]", "9", re.sub(r"(?<![0-9])[0-9](?![0-9])", "09", cell))


def _idle_months(known: Mapping[str, pd.DataFrame]) -> frozenset[int]:
    """Numbers of the months in which next to nothing was run; empty where the logs are too few or too coarse.

    Parameters
    ----------
    known : tables that hold, mileage among them.
    """
    log = known["mileage"].dropna(subset=["odometer_read"]).sort_values(["vehicle", "date"], kind="stable")
    by = log.groupby("vehicle", sort=False)
    run, days = by["odometer_read"].diff(), by["date"].diff().dt.days
    close = (days > 0) & (days <= _CLOSE) & (run >= 0)
    if int(close.sum()) < _LEAST:
        return frozenset()
    # An entry early in a month tells of the month before.
    middle = log["date"] - pd.to_timedelta((days / 2).where(close, 0.0).round(), unit="D")
    month = middle[close].dt.month
    miles = run[close].groupby(month).sum().reindex(range(1, _MONTHS + 1))
    idle = miles.fillna(np.inf) < _SHARE * run[close].sum() / _MONTHS
    return frozenset(int(number) for number in miles.index[idle])
