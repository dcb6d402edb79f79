"""Findings that are not dimensions: a cracked part is out whatever its miles.

A finding is a row of the table of findings: a component of a vehicle, how many were examined, how many were
defective, and a note that says what was seen and where. What the note names is looked up in the catalogue of
defects.
"""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.checks.measured import numbered, pairs

PUT_RIGHT = "put right"
"""Kind of the catalogue's words for what was done at once."""
COLUMNS = ["point", "vehicle", "date", "component", "kind", "located", "paragraph", "note"]


def defects_found(
    findings: pd.DataFrame, defects: pd.DataFrame, spelled: Callable[[str], str] = str.lower
) -> pd.DataFrame:
    """What each finding with a defect names.

    Parameters
    ----------
    findings : vehicle, date, component, examined, defective, note.
    defects : kind, components (parted by |, * for any), words (parted by |), condemns (yes / no), paragraph,
        status. Of two rows of one kind that name a finding the first holds. A finding whose note names a word
        of the kind ``put right`` condemns nothing any more, unless the note counts fewer than are defective.
    spelled : a component in the spelling of the catalogue, its last words naming the part.

    Returns
    -------
    Rows of ``findings`` with a defect and a kind of defect that their component and note name, with kind,
    condemns (bool), paragraph; a finding that names two kinds has two rows. A defect without a word of the
    catalogue has the kind ``not named`` and does not condemn: ``note`` is for people to read.
    """
    defective = findings[findings["defective"] > 0]
    component = _lower(defective["component"], spelled)
    text = _lower(defective["component"]) + " " + _lower(defective["note"])
    by_row_and_kind: dict[tuple[int, str], tuple[int, str, bool, str]] = {}
    done = defects["kind"] == PUT_RIGHT
    healed = _put_right(text, defective["defective"], "|".join(defects.loc[done, "words"].astype(str)))
    for defect in defects[~done].to_dict("records"):
        parts, words = str(defect["components"]).split("|"), str(defect["words"])
        what = (str(defect["kind"]), defect["condemns"] == "yes", str(defect["paragraph"]))
        for row, name in enumerate(component):
            of_this_part = parts == ["*"] or any(_ends_in(name, part) for part in parts)
            if of_this_part and _names(text[row], words):
                by_row_and_kind.setdefault((row, what[0]), (row, *what))
    named = {row for row, _ in by_row_and_kind}
    unnamed = ((row, "not named", False, "") for row in range(len(defective)) if row not in named)
    rows = [*by_row_and_kind.values(), *unnamed]
    named_defects = defective.iloc[[row for row, *_ in rows]].assign(
        kind=[kind for _, kind, _, _ in rows],
        condemns=np.array([condemns and not healed[row] for row, _, condemns, _ in rows], bool),
        paragraph=[paragraph for *_, paragraph in rows],
    )
    return named_defects.sort_values(["vehicle", "date"], kind="stable").reset_index(drop=True)


