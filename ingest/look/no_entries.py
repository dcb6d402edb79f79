"""Rows that may be no entries of the table: struck out, hidden, sums of other rows, or without a value."""

import json
import re
import tomllib
import unicodedata
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

import pandas as pd

from ingest.layouts.sums import is_sum_word
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.look.told_work import told_work
from ingest.names.abroad import meanings
from ingest.neutral import quoted
from ingest.notation.stated import MARKED, WITHOUT, WORDS
from ingest.schema import TABLES

_SHOWN = 5
_LONGEST = 32  # characters of a label, and of what is shown of a note; longer texts are remarks
_ASKED = {
    "struck out": "In these rows cells, or parts of them, are struck out in the workbook. Do they count?",
    "hidden row": "These rows are hidden in the workbook, by hand or by a filter. Do they count?",
    "hidden cell": "The number format of cells in these rows shows nothing of them. Do they count?",
    "hidden sheet": "The whole sheet is hidden in the workbook. Do its rows count?",
    "sum of the rows above": "In these rows a formula adds up or averages the rows above. Are they entries?",
}
_KINDS = {
    "struck out": "struck",
    "hidden row": "hidden",
    "hidden cell": "hidden",
    "hidden sheet": "hidden",
    "sum of the rows above": "sums",
}
_AS_EMPTY = ("odometer", "unit", "gauge", "observer")
"""Columns of a reading that may be empty."""
_NAMED = ("gauge", "observer")
_MEAN = (
    "means?|are|is|bedeutet|sind|ist|signifie|sont|est|oznacza|są|znamená|jsou|significa|sono|betekent|zijn"
)
"""Words by which a legend says what a color means (usage, no published source)."""
_BEGIN = ("point", "position", "date", "month", "vehicle")
"""Columns whose cell may go on behind such a word: ``Total 2005``, ``Average left``."""
_NO_LABELS = ("observer", "gauge", "name", "who", "vehicle")
"""Columns in which people and engines are named, who may be called Max."""


def judge_marks(sheet: Sheet) -> Iterator[Question]:
    """Ask about what the workbook says of rows and columns."""
    said = sheet.text(MARKED)
    if not (said != "").any():
        return
    left = pd.Series(True, sheet.raw.index)
    for words, text in _ASKED.items():
        at = said.index[said.str.contains(words, regex=False) & left]
        if words in ("struck out", "hidden cell"):
            at = at[[_matters(words, mark) for mark in said[at]]]
        if len(at):
            left[at] = False
            yield _question(sheet, _KINDS[words], text, at, key=words)
    hidden = said.str.extract("hidden column: ([^;]*)", expand=False).fillna("")
    for name in sorted({name for names in hidden.unique() for name in names.split()}):
        at = hidden.index[[name in names.split() for names in hidden]]
        yield _hidden_column(sheet, name, at.intersection(left.index[left]))


def judge_no_value(sheet: Sheet) -> Iterator[Settled]:
    """Settle that rows are no readings whose value says that nothing was measured, or only that all is well.

    A row whose note tells of work waits, so that somebody sees it. Beside a value such a word is as good as
    an empty cell; of people and gauges only a stroke is, since two letters may be their names.
    """
    if sheet.table != "readings":
        return
    value = sheet.text("value")
    said = [text for text in value.unique() if says_no_value(text)]
    if said:
        at = value.index[value.isin(said)]
        yield Settled(left_out=at[[not told_work(note) for note in sheet.text("note")[at]]])
    for name in _AS_EMPTY:
        text = sheet.text(name)
        said = [word for word in text.unique() if says_no_value(word, by_stroke=name in _NAMED)]
        if said:
            at = text.index[text.isin(said)]
            yield Settled(stated={WITHOUT: pd.Series(name, at, dtype="str")})


def judge_not_measured(sheet: Sheet) -> Iterator[Question]:
    """Ask about values whose note says that they were estimated, copied, or are those of the drawing."""
    if sheet.table != "readings":
        return
    note = sheet.text("note")
    said = [text for text in note.unique() if says_not_measured(text)]
    at = note.index[note.isin(said) & (sheet.text("value") != "")]
    if len(at):
        first = quoted(note[at[0]], _LONGEST)
        words = f"Notes such as {first} say that the value was not measured that day. Is it a reading?"
        yield _question(sheet, "measured", words, at, key="notes")


