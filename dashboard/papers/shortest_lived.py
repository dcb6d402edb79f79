"""The wear points with the fewest miles left, as a table for a terminal."""

import textwrap
from collections import Counter
from collections.abc import Hashable
from typing import Any

import pandas as pd

from dashboard.words.cautions import FORECAST_CAUTION
from ingest.value_state import LAST_READING, PAST
from models.frequency import of_100

WIDTH = 100
_PAST, _OTHERS = 10, 15  # rows of the printed table
_LIKELY = 0.5  # chance from which a wear point counts as past its limit
_SAID = "past its limit now"  # a flag that a column of the table says already


def shortest_lived(forecast: pd.DataFrame, past: int = _PAST, others: int = _OTHERS) -> pd.DataFrame:
    """The wear points with the fewest miles left: those past their limit first, then by the careful figure.

    Parameters
    ----------
    past, others : rows at most of what is past its limit, and of the rest.
    """
    known = forecast[forecast["miles_p50"].notna()]
    beyond = _is_past(known)
    first = known[beyond].sort_values(["p_beyond_now", "point"], ascending=[False, True]).head(past)
    then = known[~beyond].sort_values(["miles_p05", "miles_p50", "point"]).head(others)
    return pd.concat([first, then], ignore_index=True)


def _is_past(forecast: pd.DataFrame) -> "pd.Series[bool]":
    """Past its limit by the last reading, or more likely than not by the forecast."""
    read = forecast["flags"].fillna("").astype("str").str.contains(LAST_READING[PAST], regex=False)
    return read | (forecast["p_beyond_now"] >= _LIKELY)


def as_table(forecast: pd.DataFrame) -> str:
    """The shortest-lived wear points as a table no wider than 100 columns, flags below each row."""
    shortest, common = shortest_lived(forecast), _common_flags(forecast)
    head = ("wear point", "what", "past now", "1 in 20", "half", "half by")
    rows = [_cells(row) for row in shortest.to_dict("records")]
    width = [max(len(line[i]) for line in (head, *rows)) for i in range(len(head))]
    width[1] = max(min(width[1], WIDTH - sum(width) + width[1] - 2 * len(width)), len(head[1]))
    lines = [_line(head, width)]
    for row, flags in zip(rows, shortest["flags"], strict=True):
        lines.append(_line(row, width))
        own = [flag for flag in _flags(flags) if flag not in common and not flag.startswith(_SAID)]
        lines += textwrap.wrap("; ".join(own), WIDTH, initial_indent="    ", subsequent_indent="    ")
    return "\n".join(["", *lines, "", *textwrap.wrap(_legend(forecast, shortest, common), WIDTH)])


def _cells(row: dict[Hashable, Any]) -> tuple[str, ...]:
    chance = float(row["p_beyond_now"])
    return (
        str(row["point"]),
        f"{row['component']}, {row['quantity']}",
        "" if chance < 0.005 else f"{of_100(chance)} in 100",
        f"{max(row['miles_p05'], 0.0):,.0f}",
        f"{max(row['miles_p50'], 0.0):,.0f}",
        "" if pd.isna(row["date_p50"]) else f"{row['date_p50']:%Y-%m-%d}",
    )


def _line(cells: tuple[str, ...], width: list[int]) -> str:
    what = textwrap.shorten(cells[1], width[1], placeholder=" ...")
    numbers = [cell.rjust(w) for cell, w in zip(cells[2:], width[2:], strict=True)]
    return "  ".join([cells[0].ljust(width[0]), what.ljust(width[1]), *numbers]).rstrip()


def _flags(text: object) -> list[str]:
    return [flag for flag in str(text or "").split("; ") if flag]


def _common_flags(forecast: pd.DataFrame) -> set[str]:
    """Flags of more than half of the wear points: said once below the table instead of on every row."""
    counts = Counter(flag for text in forecast["flags"] for flag in _flags(text))
    return {flag for flag, n in counts.items() if 2 * n > len(forecast)}


def _legend(forecast: pd.DataFrame, shortest: pd.DataFrame, common: set[str]) -> str:
    more = int(_is_past(forecast[forecast["miles_p50"].notna()]).sum()) - int(_is_past(shortest).sum())
    untold = int(forecast["miles_p50"].isna().sum())
    parts = [
        f"Miles left from {_as_of(shortest)}. Past now: how often the limit is passed already, where it may "
        "be. 1 in 20: of 20 such parts one reaches its limit sooner. Half: as many sooner as later."
    ]
    parts += [f"{more} more are past their limit, as last read or probably."] if more else []
    parts += [f"{untold} cannot be forecast; their flags say why."] if untold else []
    parts += [f"Of most wear points: {'; '.join(sorted(common))}."] if common else []
    return " ".join([*parts, FORECAST_CAUTION])


def _as_of(shortest: pd.DataFrame) -> str:
    days = sorted({f"{day:%Y-%m-%d}" for day in shortest["as_of"]})
    return " and ".join(days) if days else "the end of the mileage log"
