"""The checks of ``ingest.schema`` as pandera contracts, and their failures in words."""

from functools import cache

import pandas as pd
import pandera.pandas as pa

from ingest.neutral import quoted
from ingest.problems import CELLS, NAMES, Problems
from ingest.schema import TABLES, Column

_DTYPES = {"number": "float64", "whole": "float64", "date": "datetime64[us]", "month": "datetime64[us]"}


@cache
def contract(table: str) -> pa.DataFrameSchema:
    """Contract of the normalised public columns of a table.

    Parameters
    ----------
    table : key of ``ingest.schema.TABLES``.

    Returns
    -------
    pandera schema: dtypes, needed values, ranges, choices. It coerces nothing: what is not yet of its type
    was not normalised, and that is a bug.
    """
    columns = {column.name: _column(column) for column in TABLES[table].columns}
    return pa.DataFrameSchema(columns, strict="filter", checks=_BETWEEN_COLUMNS.get(table, []))


def check(table: str, frame: pd.DataFrame, raw: pd.DataFrame, problems: Problems) -> None:
    """Add a reason for every cell of a normalised frame that breaks its contract.

    A cell that could not be read has its reason already and gets no second one.
    """
    try:
        contract(table).validate(frame, lazy=True)
    except pa.errors.SchemaErrors as errors:
        cases = errors.failure_cases
        if cases["index"].isna().any():  # a wrong dtype or a missing column: ours, not the user's
            raise
        cases = cases.drop_duplicates(["index", "column", "check"])
        for (column, words), part in cases.groupby(["column", "check"], sort=False):
            name = _REPORTED_IN.get(str(words), str(column))
            labels = pd.Index(part["index"].unique())
            labels = labels[~problems.has(name, labels)]
            found = raw.loc[labels, name]
            words = _WORDS.get(str(words), str(words))
            texts = found.map({cell: words.format(found=quoted(cell)) for cell in found.unique()})
            with problems.waiting_for(NAMES if name == "point" else CELLS):
                problems.add(labels, name, found, texts)


def _column(column: Column) -> pa.Column:
    checks = []
    if column.kind == "choice" or (column.kind == "text" and column.needed):
        checks.append(_text_check(column))
    if column.kind == "whole":
        checks.append(pa.Check(lambda s: s % 1 == 0, error="{found} must be a whole number"))
    if column.low is not None:
        low = column.low
        checks.append(pa.Check(lambda s: s >= low, error=f"{{found}} must not be less than {low:g}"))
    if column.high is not None:
        high = column.high
        checks.append(pa.Check(lambda s: s <= high, error=f"{{found}} must not be more than {high:g}"))
    nullable = not column.needed or column.kind in ("text", "choice")
    return pa.Column(_DTYPES.get(column.kind, "str"), checks, nullable=nullable)


def _text_check(column: Column) -> pa.Check:
    if column.kind == "text":
        return pa.Check(lambda s: s != "", error="the cell is empty; every row needs it")
    allowed = list(column.choices)
    words = ", ".join(word for word in allowed if word)
    return pa.Check(lambda s: s.isin(allowed), error=f"{{found}} is none of the words allowed: {words}")


_MORE_THAN_EXAMINED = "defective must not be more than examined"
_ONE_MEANING = "fill either point or position: the one thing that is meant"
_LIMIT_BEFORE_SHOP = "shop_limit must lie between new_value and condemning_limit"
_ENDS_BEFORE = "until must not lie before since"
_NO_ENGINE = "a position needs the vehicle on which it is"
_NO_MARK = "{found} is not the SHA-256 of a file: 64 of the figures 0-9 and a-f"


def _shop_between(frame: pd.DataFrame) -> pd.Series:
    low = frame[["new_value", "condemning_limit"]].min(axis=1, skipna=False)
    high = frame[["new_value", "condemning_limit"]].max(axis=1, skipna=False)
    shop = frame["shop_limit"]
    return shop.isna() | low.isna() | ((shop >= low) & (shop <= high))


def _in_order(frame: pd.DataFrame) -> pd.Series:
    return ~(frame["until"] < frame["since"])


_SINCE_UNTIL = pa.Check(_in_order, error=_ENDS_BEFORE, ignore_na=False)
_BETWEEN_COLUMNS = {
    "gauges": [_SINCE_UNTIL],
    "openings": [_SINCE_UNTIL],
    "fittings": [
        _SINCE_UNTIL,
        pa.Check(lambda f: (f["position"] == "") | (f["vehicle"] != ""), error=_NO_ENGINE),
    ],
    "pictures": [pa.Check(lambda f: f["picture"].str.fullmatch("([0-9a-f]{64})?"), error=_NO_MARK)],
    "findings": [
        pa.Check(lambda f: ~(f["defective"] > f["examined"]), error=_MORE_THAN_EXAMINED, ignore_na=False)
    ],
    "position_aliases": [pa.Check(lambda f: (f["point"] != "") != (f["position"] != ""), error=_ONE_MEANING)],
    "wear_points": [pa.Check(_shop_between, error=_LIMIT_BEFORE_SHOP, ignore_na=False)],
}
_REPORTED_IN = {
    _MORE_THAN_EXAMINED: "defective",
    _ONE_MEANING: "position",
    _LIMIT_BEFORE_SHOP: "shop_limit",
    _ENDS_BEFORE: "until",
    _NO_ENGINE: "position",
    _NO_MARK: "picture",
}
_WORDS = {"not_nullable": "the cell is empty; every row needs it"}