def judge_legend(sheet: Sheet) -> Iterator[Question]:
    """Ask about all rows where a line of the sheet says that a color means something: colors are not read.

    The line speaks on when somebody has dismissed it, while rows of its sheet wait.
    """
    if sheet.table != "readings":
        return
    empty = sheet.text("value") == ""
    rows = sheet.raw[empty]
    names = [name for name in rows.columns if ":" not in str(name) and not str(name).startswith("source_")]
    lines = [" ".join(filter(None, row)) for row in rows[names].fillna("").itertuples(index=False, name=None)]
    lines += _dismissed_lines(sheet) + _lines_beside(sheet)
    legend = [line for line in lines if len(line) <= _LONGEST * 8 and _legend().search(line.lower())]
    at = sheet.raw.index[~empty]
    if legend and len(at):
        first = quoted(" ".join(legend[0].split()), 2 * _LONGEST)
        words = f"The sheet says {first}, and colors are not read. Are all rows of it readings as they stand?"
        yield _question(sheet, "legend", words, at, key=first)


def _lines_beside(sheet: Sheet) -> list[str]:
    """Lines above the headings, or passed over by a layout, and what stands beside the table."""
    texts = list(sheet.text(WORDS).unique())
    names = {*TABLES[sheet.table].public, *TABLES[sheet.table].parts}
    for name in map(str, sheet.raw.columns):
        if name not in names and ":" not in name and not name.startswith("source_"):
            texts += list(sheet.text(name).unique())
    return [line for text in texts for line in text.splitlines()]


def _dismissed_lines(sheet: Sheet) -> list[str]:
    """Lines of the sheet without a value that were held back and are dismissed."""
    held = sheet.known["held"]
    gone = held[(held["outcome"] == "dismissed") & (held["source_file"] == sheet.file)]
    gone = gone[(gone["table_name"] == sheet.table) & (gone["source_sheet"].fillna("") == sheet.sheet)]
    rows = [row for row in map(json.loads, gone["raw"]) if not row.get("value")]
    return [" ".join(text for name, text in row.items() if ":" not in name and text) for row in rows]


@cache
def _legend() -> re.Pattern[str]:
    data = tomllib.loads(files("ingest.look").joinpath("color_words.toml").read_text(encoding="utf-8"))
    colors = "|".join(sorted({re.escape(word) for words in data.values() for word in words}))
    return re.compile(rf"\b(?:{colors})\b[^=:]{{0,24}}(?:=|:|\b(?:{_MEAN})\b)")


def judge_sums(sheet: Sheet) -> Iterator[Question]:
    """Ask about rows whose labels say that they are sums or averages."""
    at: set[int] = set()
    for name in map(str, sheet.raw.columns):
        if ":" in name or name.startswith("source_") or name in _NO_LABELS:
            continue
        text = sheet.text(name)
        odd = [word for word in text.unique() if is_sum_word(word, alone=name not in _BEGIN)]
        if name == "quantity" and not sheet.raw["source_row"].duplicated().any():
            odd = [word for word in odd if not meanings(word)]  # průměr: average, and diameter
        at |= set(text.index[text.isin(odd)]) if odd else set()
    formula = sheet.text(MARKED).str.contains("sum of the rows above", regex=False)
    left = pd.Index(sorted(at - set(formula.index[formula])), dtype="int64")
    left = left.difference(_side_by_side(sheet, left))
    if len(left):
        words = "By their labels these rows are sums, averages or the like of other rows. Are they entries?"
        yield _question(sheet, "sums", words, left, key="labels")


def _side_by_side(sheet: Sheet, at: pd.Index) -> pd.Index:
    """Of these rows those that are minimum and maximum of one place, and all that the sheet reads there.

    They come of one row of the sheet, with no reading beside them that they could be made from.
    """
    row = sheet.raw["source_row"]
    whole = ~row.isin(row[~row.index.isin(at)]) & row.duplicated(keep=False)
    return at[whole[at].to_numpy(dtype=bool)]


