"""What a sheet of unknown make shows by itself: its table, its columns, its dates, its decimal mark."""

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files

import pandas as pd

from ingest.errors import UnknownTable
from ingest.layouts.blocks import unmerged
from ingest.layouts.find import (
    BLOCK,
    are_dates,
    find_blocks,
    find_dates,
    find_header,
    find_measured,
    find_named_blocks,
    grid_of,
    with_other_headings,
)
from ingest.layouts.headings import Recognised, known_tables, lacking, match, recognise, split_unit
from ingest.layouts.rows import cell_text
from ingest.layouts.stage_words import stages_alone
from ingest.layouts.sums import sum_label
from ingest.names.positions import read_position
from ingest.notation.dates import ORDERS, parse_dates
from ingest.notation.values import parse_values
from ingest.sheets.cells import RawCells
from ingest.sheets.contents import column_letter

_ONE_OF_SEVERAL = re.compile(
    r"(?:(?:reading|value|measurement|messung|wert|mesure|pomiar|měření|nr|no)\.? ?\d{1,2}"
    r"|\d{1,2}(?:st|nd|rd|th)|\d{1,2}\.|(?:value )?(?:min|max)(?:imum|\.)?|smallest|largest|average|mean)",
    re.IGNORECASE,
)
"""A heading that says which of several readings of one place it is, and nothing of what was measured."""
_MADE_OF_OTHERS = re.compile(
    r"(?:average|mean|difference|diff|total|sum|mittel(?:wert)?|durchschnitt|differenz|moyenne|écart|średnia|"
    r"różnica|rozdíl|media|differenza|gemiddelde|verschil)\b",
    re.IGNORECASE,
)
"""A heading of a column that is worked out from those beside it (usage, no published source)."""
_THREE_FIGURES = r"\d{1,4}([-/.])\d{1,2}\1\d{2,4}.*"


@dataclass(frozen=True)
class Clues:
    """One sheet looked at; rows are places within its first block, columns positions.

    ``header`` the rows of headings; ``headings`` them joined; ``body`` the rows below; ``recognised`` the
    headings understood; ``guessed`` heading → column by what the column holds; ``spread`` columns of
    measurements that no heading claims, and ``heads`` their headings; ``tells`` what each row of these says;
    ``labelled`` column → cell that holds it above the headings; ``blocks`` how each block begins, and
    ``block_of`` the column that this line tells.
    """

    sheet: RawCells
    header: tuple[int, ...]
    headings: tuple[str, ...]
    body: pd.DataFrame
    recognised: Recognised
    guessed: dict[str, str] = field(default_factory=dict)
    spread: tuple[int, ...] = ()
    heads: tuple[tuple[str, ...], ...] = ()
    tells: tuple[str, ...] = ()
    labelled: dict[str, str] = field(default_factory=dict)
    blocks: str = ""
    block_of: str = "date"

    @property
    def columns(self) -> dict[str, str]:
        """Heading → column, by name and by contents."""
        return {**self.recognised.renames, **self.guessed}


def look_at(sheet: RawCells) -> Clues | None:
    """Clues of one sheet; None for one that holds nothing."""
    whole = unmerged(sheet)
    blocks, starts = find_blocks(whole)
    block_of = "date"
    if not blocks:
        blocks, starts = find_named_blocks(whole)
        block_of = "vehicle"
    cells = whole.iloc[starts[0] : starts[1]] if blocks else whole
    grid = grid_of(cells)
    row = find_header(grid)
    if row is None:
        return None
    header = with_other_headings(grid, row, find_measured(grid, row))
    measured = find_measured(grid, max(header))
    heads = [list(map(str, line)) for line in cells.iloc[list(header)].to_numpy(dtype=object)]
    headings = tuple(" ".join(filter(None, dict.fromkeys(column))) for column in zip(*heads, strict=True))
    body = cells.iloc[max(header) + 1 :]
    by_contents = (measured, find_dates(grid, header))
    recognised = _understood(headings, *by_contents)
    labelled = _labelled(cells, min(header))
    guessed, spread = _unclaimed(headings, recognised, body, by_contents, set(labelled))
    if blocks:
        labelled = {name: cell for name, cell in labelled.items() if name != block_of}
    found = Clues(
        sheet,
        header,
        headings,
        body,
        recognised,
        guessed,
        labelled=labelled,
        blocks=blocks,
        block_of=block_of,
    )
    if not spread:
        return found
    over = tuple(tuple(line[p] for p in spread) for line in heads)
    return replace(found, spread=spread, heads=over, tells=_tells(over))


