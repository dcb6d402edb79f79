"""The answers that somebody who knows the truth gives to what is asked about a made sheet."""

from collections.abc import Callable

import pandas as pd
from messy.makers import Handed
from messy.more_arrangements import COUNTED

from ingest.look.question import Question


def true_answer(question: Question, handed: Handed) -> str:
    """The true one of a question's answers; "" where none of them is true."""
    tell = _TELLS.get(question.kind)
    word = tell(question, handed) if tell else ""
    return word if word in question.answers else ""


def _records(question: Question, handed: Handed) -> pd.DataFrame:
    """What truly stands in the rows that a question is about."""
    arranged = handed.draft.arranged
    assert arranged is not None
    rows = {row - 1 for row in question.rows}
    labels = [label for label, (row, _) in arranged.where.items() if row in rows]
    return handed.draft.records.loc[labels]


def _dates(question: Question, handed: Handed) -> str:
    form = handed.draft.style.date_form
    if handed.draft.facts.get("dates") == "swapped":
        return "swapped" if "swapped" in question.answers else "dmy"
    return "mdy" if form.startswith("mdy") else "dmy"


def _renewal(question: Question, handed: Handed) -> str:
    own = _records(question, handed)
    if (own["keep"] == "out").any():
        return "wrong"
    if "jump" in handed.draft.facts:
        return str(handed.draft.facts["jump"])
    done = {(w["point"], w["until"]): w["action"] for w in handed.draft.work}
    actions = {done.get((row["point"], row["date"]), "") for row in own.to_dict("records")}
    actions.discard("")
    if actions:
        return str(actions.pop())
    return "no" if "no" in question.answers else "before"


def _value(question: Question, handed: Handed) -> str:
    return "wrong" if (_records(question, handed)["keep"] == "out").any() else "right"


def _correction(question: Question, handed: Handed) -> str:
    return str(handed.draft.facts.get("copy", "second"))


def _several(question: Question, handed: Handed) -> str:
    return str(handed.draft.facts.get("several", "worst"))


def _turned(question: Question, handed: Handed) -> str:
    return "turned" if handed.draft.facts.get("dates") == "swapped" else "as_shown"


def _odometer(question: Question, handed: Handed) -> str:
    return str(handed.draft.facts.get("odometer", ""))


def _unit(question: Question, handed: Handed) -> str:
    own = _records(question, handed)
    units = set(own["unit"])
    return units.pop() if len(units) == 1 else "own"


def _distance(question: Question, handed: Handed) -> str:
    own = set(_records(question, handed)["distance"])
    return str(handed.draft.facts.get("odometer", own.pop()))


def _mark(question: Question, handed: Handed) -> str:
    return "comma" if handed.draft.style.notation.decimal == "," else "point"


def _legend(question: Question, handed: Handed) -> str:
    return str(handed.draft.facts.get("legend", "leave"))


def _hidden(question: Question, handed: Handed) -> str:
    return str(handed.draft.facts.get("hidden", "leave"))


def _days(question: Question, handed: Handed) -> str:
    return "above"


def _wheels(question: Question, handed: Handed) -> str:
    return COUNTED[handed.draft.style.language]


def _no_entry(question: Question, handed: Handed) -> str:
    return "leave"


_TELLS: dict[str, Callable[[Question, Handed], str]] = {
    "dates": _dates,
    "days": _days,
    "turned": _turned,
    "unit": _unit,
    "distance": _distance,
    "decimal": _mark,
    "struck": _no_entry,
    "sums": _no_entry,
    "hidden": _hidden,
    "legend": _legend,
    "renewal": _renewal,
    "value": _value,
    "pace": _value,
    "correction": _correction,
    "several": _several,
    "odometer": _odometer,
    "wheels": _wheels,
}