def condemned_points(
    wear_points: pd.DataFrame,
    findings: pd.DataFrame,
    work: pd.DataFrame,
    defects: pd.DataFrame,
    spelled: Callable[[str], str] = str.lower,
    beside: Collection[str] = (),
    puts_out: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> pd.DataFrame:
    """Wear points whose part a finding has condemned and no renewal has replaced since.

    Parameters
    ----------
    wear_points : point, vehicle, component, position; optional part, as the catalogue calls it.
    findings, defects : as :func:`defects_found` takes them.
    work : point, date, action; a renewal on or after the day of the finding clears the point.
    spelled : a component in the one spelling by which components are compared, its last words naming the
        part: a *tire retaining ring* is no tire.
    beside : words of a component that only say which of several it is.
    puts_out : parts that are out as well when one is, by its name: a tire with its wheel center.

    Returns
    -------
    ``COLUMNS``, one row a wear point and finding. ``located``: the finding names this position. A finding
    that names none speaks of every position of its component until someone says which: they are all listed,
    not located.
    """
    out = defects_found(findings, defects, spelled)
    out = out[out["condemns"]]
    if out.empty:
        return pd.DataFrame(columns=COLUMNS)
    vehicle = pd.concat([out["vehicle"], wear_points["vehicle"]]).to_numpy(object)
    finding, place = pairs(numbered(vehicle), np.arange(len(out)), np.arange(len(out), len(vehicle)))
    point = place - len(out)
    position = _lower(wear_points["position"])[point]
    said = (_lower(out["component"]) + " " + _lower(out["note"]))[finding]
    names, stated = _names_of(wear_points, spelled), _lower(out["component"], spelled)
    meant = {words: (words, *_also_out(words, puts_out)) for words in set(stated)}
    same = [
        any(_speaks_of(words, name, beside) for words in meant[stated[of]] for name in names[row])
        for row, of in zip(point, finding, strict=True)
    ]
    named = [bool(words) and words in text for words, text in zip(position, said, strict=True)]
    kept, located = np.array(same, bool), np.array(named, bool)
    anywhere = np.bincount(finding, kept & located, len(out)) > 0
    kept &= located | ~anywhere[finding]
    rows = out.iloc[finding[kept]].assign(
        point=wear_points["point"].array[point[kept]], located=located[kept]
    )
    return _standing(rows, work)


def _standing(rows: pd.DataFrame, work: pd.DataFrame) -> pd.DataFrame:
    """Those that no renewal has cleared since."""
    renewed = work[work["action"] == "renewed"].groupby("point")["date"].max()
    cleared = renewed.reindex(rows["point"]).to_numpy() >= rows["date"].to_numpy()
    standing: pd.DataFrame = rows.loc[~cleared, COLUMNS]
    return standing.reset_index(drop=True)


def _names_of(wear_points: pd.DataFrame, spelled: Callable[[str], str]) -> list[tuple[str, ...]]:
    """Names by which a finding may speak of each point: its component, and the part that this is a place of.

    The *main rod back end* is a place of the main rod; the *driver tire* itself says which tire it is.
    """
    component = _lower(wear_points["component"], spelled)
    part = _lower(wear_points["part"]) if "part" in wear_points else component
    return [
        (name,) if _ends_in(name, whole) else (name, whole)
        for name, whole in zip(component, part, strict=True)
    ]


def _ends_in(name: str, words: str) -> bool:
    """Whether the last words of a name are these: *driving journal* ends in *journal*."""
    return name == words or name.endswith(f" {words}")


def _also_out(stated: str, puts_out: Mapping[str, Sequence[str]]) -> list[str]:
    return [other for part, others in puts_out.items() if _ends_in(stated, part) for other in others]


def _speaks_of(stated: str, name: str, beside: Collection[str]) -> bool:
    """Whether what a finding names is the part: *tire* is every tire, *driver tire* also a mere *tire*."""
    if not stated.strip() or not name.strip():
        return False
    if _ends_in(name, stated):
        return True
    return _ends_in(stated, name) and all(word in beside for word in stated.removesuffix(name).split())


def _lower(texts: pd.Series, spelled: Callable[[str], str] = str.lower) -> NDArray[np.object_]:
    """Texts in one spelling, empty where there is none."""
    plain = texts.fillna("").astype(str)
    return plain.map({text: spelled(text) for text in plain.unique()}).astype(object).to_numpy()


def _put_right(texts: NDArray[np.object_], defective: pd.Series, words: str) -> list[bool]:
    """Whether notes say that what was found was put right, all of it."""
    if not words:
        return [False] * len(texts)
    counted = re.compile(rf"(?<!\d)(\d{{1,6}})\s+(?:{words})")
    said = ([int(n) for n in counted.findall(text)] for text in texts)
    return [
        _names(text, words) and (not counts or sum(counts) >= many)
        for text, counts, many in zip(texts, said, defective, strict=True)
    ]


def _names(text: str, words: str) -> bool:
    """Whether a text names one of the words, and does not deny it (``no cracks``, ``free of cracks``,
    ``to be renewed``)."""
    named, denied = _patterns(words)
    return bool(named.search(text)) and not denied.search(text)


@lru_cache(maxsize=256)
def _patterns(words: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    any_word = "|".join(re.escape(word) for word in words.split("|"))
    named = re.compile(rf"(?<![a-z])(?:{any_word})(?![a-z])")
    denied = rf"\b(?:no|not|not yet|never|without|free of|free from|be)\s+(?:{any_word})"
    return named, re.compile(denied, re.ASCII)
