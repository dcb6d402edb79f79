"""Raw rows to typed rows in base units, each cell that will not do with its reason. Knows no store.

It decides what a row says; whether it agrees with what is known already is decided in
``ingest.verdicts.judge``.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

import pandas as pd

from ingest import units
from ingest.figures import bound, limit
from ingest.names.aliases import Aliases
from ingest.names.naming import name_points
from ingest.notation.dates import ORDERS, parse_dates, parse_months
from ingest.notation.quantities import read_numbers
from ingest.notation.stated import TURNED, with_answers, with_stated_parts, without_cells
from ingest.problems import CELLS, NAMES, UNTIL, Problems
from ingest.schema import SOURCE, TABLES, Column
from ingest.verdicts.contracts import check


def _letters(text: str) -> str:
    return re.sub(r"[\W_]+", "", text.lower())


# What people write for the words of a choice, letters only (common practice, no source); an unknown word is
# held back.
_WORDS = {
    "action": {
        "renewed": "renewed renew new replaced replace rebuilt newpart newtire newtires retyred rebushed",
        "cut": "cut turned turn trued true machined reprofiled ground skimmed",
    },
    "condemned_when": {"at": "at atlimit ator", "beyond": "beyond over past above below"},
    "access": {
        "in_place": "inplace inposition insitu",
        "rods_down": "rodsdown rods rodsoff",
        "wheels_out": "wheelsout wheels drop wheeldrop dropped unwheeled",
    },
    "depth": {
        "in_place": "inplace inposition insitu",
        "rods_down": "rodsdown rods rodsoff",
        "wheels_out": "wheelsout wheels drop wheeldrop dropped unwheeled",
    },
    "why": {
        "worn": "worn wornout wear",
        "age": "age aged byage time",
        "accident": "accident damage damaged collision derailment",
        "while_open": "whileopen whileitwasopen opportunity",
    },
    "found_or_left": {"found": "found asfound", "left": "left asleft"},
    "method": {
        "looked_at": "lookedat visual eye seen",
        "hammer": "hammer hammered tapped",
        "dye": "dye dyepenetrant penetrant dyepen pt",
        "magnetic_particle": "magneticparticle magnetic mpi mt magneticparticles",
        "ultrasonic": "ultrasonic ultrasound ut",
    },
    "verdict": {
        "run_on": "runon fit fitforservice ok",
        "watch": "watch watchuntil monitor",
        "repair": "repair repaired",
        "renew": "renew renewed replace replaced scrap",
    },
    "resource": {
        "hours": "hours labor labour manhours",
        "pit": "pit pitdays droppit hoist",
        "money": "money budget cash",
    },
    "kind": {
        "pledged": "pledged pledge promised",
        "received": "received receipt paidin in donation",
        "spent": "spent paid paidout out expense",
    },
    "event": {
        "replaced": "replaced new newodometer changed repaired reset",
        "rolled_over": "rolledover rollover rolled turnedover",
    },
    "unit": {unit: " ".join(map(_letters, units.spellings(unit))) for unit in units.DISTANCE_MI},
}


@dataclass(frozen=True)
class Normalised:
    """Typed rows of one table and what is wrong with them.

    Attributes
    ----------
    table : name of the table.
    raw : the rows as they came: the table's columns and headings that are not the table's, all text.
    rows : columns as the store keeps them, index as in ``raw``.
    problems : reasons by row label.
    """

    table: str
    raw: pd.DataFrame
    rows: pd.DataFrame
    problems: Problems


def normalise(
    table: str,
    raw: pd.DataFrame,
    known: Mapping[str, pd.DataFrame],
    *,
    today: date,
) -> Normalised:
    """Read every cell of raw rows of one table.

    Parameters
    ----------
    table : key of ``ingest.schema.TABLES``.
    raw : text, missing cells empty; columns of the table (some may be missing) and source_file,
        source_sheet, source_row; further columns tell what was stated about the sheet: ``unit:NAME`` the
        unit that the heading of NAME named, ``:order`` of day and month, ``:decimal`` mark; ``:problem`` is
        what reading the file found wrong with the row.
    known : rows of the tables known so far. Of wear_points: readings and work are named and read in their
        units; of mileage: an odometer without a unit is in that of the log; of position_aliases: the
        railway's own words.
    today : later dates are held back, except where a column speaks of what lies ahead.

    Returns
    -------
    Normalised : rows with the index of ``raw``.
    """
    cells, problems = _cells(table, raw), Problems()
    points = known["wear_points"].drop_duplicates("point", keep="last")
    with problems.waiting_for(NAMES):
        if table in ("readings", "work"):
            cells["point"] = name_points(cells, points, problems, Aliases(known["position_aliases"]))
    with problems.waiting_for(CELLS):
        problems.where(cells[":problem"] != "", "row", cells[":problem"], cells[":problem"])
        rows = pd.DataFrame(index=cells.index)
        for column in TABLES[table].columns:
            if column.kind == "text":
                rows[column.name] = _not_too_long(column, cells[column.name], problems)
            elif column.kind == "choice":
                rows[column.name] = _choice(column, cells[column.name])
            elif column.kind in ("date", "month"):
                rows[column.name] = _date(column, today, cells, problems)
        read_numbers(table, cells, rows, problems, points=points, log=known["mileage"])
        check(table, rows, cells, problems)
    rows = pd.concat([_stored(table, rows, cells), raw[SOURCE]], axis=1)
    return Normalised(table, raw, rows, problems)


def _cells(table: str, raw: pd.DataFrame) -> pd.DataFrame:
    """The table's columns as trimmed text, all of them, and what was stated about the sheet."""
    stated = [name for name in raw.columns if ":" in name and name.partition(":")[0] in ("", "unit")]
    stated += [name for name in TABLES[table].parts if name in raw]
    cells = pd.DataFrame(index=raw.index)
    for name in dict.fromkeys([*TABLES[table].public, ":order", ":decimal", ":problem", *stated]):
        cells[name] = (
            raw[name].fillna("").str.strip() if name in raw else pd.Series("", raw.index, dtype="str")
        )
    return with_stated_parts(with_answers(without_cells(cells)))