def order_of_dates(texts: pd.Series) -> tuple[str, ...] | None:
    """The orders of day and month in which all texts are dates; None where the order does not matter."""
    in_figures = texts[texts.str.fullmatch(_THREE_FIGURES)]
    first = parse_dates(in_figures)
    known = first["date"]
    fitting = []
    for order in ORDERS:
        read = parse_dates(in_figures, order)
        if (read["problem"] == "").all() and (read["date"] == known)[known.notna()].all():
            fitting.append(order)
    no_doubt = (first["problem"] == "").all() and len(fitting) != 1
    return None if no_doubt else tuple(fitting)


def has_decimal_comma(texts: pd.Series) -> bool:
    """Whether the measurements can be read with a decimal comma and not without."""
    with_comma = texts[texts.str.contains(",", regex=False)]
    if with_comma.empty:
        return False
    as_point, as_comma = ((parse_values(with_comma, decimal=mark)["problem"] == "").mean() for mark in ".,")
    return bool(as_comma > as_point)


def dates_of(clues: Clues) -> pd.Series:
    """All texts of a sheet that stand for dates."""
    columns = _positions(clues, {"date", "service_from", "price_date"})
    texts = [text for p in columns for text in clues.body[p]]
    for meaning, line in zip(clues.tells, clues.heads, strict=True):
        texts += line if meaning == "date" else ()
    if "date" in clues.labelled:
        texts.append(cell_text(clues.sheet.cells, clues.labelled["date"]))
    if clues.blocks and clues.block_of == "date":
        openings = (BLOCK.fullmatch(text) for text in clues.sheet.cells[0])
        dates = [opening["date"] for opening in openings if opening]
        texts += [text for text, dated in zip(dates, are_dates(dates), strict=True) if dated]
    return pd.Series([text for text in texts if text], dtype="str")


def values_of(clues: Clues) -> pd.Series:
    """All texts of a sheet that stand for measurements."""
    columns = (*_positions(clues, {"value", "value_before", "value_after"}), *clues.spread)
    return pd.Series([text for p in columns for text in clues.body[p] if text], dtype="str")


def summary_rows(clues: Clues) -> list[str]:
    """How the lines begin that sum up others, averages and totals, as a layout leaves them out: ``Mean*``.

    Where a line of measurements begins alike (*Mittel*, and *Mittelachse*), the whole label.
    """
    begins = [next((text for text in row if text), "") for row in clues.body.to_numpy(dtype=object)]
    own = [text.lower() for text in begins if not sum_label(text)]
    found = {text: sum_label(text) for text in begins if sum_label(text)}
    return list(
        dict.fromkeys(
            text if any(line.startswith(label.lower()) for line in own) else f"{label}*"
            for text, label in found.items()
        )
    )


def no_measurement(clues: Clues) -> list[str]:
    """Texts among spread measurements that say that nothing was measured, such as dashes."""
    texts = list(dict.fromkeys(text for p in clues.spread for text in clues.body[p] if text))
    problems = parse_values(pd.Series(texts, dtype="str"))["problem"]
    return [text for text, why in zip(texts, problems, strict=True) if "is no measurement" in why]


def _positions(clues: Clues, columns: set[str]) -> list[int]:
    return [p for p, heading in enumerate(clues.headings) if clues.columns.get(heading) in columns]


