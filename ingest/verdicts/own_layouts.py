"""Sheets that are arranged in their own way: each is read by the layout proposed from it, once somebody says
that this is what the sheet means. Until then nothing of it is stored."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from ingest.errors import UserError
from ingest.layouts.engine_blocks import is_about_several, with_engines
from ingest.layouts.kept import kept_for, sheet_kind
from ingest.layouts.layout import Layout, parse_layout
from ingest.layouts.plain import RawTable
from ingest.layouts.pointed import Pointed, proposed, result_of, text_of
from ingest.layouts.propose import encoding_of
from ingest.layouts.titles import names_on_record, with_title
from ingest.look.looking import answers_of
from ingest.look.question import Answer, Question, Settled, mark_of, together
from ingest.neutral import quoted, visible
from ingest.schema import PARTS, SOURCE
from ingest.sheets.cells import RawCells
from ingest.sheets.readers import find_files, read_cells
from ingest.verdicts.decide import decide
from ingest.verdicts.handed_in import SHEETS, HandedIn, NotRead, as_rows, check_name, checked, read_each
from ingest.verdicts.look_report import ASKED, rows_as_handed_in
from ingest.verdicts.report import ACCEPTED, ALREADY_KNOWN
from ingest.verdicts.touched import Tables

KIND, AS_PROPOSED, NO = "layout", "as_proposed", "no"
_SHOWN = 4  # rows shown as they would be read
_MOST = 24  # names offered; of more nobody finds one in a list (common practice, no source)
_ROWS_AT_ONCE = 50_000  # ways to read a sheet that are judged together; more take much memory
_TOLD = {"stage": "before or after"}
_READ = (ACCEPTED, ALREADY_KNOWN, ASKED)
_NO_ROWS = pd.DataFrame(columns=["point", "date", "value", *SOURCE], dtype="str")


@dataclass(frozen=True)
class _Proposal:
    """What is asked about one sheet, and the layout that each answer but "no" reads it by."""

    path: Path
    question: Question
    layouts: Mapping[str, Layout]


@dataclass(frozen=True)
class _Beside:
    """What a proposal is judged beside: the tables with what the same call brings, answers, the day.

    ``lacking`` file and sheet -> what keeps it from being read, filled in on the way.
    """

    known: Tables
    answers: Mapping[str, str]
    today: date
    lacking: dict[tuple[str, str], str] = field(default_factory=dict)


def read_asking(
    paths: Sequence[Path], known: Callable[[], Tables], *, today: date, answers: Mapping[str, str]
) -> HandedIn:
    """As :func:`ingest.verdicts.handed_in.read_files`; a sheet that is no table as it stands is asked about.

    Parameters
    ----------
    known : gives rows of every table that hold; called where a sheet is no table.
    answers : id of a question -> answer, beside those that are stored.

    Returns
    -------
    HandedIn : with the questions that nobody has answered; their sheets are not read. A layout is asked about
        where it leaves nothing open, or names of which few are on record, and reads a row at least; not where
        one is kept for sheets of that make, which is the user's own.

    Raises
    ------
    UnreadableFile : as ``read_files``, unless something is asked or was answered.
    """
    handed_in = read_each(paths)
    read = set(zip(handed_in.sheets["file"], handed_in.sheets["sheet"], strict=True))
    unread = {(item.file, item.sheet) for item in handed_in.not_read} - read
    if not unread:
        return checked(handed_in)
    held = known()
    after = decide(handed_in.rows, held, today, answers).after if handed_in.rows else held
    beside = _Beside(after, answers_of(held["answers"], answers), today)
    questions, answered, of_file = _asked(_proposals(find_files(paths), unread, beside), beside.answers)
    if of_file:
        handed_in = read_each(paths, of_file=of_file)
    unread_still = tuple(
        replace(
            item,
            reason=" ".join(filter(None, [item.reason, beside.lacking.get((item.file, item.sheet), "")])),
        )
        for item in handed_in.not_read
    )
    if not (questions or answered):
        return checked(replace(handed_in, not_read=unread_still))
    not_read = _not_read(unread_still, questions)
    rows = handed_in.rows or {"readings": _NO_ROWS}
    return replace(handed_in, rows=rows, not_read=not_read, questions=questions, answered=answered)


def _asked(
    proposals: Iterable[_Proposal], answers: Mapping[str, str]
) -> tuple[tuple[Question, ...], tuple[tuple[Question, str], ...], dict[Path, Layout]]:
    """What nobody has answered yet, what was answered, and the layouts of files by it."""
    questions: dict[str, Question] = {}
    answered, of_file = [], dict[Path, Layout]()
    for proposal in proposals:
        asked, word = proposal.question, answers.get(proposal.question.id, "")
        if word not in asked.answers:
            before = questions.get(asked.id)
            questions[asked.id] = asked if before is None else together(before, asked)
            continue
        answered.append((asked, word))
        if word in proposal.layouts:
            of_file[proposal.path] = _both(of_file.get(proposal.path), proposal.layouts[word])
    return tuple(questions.values()), tuple(answered), of_file


def _proposals(paths: Sequence[Path], unread: set[tuple[str, str]], beside: _Beside) -> Iterator[_Proposal]:
    names = {file for file, _ in unread}
    for path in paths:
        if (name := visible(path.name)) not in names:
            continue
        encoding = encoding_of(path) or ""
        try:
            check_name(path)
            cells = [sheet for sheet in read_cells(path, encoding=encoding or None) if sheet.cells.size]
        except UserError:
            continue
        kept = len(beside.known["layouts"]) and kept_for(cells, beside.known["layouts"])
        for sheet in cells:
            if not {(name, sheet.sheet or ""), (name, "")} & unread:
                continue
            found = _proposal(path, sheet, len(cells) > 1, encoding, beside)
            if found is not None and (found.question.id in beside.answers or not kept):
                yield found


def _proposal(path: Path, sheet: RawCells, several: bool, encoding: str, beside: _Beside) -> _Proposal | None:
    """What is asked about a sheet; None where no layout for it is complete, or reads a row."""
    try:
        pointed = proposed(sheet, several=several, encoding=encoding)
        if pointed is None:
            return None
        # Which order dates have and which mark decimals is judged on the rows, as ever.
        pointed = replace(pointed, dates="", decimal="")
        points = beside.known["wear_points"]
        names = names_on_record(points)
        pointed = with_title(sheet, with_engines(sheet, pointed, names.get("vehicle", ())), names)
        if is_about_several(sheet, pointed, names.get("vehicle", ())):
            return None
        result = result_of(sheet, pointed)
        lacks = result.lacking
        if result.table is None or not {*lacks} <= {*PARTS}:
            if result.table is not None and (pointed.spread or "value" in pointed.columns.values()):
                beside.lacking[visible(path.name), sheet.sheet or ""] = _lacks_words(pointed, lacks)
            return None
        ways = _ways(pointed, lacks, points)
        tables = _tables(sheet, ways, lacks)
        layouts = {name: parse_layout(text_of(sheet, ways[name]), path.name) for name in tables}
        if not tables:
            return None
        question = _question(sheet, pointed, lacks, tables, layouts)
        if beside.answers.get(question.id) in question.answers:
            return _Proposal(path, question, layouts)
        looks = _looks(tables, beside)
    except UserError:
        return None
    reading = {name: rows for name, rows in looks.items() if rows["state"].isin(_READ).any()}
    if not reading:
        beside.lacking[visible(path.name), sheet.sheet or ""] = _none_read(pointed, looks)
        return None
    return _Proposal(path, _shown(question, reading), layouts)


def _lacks_words(pointed: Pointed, lacks: Sequence[str]) -> str:
    """What a sheet that may be readings must say before anything is proposed from it."""
    return (
        f"As a sheet of readings ({_how(pointed)}) it does not say its {', '.join(lacks)}. Write it in a "
        "line above the headings, such as 12 March 2024, or in a column of its own."
    )


def _none_read(pointed: Pointed, looks: Mapping[str, pd.DataFrame]) -> str:
    """Why nothing is proposed from a sheet that says all: the reason that most of its rows would wait for;
    nothing where it has none."""
    reasons = pd.concat(looks.values())["reasons"]
    if reasons.empty:
        return ""
    return (
        f"As a sheet of readings ({_how(pointed)}) none of its rows would be read, most of them because: "
        f"{reasons.mode().iloc[0]}"
    )


def _ways(pointed: Pointed, lacks: Sequence[str], points: pd.DataFrame) -> dict[str, Pointed]:
    """Answer -> the proposal by it: as it stands, or with names on record for what it lacks."""
    if not lacks:
        return {AS_PROPOSED: pointed}
    for column, name in pointed.fixed.items():
        alike = points[column] == name if column in PARTS else pd.Series(False, points.index)
        points = points[alike] if alike.any() else points
    rows = sorted(set(points[[*lacks]].itertuples(index=False, name=None)))
    ways = {
        ", ".join(names): replace(pointed, fixed={**pointed.fixed, **dict(zip(lacks, names, strict=True))})
        for names in rows
        if all(names)
    }
    return ways if len(ways) <= _MOST and NO not in ways else {}


def _tables(sheet: RawCells, ways: Mapping[str, Pointed], lacks: Sequence[str]) -> dict[str, RawTable]:
    """The sheet by each way, none where it is nothing; ways differ in names that hold for all rows."""
    tables: dict[str, RawTable] = {}
    for name, way in ways.items():
        first = next(iter(tables.values()), None) or result_of(sheet, way).table
        if first is None:
            return {}
        said = {column: way.fixed[column] for column in lacks}
        tables[name] = replace(first, rows=first.rows.assign(**said)) if said else first
    return tables


def _looks(tables: Mapping[str, RawTable], beside: _Beside) -> dict[str, pd.DataFrame]:
    """How the rows of each way would be read, as :class:`ingest.verdicts.look_report.LookReport` has them, in
    order. Each is judged as a sheet of its own, many in one go."""
    read = {name: as_rows(table) for name, table in tables.items()}
    at_once = max(1, _ROWS_AT_ONCE // max(1, *(len(rows) for _, _, rows in read.values())))
    looks: dict[str, pd.DataFrame] = {}
    for start in range(0, len(read), at_once):
        names = list(read)[start : start + at_once]
        files = {name: f"{number} {tables[name].file}" for number, name in enumerate(names)}
        rows, sheets = defaultdict[str, list[pd.DataFrame]](list), []
        for name, file in files.items():
            table, found, of_way = read[name]
            rows[found.table].append(of_way.assign(source_file=file))
            sheets.append((file, table.sheet or "", found.table, ""))
        of_table = {table: pd.concat(parts, ignore_index=True).fillna("") for table, parts in rows.items()}
        handed_in = HandedIn(of_table, pd.DataFrame(sheets, columns=SHEETS))
        decision = decide(handed_in.rows, beside.known, beside.today, beside.answers)
        seen = rows_as_handed_in(handed_in, decision).sort_values("row", kind="stable")
        looks |= {name: seen[seen["file"] == file].reset_index(drop=True) for name, file in files.items()}
    return looks


def _question(
    sheet: RawCells,
    pointed: Pointed,
    lacks: Sequence[str],
    tables: Mapping[str, RawTable],
    layouts: Mapping[str, Layout],
) -> Question:
    """The question without its readings.

    An answer to a sheet that says all by itself holds for the next one whose headings say the same; where a
    name was asked for, for this very sheet.
    """
    kind = sheet_kind([sheet], next(iter(layouts.values())))
    # What a line above the headings says with a day is seen in this sheet alone.
    seen_alone = "date" in pointed.words or pointed.fixed.get("date", "") not in ("", sheet.sheet)
    of_kind = bool(kind) and not lacks and not seen_alone
    about = (
        [kind, repr(_without_day(pointed))]
        if of_kind
        else [*lacks, *map(repr, sheet.cells.to_numpy().tolist())]
    )
    means = {AS_PROPOSED: "read it so" + (", and the next sheets of its make" if of_kind else "")}
    nothing = Settled()
    answers = {word: Answer(means.get(word, f"read it so, about {word}"), nothing) for word in tables}
    rows = sorted({int(row) for table in tables.values() for row in table.rows.index})
    asks = (
        "Does the sheet mean what is read from it?"
        if not lacks
        else f"Which {' and '.join(lacks)} is it about?"
    )
    said = f"is arranged in its own way: {_how(pointed)}."
    if lacks:
        said += f" It does not say its {' and '.join(lacks)}."
    return Question(
        kind=KIND,
        column="".join(lacks) if len(lacks) == 1 else "",
        text=f"{quoted(sheet.sheet or sheet.file)} {said} {asks}",
        at=pd.Index([], dtype="int64"),
        shown=(),
        answers=answers | {NO: Answer("leave the sheet unread", nothing)},
        of_kind=of_kind,
        id=f"{KIND}-{mark_of([KIND, pointed.table, *about])}",
        file=sheet.file,
        sheet=sheet.sheet or "",
        table=pointed.table,
        sheet_kind=mark_of([pointed.table, kind]),
        rows=tuple(rows),
    )


def _without_day(pointed: Pointed) -> Pointed:
    """What the next sheet of a make shares: not its name, where its columns end, the day on its tab."""
    fixed = {name: text for name, text in sorted(pointed.fixed.items()) if name != "date"}
    return replace(pointed, sheet="", spread=(), skip=(), nothing=(), fixed=fixed, encoding="")


def _how(pointed: Pointed) -> str:
    """The arrangement in words."""
    rows = ", ".join(map(str, pointed.header))
    blocks = [pointed.starts] if pointed.starts else list(pointed.engines[:_SHOWN])
    said = [
        f"blocks that begin with {', '.join(map(quoted, blocks))}" if blocks else f"headings in row {rows}"
    ]
    tells = " and ".join(dict.fromkeys(_TOLD.get(name, name) for name in pointed.tells if name))
    said += [f"a column for each {tells}"] if pointed.spread and tells else []
    of_year = [text[-4:] for text in [*pointed.words.get("date", {}).values()][:1]]
    said += [f"days without a year are of {year}" for year in of_year]
    said += [f"{name} {text} for all rows" for name, text in pointed.fixed.items()]
    return "; ".join(said)


def _shown(question: Question, looks: Mapping[str, pd.DataFrame]) -> Question:
    """The question with a few rows as each answer reads them; answers by which none is read left out."""
    counts = {word: int(rows["state"].isin(_READ).sum()) for word, rows in looks.items()}
    most = max(counts, key=lambda word: counts[word])
    rows = looks[most]
    places = sorted(set(np.linspace(0, len(rows) - 1, _SHOWN).round().astype(int).tolist()))
    reads = {word: tuple(_reads(found.iloc[place]) for place in places) for word, found in looks.items()}
    reads[NO] = ("not read",) * len(places)
    return replace(
        question,
        text=f"{question.text} {counts[most]:,} of {len(rows):,} values would be read.",
        shown=tuple((place, _written(rows.iloc[place])) for place in places),
        shown_rows=tuple(int(rows["row"].iloc[place]) for place in places),
        answers={word: replace(question.answers[word], reads=texts) for word, texts in reads.items()},
    )


def _written(row: pd.Series) -> str:
    """The cell that a row was made from; all its cells where it is no value."""
    cells = row["written"]
    return str(cells.get("value") or ", ".join(map(str, cells.values())))


def _reads(row: pd.Series) -> str:
    """Where, what and when a row is read as; as written where that is not understood."""
    cells = {**row["written"], **row["read"]}
    named = "point" if "point" in row["read"] else ""
    where = [cells[name] for name in ([named] if named else ["point", *PARTS]) if cells.get(name)]
    value = cells.get("value", "")
    value = f"{value:.10g}" if isinstance(value, float) else value
    said = (
        f"{', '.join(map(str, where))}: {value} {cells.get('unit', '')}".rstrip()
        + f", {cells.get('date', '')}"
    )
    return f"{said} (held back: {row['reasons']})" if row["state"] not in _READ else said


def _both(layout: Layout | None, other: Layout) -> Layout:
    """Layouts of two sheets of one file as one."""
    if layout is None:
        return other
    words = {column: {**layout.words.get(column, {}), **said} for column, said in other.words.items()}
    return replace(layout, tables=layout.tables + other.tables, words={**layout.words, **words})


def _not_read(items: Sequence[NotRead], questions: Sequence[Question]) -> tuple[NotRead, ...]:
    """Each sheet that is asked about once, with the question in place of what keeps it from being a table."""
    asked = {
        place: question
        for question in questions
        for place in [(question.file, question.sheet), *(where[:2] for where in question.elsewhere)]
    }
    told = {}
    for number, item in enumerate(items):
        question = asked.get((item.file, item.sheet))
        if question is None:
            told[item.file, item.sheet, str(number)] = item
        else:
            reason = f"It is arranged in its own way; question {question.id} asks whether it is read right."
            told[item.file, item.sheet, ""] = NotRead(item.file, item.sheet, reason, question.id)
    return tuple(told.values())
