"""Two columns of one place and day, *before* and *after* work: readings under each of them, told apart.

What the two are is not taken from their headings: ``ingest.look.before_after`` asks.
"""

from dataclasses import replace

from ingest.errors import UnknownTable
from ingest.layouts.headings import lacking, recognise
from ingest.layouts.plain import RawTable
from ingest.layouts.stage_words import AFTER, BEFORE, Pair, stage_pairs
from ingest.notation.stated import STAGE


def by_stages(table: RawTable) -> list[RawTable]:
    """For each pair of such columns the table with the one, and with the other, in place of the value.

    Each says in ``STAGE`` which it is and what the column is headed. A row whose other cell is empty stays in
    one of them alone. None where the sheet is a table as it stands.
    """
    if table.table not in (None, "readings") or STAGE in table.rows or _is_whole(table):
        return []
    pairs = stage_pairs(table.columns)
    taken = [table.columns[place] for pair in pairs for place in (pair.before, pair.after)]
    return [_part(table, pair, taken, stage) for pair in pairs for stage in (BEFORE, AFTER)]


def _is_whole(table: RawTable) -> bool:
    """Whether its headings are those of a table that lacks nothing."""
    try:
        return not lacking(recognise(table.columns, table.table))
    except UnknownTable:
        return False


def _part(table: RawTable, pair: Pair, taken: list[str], stage: str) -> RawTable:
    heading, other = table.columns[pair.before], table.columns[pair.after]
    if stage == AFTER:
        heading, other = other, heading
    gone = [name for name in taken if name != heading]
    filled = table.rows[heading] != ""
    keep = filled | (table.rows[other] == "") if stage == BEFORE else filled
    rows = table.rows[keep].drop(columns=gone).rename(columns={heading: pair.value})
    told = {STAGE: f"{stage} {heading}"} | ({"quantity": pair.quantity} if pair.quantity else {})
    rows = rows.assign(**told)
    marks = table.marks
    if marks is not None:
        marks = marks[keep].drop(columns=gone).rename(columns={heading: pair.value})
        marks = marks.assign(**dict.fromkeys(told, ""))
    problems = {row: words for row, words in table.problems.items() if row in rows.index}
    columns = [str(name) for name in rows.columns]
    return replace(table, rows=rows, columns=columns, marks=marks, problems=problems, table="readings")