def _understood(headings: Sequence[str], measured: Sequence[int], dates: Sequence[int]) -> Recognised:
    """The table that the headings are, or the one that they come nearest to; what holds dates is no value."""
    of_days = [headings[p] for p in dates]  # Measured: on which day
    no_values = {text for text in of_days if "value" in match([text], "readings").renames.values()}
    named = [heading for heading in headings if heading and heading not in no_values]
    try:
        return recognise(named)
    except UnknownTable:
        readings = match(named, "readings")
        if any(headings[p] not in readings.renames for p in measured):
            return readings
        tried = [match(named, table) for table in ("readings", *known_tables())]
        return max(tried, key=lambda candidate: len(candidate.renames) - 2 * len(lacking(candidate)))


def _unclaimed(
    headings: Sequence[str],
    recognised: Recognised,
    body: pd.DataFrame,
    by_contents: tuple[Sequence[int], Sequence[int]],
    labelled: set[str],
) -> tuple[dict[str, str], tuple[int, ...]]:
    """Columns known by what they hold, and columns of measurements to be spread out."""
    if not lacking(recognised) or recognised.table != "readings":
        return {}, ()
    have = {*recognised.renames.values(), *labelled}
    left = [p for p, heading in enumerate(headings) if heading and heading not in recognised.renames]
    measured = by_contents[0]
    dates = [p for p in by_contents[1] if p in left and not of_another_day(headings[p])]
    guessed = {headings[dates[0]]: "date"} if dates and "date" not in have else {}
    numbers = [p for p in measured if p in left and _counts_axles(body[p])][:1]
    if numbers and "position" not in have:
        guessed[headings[numbers[0]]] = "position"
    spread = tuple(p for p in measured if p in left and headings[p] not in guessed)
    spread = tuple(p for p in spread if not _MADE_OF_OTHERS.match(headings[p])) or spread
    if "value" in have or not spread:
        return guessed, ()
    if len(spread) == 1 and not are_dates([headings[spread[0]]])[0]:
        return guessed | {headings[spread[0]]: "value"}, ()
    return guessed, spread


def of_another_day(heading: str) -> bool:
    """Whether a heading of dates says that they are not those of the readings beside them: ``Next due``."""
    return not other_day_words().isdisjoint(re.split(r"[\W_]+", heading.lower()))


@cache
def other_day_words() -> frozenset[str]:
    """Words by which a day is that of something else than a reading, in lower case."""
    text = files("ingest.layouts").joinpath("other_days.toml").read_text(encoding="utf-8")
    return frozenset(word for words in tomllib.loads(text).values() for word in words)


def _counts_axles(column: pd.Series) -> bool:
    """Whether a column counts 1, 2, 3 as wheelsets are counted."""
    texts = [text for text in column if text and not sum_label(text)]
    return len(texts) > 1 and texts == [str(number) for number in range(1, len(texts) + 1)]


def _tells(heads: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """What each row of headings over the measurements holds: date, position, point, quantity, or nothing."""
    out: list[str] = []
    for line in heads:
        texts = [split_unit(text)[0] for text in line if text]
        if texts and are_dates(texts).all():
            out.append("date")
        elif texts and all(_ONE_OF_SEVERAL.fullmatch(text) for text in texts):
            out.append("")
        elif texts and all(read_position(text) is not None for text in texts):
            out.append("position")
        elif texts and all(re.fullmatch(r"(?=.*[-_0-9])\S+", text) for text in texts):
            out.append("point")
        elif stages_alone(texts):
            out.append("stage")
        else:
            out.append("quantity" if texts and "quantity" not in out else "")
    return tuple(out)


def _labelled(cells: pd.DataFrame, header: int) -> dict[str, str]:
    """Column → cell above the headings that holds it: ``Engine:`` beside the name, or both in one cell."""
    cell_of_column: dict[str, str] = {}
    for row in range(header):
        line = list(map(str, cells.iloc[row]))
        for p, text in enumerate(line):
            label, colon, value = text.partition(":")
            column = next(iter(match([label.strip()], "readings").renames.values()), "") if colon else ""
            place = p if value.strip() else p + 1
            if column and place < len(line) and line[place]:
                cell_of_column.setdefault(column, f"{column_letter(place)}{row + 1}")
    return cell_of_column
