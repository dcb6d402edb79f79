"""All rows of one call against the store: what is stored, held back, known already, and no longer waits."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import pandas as pd

from ingest.look.looking import Looked, answers_of
from ingest.look.question import Question
from ingest.store.transaction import Transaction
from ingest.verdicts.again import corrected_since
from ingest.verdicts.judge import Judged, judge
from ingest.verdicts.normalise import Normalised, normalise
from ingest.verdicts.read_over import read_over
from ingest.verdicts.waiting import against_held


@dataclass(frozen=True)
class Decision:
    """Verdicts on all tables of a call, at one version of the store.

    Attributes
    ----------
    judged : table -> verdicts on its rows.
    given : table -> its rows as they were read.
    looked : table -> what the look at its sheets came to.
    more : table -> verdicts on rows that came with answers, beside those of the sheets.
    held : rows to hold back, as ``Transaction.hold`` takes them; those left out have an outcome.
    released : held rows that no longer wait, as ``Transaction.settle`` takes them.
    after : rows of every table as they will hold (row_id -1 for new ones), and ``held`` with those that no
        longer wait.
    """

    judged: dict[str, Judged]
    given: dict[str, Normalised]
    looked: dict[str, Looked]
    more: dict[str, Judged]
    held: pd.DataFrame
    released: pd.DataFrame
    after: dict[str, pd.DataFrame] = field(default_factory=dict, repr=False, compare=False)

    @property
    def questions(self) -> list[Question]:
        """What nobody has answered yet."""
        return [question for looked in self.looked.values() for question in looked.questions]

    @property
    def answered(self) -> list[tuple[Question, str]]:
        """What was answered, now or before."""
        return [pair for looked in self.looked.values() for pair in looked.answered]

    def write(self, batch: Transaction) -> None:
        """Store what was decided."""
        for part in (self.judged, self.more):
            for table, judged in part.items():
                batch.replace(table, judged.replaced, judged.accepted)
        batch.hold(self.held)
        batch.settle(self.released)


def decide(
    raw: Mapping[str, pd.DataFrame],
    known: Mapping[str, pd.DataFrame],
    today: date,
    answers: Mapping[str, str] | None = None,
    unasked: Mapping[str, pd.Index] | None = None,
) -> Decision:
    """Judge all rows against the store's rows; rows accepted earlier in the call count as known.

    Pure: the same rows, the same store and the same answers give the same verdicts.

    Parameters
    ----------
    raw : table -> rows of text, as in :class:`ingest.verdicts.handed_in.HandedIn`.
    known : rows of every table that hold, and ``held``, as ``Store.stored`` gives them.
    today : later dates lie in the future.
    answers : id of a question -> answer, beside those that are stored.
    unasked : table -> labels of rows of sheets that nothing new can be asked of.
    """
    known = dict(known)
    said = answers_of(known["answers"], answers or {})
    out = Decision({}, {}, {}, {}, pd.DataFrame(), pd.DataFrame())
    held, released = [], []
    for table, rows in raw.items():
        given, looked = read_over(
            table, rows, known, today=today, answers=said, unasked=(unasked or {}).get(table)
        )
        out.given[table], out.looked[table] = given, looked
        verdict = _judged(given, looked, known)
        bad, free, repeated = against_held(given, verdict, known["held"], looked.left_out)
        accepted = verdict.accepted[~verdict.accepted.index.isin(repeated)]
        out.judged[table] = replace(verdict, accepted=accepted, known=verdict.known.union(repeated))
        held.append(bad)
        released.append(free)
        known[table] = _with(known[table], out.judged[table])
        for other, judged in _more(looked, known, today):
            out.more[other] = judged if other not in out.more else _both(out.more[other], judged)
            known[other] = _with(known[other], judged)
    to_hold, free = (pd.concat(parts, ignore_index=True) for parts in (held, released))
    if len(free):
        known["held"] = _ended(known["held"], free)
    return replace(out, held=to_hold, released=free, after=known)


def together(decisions: Sequence[Decision]) -> Decision:
    """One after the other, of different tables, as one; ``after`` is that of the last."""
    first = decisions[0]
    for then in decisions[1:]:
        more = dict(first.more)
        for table, judged in then.more.items():
            more[table] = _both(more[table], judged) if table in more else judged
        first = Decision(
            first.judged | then.judged,
            first.given | then.given,
            first.looked | then.looked,
            more,
            pd.concat([first.held, then.held], ignore_index=True),
            pd.concat([first.released, then.released], ignore_index=True),
            then.after,
        )
    return first


def _judged(given: Normalised, looked: Looked, known: dict[str, pd.DataFrame]) -> Judged:
    """Verdicts on the rows that the look left in, with what was answered about them."""
    table, replaced = given.table, looked.replaced
    if len(looked.left_out):
        given = replace(given, rows=given.rows.drop(looked.left_out))
    if len(replaced):
        known = known | {table: known[table][~known[table]["row_id"].isin(replaced)]}
    sound = given.rows[~given.rows.index.isin(given.problems.rows())]
    before = corrected_since(table, sound, known)
    if len(before):
        given = replace(given, rows=given.rows.drop(before))
    verdict = judge(given, known, stand=looked.stand)
    if len(before):
        verdict = replace(verdict, known=verdict.known.union(before))
    gone = replaced[replaced.index.isin(verdict.accepted.index)]
    return replace(verdict, replaced=pd.concat([verdict.replaced, gone])) if len(gone) else verdict


def _more(looked: Looked, known: dict[str, pd.DataFrame], today: date) -> Iterator[tuple[str, Judged]]:
    """Verdicts on the rows of other tables that came with answers; those that will not do are left out."""
    for settled in looked.settled:
        for table, rows in settled.more.items():
            yield table, judge(normalise(table, rows, known, today=today), known)


def _both(first: Judged, then: Judged) -> Judged:
    return replace(
        first,
        accepted=pd.concat([first.accepted, then.accepted]),
        replaced=pd.concat([first.replaced, then.replaced]),
    )


def _ended(held: pd.DataFrame, free: pd.DataFrame) -> pd.DataFrame:
    """Held rows with the outcome of those that no longer wait."""
    outcomes = dict(zip(free["held_id"], free["outcome"], strict=True))
    return held.assign(
        outcome=[outcomes.get(i, before) for i, before in zip(held["held_id"], held["outcome"], strict=True)]
    )


def _with(stored: pd.DataFrame, judged: Judged) -> pd.DataFrame:
    """The table as it will be: replaced rows gone, accepted ones added."""
    kept = stored[~stored["row_id"].isin(judged.replaced)] if len(judged.replaced) else stored
    if judged.accepted.empty:
        return kept
    new = judged.accepted.assign(row_id=-1)
    return pd.concat([kept, new[kept.columns]], ignore_index=True) if len(kept) else new[kept.columns]
