"""Two figures of one place and day in two columns, *before* and *after*, *Alt* and *Neu*: what are they?

Of a part that was turned or renewed the first is the end of its old life and the second the beginning of its
new one, and the work between them must be on record, or the second would be wear of no miles. But old and
new may be the last time and this time, or a size to be made. So it is asked, once for a sheet, and once more
where some figures went toward the limit and others away from it: no part is renewed by one that is more
worn.
"""

from collections.abc import Iterator

import numpy as np
import pandas as pd

from ingest import units
from ingest.look.copies import scatter, toward_limit
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.neutral import quoted
from ingest.notation.stated import FOUND_OR_LEFT, STAGE

_SHOWN = 4
_AFTER = "after"
_FOUND = {"before": "found", _AFTER: "left"}
_PLACE = ["source_row", "point", "date"]


def judge_before_after(sheet: Sheet) -> Iterator[Question]:
    """Ask what two columns of one place and day are, where headings say before and after, or old and new."""
    if sheet.table != "readings" or sheet.rows is None or STAGE not in sheet.raw or sheet.rows.empty:
        return
    read = _with_stages(sheet)
    new = read.index.isin(sheet.rows.index)
    on = (read["step"] > scatter(read["point"], sheet)).to_numpy()
    back = (read["step"] < -scatter(read["point"], sheet)).to_numpy()
    groups = [(on | ~back) & on.any(), back if on.any() else np.ones(len(read), dtype=bool)]
    for toward, group in zip((True, False), groups, strict=True):
        if (group & new).any():
            yield _question(read[group], read.index[group & new], toward=toward)


def _with_stages(sheet: Sheet) -> pd.DataFrame:
    """New readings of such columns, and those stored already that stand beside one.

    Returns
    -------
    As ``sheet.rows``, with stage; heading; before [base unit], NaN where none was read; step, from before to
    after, positive toward the limit (NaN where either is not known), the same beside both.
    """
    assert sheet.rows is not None
    read = sheet.rows if sheet.repeated is None else pd.concat([sheet.rows, sheet.repeated])
    stage = sheet.text(STAGE).reindex(read.index).str.partition(" ")
    read = read.assign(stage=stage[0], heading=stage[2])[(stage[0] != "").to_numpy()]
    by = [read[name] for name in _PLACE]
    value = {
        name: read["value"].where(read["stage"] == name).groupby(by).transform("first") for name in _FOUND
    }
    step = (value[_AFTER] - value["before"]) * toward_limit(read, sheet)
    read = read.assign(before=value["before"], after=value[_AFTER], step=step)
    asked = read.index.isin(sheet.rows.index)
    here: pd.DataFrame = read[pd.Series(asked, read.index).groupby(by).transform("any").astype(bool)]
    return here.sort_index()


def _question(read: pd.DataFrame, at: pd.Index, *, toward: bool) -> Question:
    """One question about places whose figures went one way."""
    first = read[[*_PLACE]].eq(read.loc[at[0], _PLACE]).all(axis=1)
    said = " and ".join((read["value_text"] + " " + read["unit"]).str.strip()[first])
    heads = [read.loc[read["stage"] == stage, "heading"] for stage in _FOUND]
    before, after = (quoted(str(head.iloc[0])) if len(head) else "nothing" for head in heads)
    example = f"such as {read.loc[at[0], 'point']} of {read.loc[at[0], 'date']:%Y-%m-%d}: {said}"
    way = "as it was or nearer to the limit" if toward else "nearer to new"
    way = "" if read["step"].isna().all() else f"; the second is {way}"
    text = (
        f"Columns {before} and {after} hold two figures of one place and day, {example}{way}. "
        "Were they measured before and after work, and which?"
    )
    shown = at[:_SHOWN]
    answers = {
        word: _work(word, read, at, (before, after)) for word in (("cut",) if toward else ("renewed", "cut"))
    }
    for word, stage, head, other in (
        ("only_after", _AFTER, after, before), ("only_before", "before", before, after)
    ):  # fmt: skip
        gone = at[(read.loc[at, "stage"] != stage).to_numpy()]
        answers[word] = Answer(
            f"{head} alone was measured on that day; {other} is of another day, or a size to be made, and is "
            "left out",
            Settled(left_out=gone),
            tuple("left out" if label in gone else "stored" for label in shown),
        )
    answers["none"] = Answer(
        "neither was measured so: leave both out", Settled(left_out=at), ("left out",) * len(shown)
    )
    cells = tuple((int(label), str(read.loc[label, "value_text"])) for label in shown)
    key = f"{before} {after}"
    return Question("stages", "value", text, at, cells, answers, key=key)


def _work(word: str, read: pd.DataFrame, at: pd.Index, heads: tuple[str, str]) -> Answer:
    """Both were measured, and between them the part was renewed or cut: that is put on record."""
    done = "a new or rebuilt part was fitted" if word == "renewed" else "metal was taken off"
    means = (
        f"{heads[0]} was measured before and {heads[1]} after {done} on that day; they are stored as found "
        "and as left, and the work is put on record"
    )
    stage = read.loc[at, "stage"]
    left = read[(read["stage"] == _AFTER) & (read["before"] != read["value"])]
    per = left["unit"].map({unit: units.per_unit(str(unit)) for unit in left["unit"].unique()})
    work = left[["point", "date", "unit", "source_file", "source_sheet", "source_row"]].assign(
        date=left["date"].dt.strftime("%Y-%m-%d"),
        action=word,
        value_before=[_text(value) for value in left["before"] / per],
        value_after=[_text(value) for value in left["value"] / per],
        note=f"told by the columns {heads[0]} and {heads[1]}",
    )
    reads = tuple(f"as {_FOUND[stage[label]]}, of a part {word} that day" for label in at[:_SHOWN])
    stated = {FOUND_OR_LEFT: stage.map(_FOUND).astype("str")}
    return Answer(means, Settled(stated=stated, more={"work": work.reset_index(drop=True)}), reads)


def _text(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.10g}"