def says_no_value(text: str, *, by_stroke: bool = False) -> bool:
    """Whether a cell says in place of a value that nothing was measured, or that all is in order.

    With `by_stroke` by a mark alone, ``-``, not by a word.
    """
    if not text or len(text) > _LONGEST:
        return False
    marks, words = _no_value_words()
    lower = text.lower()
    return lower in marks or (not by_stroke and _letters(lower) in words)


def says_sound(text: str) -> bool:
    """Whether a word or mark says that what it is beside was looked at and found in order."""
    marks, words = _sound_words()
    return bool(text) and (text in marks or _letters(text.lower()) in words)


def says_not_measured(note: str) -> bool:
    """Whether a note says of its value that nobody measured it that day."""
    begins, whole = _not_measured_words()
    words = " ".join(unicodedata.normalize("NFC", note[: 4 * _LONGEST]).lower().split())
    return words.rstrip(" .!") in whole or begins.search(words) is not None


@cache
def _not_measured_words() -> tuple[re.Pattern[str], frozenset[str]]:
    data = tomllib.loads(files("ingest.look").joinpath("not_measured_words.toml").read_text(encoding="utf-8"))
    begins = [word for language in data.values() for word in language["begins"]]
    whole = frozenset(word.rstrip(" .") for language in data.values() for word in language["whole"])
    return re.compile(rf"(?<!not )\b(?:{'|'.join(map(re.escape, begins))})"), whole


@cache
def _sound_words() -> tuple[frozenset[str], frozenset[str]]:
    """Marks, and words in letters alone, of *sound* only."""
    data = tomllib.loads(files("ingest.look").joinpath("no_value_words.toml").read_text(encoding="utf-8"))
    marks = frozenset(data.pop("marks")["sound"])
    return marks, frozenset(_letters(word) for group in data.values() for word in group.get("sound", ()))


@cache
def _no_value_words() -> tuple[frozenset[str], frozenset[str]]:
    """Marks, and words in letters alone."""
    data = tomllib.loads(files("ingest.look").joinpath("no_value_words.toml").read_text(encoding="utf-8"))
    marks = frozenset(word for words in data.pop("marks").values() for word in words)
    return marks, frozenset(_letters(w) for group in data.values() for texts in group.values() for w in texts)


def _letters(lower: str) -> str:
    return re.sub(r"[\s./]+", "", unicodedata.normalize("NFC", lower))


def _matters(words: str, mark: str) -> bool:
    """Whether a mark is on more than remarks."""
    names = re.search(rf"{words}: ([^;]*)", mark)
    remarks = {"note", "observer", "gauge"}
    return names is not None and bool(set(names[1].split()) - remarks)


def _question(sheet: Sheet, kind: str, text: str, at: pd.Index, key: str) -> Question:
    public = TABLES[sheet.table].public
    column = next((name for name in ("value", "odometer", *public) if name in sheet.raw), "")
    shown = at[:_SHOWN]
    names = [name for name in public if name in sheet.raw]
    texts = [", ".join(filter(None, sheet.raw.loc[label, names])) for label in shown]
    answers = {
        "leave": Answer("no: leave them out", Settled(left_out=at), ("left out",) * len(shown)),
        "take": Answer("yes: take them as they stand", Settled(), tuple(texts)),
    }
    pairs = tuple(zip(shown.tolist(), texts, strict=True))
    return Question(kind, column, text, at, pairs, answers, key=key, whole=True)


def _hidden_column(sheet: Sheet, name: str, at: pd.Index) -> Question:
    shown = sheet.text(name)[at].drop_duplicates().head(_SHOWN)
    needed = name in TABLES[sheet.table].needed
    without = Settled(left_out=at) if needed else Settled(stated={WITHOUT: pd.Series(name, at, dtype="str")})
    answers = {
        "leave": Answer("no: as if they were empty", without, ("left out",) * len(shown)),
        "take": Answer("yes: take them as they stand", Settled(), tuple(shown)),
    }
    text = f"The column {name} is hidden in the workbook. Do its cells count?"
    pairs = tuple(zip(shown.index.tolist(), shown.tolist(), strict=True))
    return Question("hidden", name, text, at, pairs, answers, key="column")