def _not_too_long(column: Column, text: pd.Series, problems: Problems) -> pd.Series:
    """A text that no sheet can hold is none of a row's, whoever typed it where."""
    longest = bound("cell", "longest_text")
    words = f"holds more than {longest:,} characters; shorten the text"
    problems.where(text.str.len() > longest, column.name, text.str[:longest], words)
    return text


def _choice(column: Column, text: pd.Series) -> pd.Series:
    """Words of a choice; what is none of them stays as it is, for the contract to refuse."""
    known: dict[str, str] = {}
    for word, others in _WORDS.get(column.name, {}).items():
        known |= dict.fromkeys(others.split(), word)
    known |= {_letters(word): word for word in column.choices}
    default = "" if column.needed else column.choices[0]
    seen = {cell: known.get(_letters(cell), cell) for cell in text.unique()}
    seen[""] = default
    return text.map(seen).astype("str")


def _date(column: Column, today: date, cells: pd.DataFrame, problems: Problems) -> pd.Series:
    text = cells[column.name]
    if not (text != "").any():
        return pd.Series(pd.NaT, text.index, dtype="datetime64[us]")
    parse = parse_months if column.kind == "month" else parse_dates
    parsed = _by_order(parse, text, cells[":order"])
    filled = text != ""
    problems.where(filled & (parsed["problem"] != ""), column.name, text, parsed["problem"])
    days = parsed["date"].where(filled)
    if not column.ahead:
        late = days > pd.Timestamp(today)
        words, until = f"the date lies in the future (today is {today})", UNTIL + days.dt.strftime("%Y-%m-%d")
        problems.where(late, column.name, text, words, until)
    problems.where(
        days.dt.year < limit("reading", "earliest_year"),
        column.name,
        text,
        "the date lies before there were steam railways",
    )
    return days.astype("datetime64[us]")


def _by_order(
    parse: Callable[[pd.Series, str | None], pd.DataFrame], text: pd.Series, order: pd.Series
) -> pd.DataFrame:
    """Dates, by the order of day and month that was stated for each sheet."""
    orders = order.unique() if len(order) else [""]  # headings without a row
    parts = [_in_order(parse, text[order == word], word) for word in orders]
    return parts[0] if len(parts) == 1 else pd.concat(parts).reindex(text.index)


def _in_order(
    parse: Callable[[pd.Series, str | None], pd.DataFrame], text: pd.Series, order: str
) -> pd.DataFrame:
    """Dates of one order; of ``ydm`` those that a spreadsheet turned, put right."""
    if order == TURNED:
        text = text.str.replace(r"^([0-9]{4})-([0-9]{2})-([0-9]{2})", r"\1-\3-\2", regex=True)
    return parse(text, order if order in ORDERS else None)


def _stored(table: str, rows: pd.DataFrame, cells: pd.DataFrame) -> pd.DataFrame:
    """Columns as the store keeps them."""
    if table == "readings":
        unit = rows["_odometer_unit"]
        plain = cells["odometer"].str.fullmatch(r"[-+]?[0-9.,]*")
        words = cells["odometer"].where(~plain, cells["odometer"] + " " + unit)
        rows = rows.assign(value_text=cells["value"], odometer_text=words.where(cells["odometer"] != "", ""))
    rows = rows.rename(columns={column.name: column.stored for column in TABLES[table].columns})
    dropped = [name for name in rows.columns if name.startswith("_")]
    kept = {column.name for column in TABLES[table].internal}
    dropped += [name for name in ("base_unit",) if name in rows and name not in kept]
    return rows.drop(columns=dropped)
