"""Which wheel an id means that says less than a position: ``1G``, ``3``, ``2L``.

A letter stands for a side where the column has both letters of a language (``1G`` beside ``1D``). Wheels that
are only counted, and wheels of a group of axles that is not said, are asked about, once for each part.
"""

import re
from collections.abc import Iterator, Mapping

import pandas as pd

from ingest.layouts.side_words import order_of_sides, side_languages
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import MEASURED, Sheet
from ingest.names.aliases import Aliases
from ingest.names.points import narrowed, spelled
from ingest.names.positions import Position, folded, read_position
from ingest.notation.stated import COMPONENT, POSITION, QUANTITY, VEHICLE

_ENDS = re.compile(r"(?P<rest>[A-Za-z]{0,3}[ .-]?[0-9]{1,2})[ .-]?(?P<side>[A-Za-z]{1,2})\.?")
_BEGINS = re.compile(r"(?P<side>[A-Za-z]{1,2})[ .-]?(?P<rest>[0-9]{1,2})")
_KNOWN = frozenset({"l", "r", "lh", "rh"})
"""Letters that the grammar of positions reads by itself."""
_COUNT = r"0?[1-9]|[1-9][0-9]"
_SHOWN = 5
_NONE = "none"


def judge_sides_of_ids(sheet: Sheet) -> Iterator[Question | Settled]:
    """Settle which letters of ids are left and right, or ask where the column does not show it."""
    text = _ids(sheet)
    for pattern in (_ENDS, _BEGINS):
        found = {word: pattern.fullmatch(word) for word in text.unique()}
        parts = {word: (match["rest"], match["side"].lower()) for word, match in found.items() if match}
        letters = frozenset(side for _, side in parts.values())
        at = text.index[text.isin(list(parts))]
        if letters <= _KNOWN:
            continue
        sides = _sides_of(letters)
        if sides and (pattern is _ENDS or _both_at_one(parts)):
            yield Settled(stated={POSITION: _with_sides(text[at], parts, sides)})
            return
        ways = _ways(letters) if pattern is _ENDS else []
        if ways:
            yield _which_side(text[at], parts, ways)
            return


def judge_groups_of_wheels(sheet: Sheet) -> Iterator[Question]:
    """Ask of which group of axles wheels are that name none."""
    for text, places, about, key in _parts(sheet):
        yield from _ask_group(text, places, about, key=key)


def judge_counted_wheels(sheet: Sheet) -> Iterator[Question]:
    """Ask how wheels are counted that are only numbered."""
    written = sheet.text("position")
    for text, places, about, key in _parts(sheet):
        numbers = text[written[text.index].str.fullmatch(_COUNT)]
        yield from _ask_how_counted(numbers, places, about, key=key)


def _parts(sheet: Sheet) -> Iterator[tuple[pd.Series, list[Position], str, str]]:
    """For each part and quantity: the ids of its rows, where it is on record, what it is called, a key."""
    text = _ids(sheet)
    points = sheet.known["wear_points"]
    if text.empty or points.empty:
        return
    points = points.drop_duplicates("point", keep="last")
    aliases = Aliases(sheet.known["position_aliases"])
    named = pd.DataFrame({name: _said(sheet, name, stated) for name, stated in _STATED.items()})
    for naming, rows in named.loc[text.index].groupby(list(_STATED), sort=False):
        vehicle, component, quantity = map(str, naming)
        left = narrowed((vehicle, component, "", quantity), points, aliases)[0]
        if left.empty or (not quantity and len(left[["component", "quantity"]].drop_duplicates()) > 1):
            continue  # what is meant is asked first
        places = [place for words in left["position"].unique() if (place := read_position(words))]
        about = " of ".join(filter(None, (component, vehicle)))
        yield text[rows.index], places, about, f"{vehicle} {spelled(component)}"


_STATED = {"vehicle": VEHICLE, "component": COMPONENT, "quantity": QUANTITY}


def _ids(sheet: Sheet) -> pd.Series:
    """Positions as written of the rows that name their wear point by them, what is stated in their place.

    Left out are the railway's own words.
    """
    if sheet.table not in MEASURED or "position" not in sheet.raw:
        return pd.Series([], dtype="str")
    text = _said(sheet, "position", POSITION)
    text = text[(text != "") & (sheet.text("point") == "")]
    aliases = Aliases(sheet.known["position_aliases"])
    if not aliases:
        return text
    pairs = list(zip(text, _said(sheet, "vehicle", VEHICLE)[text.index], strict=True))
    own = {pair: folded(pair[0]) in aliases.positions(pair[1]) or aliases.point(*pair) for pair in set(pairs)}
    return text[[not own[pair] for pair in pairs]]


def _said(sheet: Sheet, name: str, stated: str) -> pd.Series:
    text, other = sheet.text(name), sheet.text(stated)
    return text.mask(text == "", other) if name == "vehicle" else text.mask(other != "", other)


def _sides_of(letters: frozenset[str]) -> dict[str, str]:
    """Letter -> side, where they are the two of one language and of none another way round."""
    if len(letters) != 2:
        return {}
    one, other = sorted(letters)
    order = order_of_sides(one, other)
    return dict(zip((one, other), order.split(), strict=True)) if order else {}


def _ways(letters: frozenset[str]) -> list[dict[str, str]]:
    """What the letters may be in the languages that have all of them."""
    ways = []
    for words in side_languages().values():
        said = {letter: words[letter] for letter in sorted(letters) if letter in words}
        if set(said) == letters and said not in ways:
            ways.append(said)
    return ways


def _both_at_one(parts: Mapping[str, tuple[str, str]]) -> bool:
    """Whether both letters stand at one number: ``G1`` and ``D1`` are its sides, no groups of axles."""
    sides: dict[str, set[str]] = {}
    for rest, side in parts.values():
        sides.setdefault(rest, set()).add(side)
    return any(len(letters) > 1 for letters in sides.values())


def _with_sides(text: pd.Series, parts: Mapping[str, tuple[str, str]], sides: Mapping[str, str]) -> pd.Series:
    meant = {word: f"{rest} {sides[side]}" for word, (rest, side) in parts.items()}
    return text.map(meant).astype("str")


def _which_side(
    text: pd.Series, parts: Mapping[str, tuple[str, str]], ways: list[dict[str, str]]
) -> Question:
    shown = text.drop_duplicates().iloc[:_SHOWN]
    answers = {}
    for sides in ways:
        meant = _with_sides(text, parts, sides)
        word = "-".join(f"{letter.upper()}={side}" for letter, side in sides.items()).replace("=", "_")
        means = " and ".join(f"{letter.upper()} is {side}" for letter, side in sides.items())
        answers[word] = Answer(means, Settled(stated={POSITION: meant}), tuple(meant[shown.index]))
    letters = " and ".join(letter.upper() for letter in ways[0])
    words = f"Wheels are written {', '.join(shown)}: does {letters} say the side?"
    return _question(text, shown, words, answers, "sides", key="".join(sorted(ways[0])))


def _ask_how_counted(text: pd.Series, places: list[Position], about: str, *, key: str) -> Iterator[Question]:
    """Ask about wheels that have a number alone, at points that have a side, or more wheels than axles."""
    groups = {place.group for place in places}
    for word, part in text.groupby(text.map({word: _group_of(word) for word in text.unique()}), sort=False):
        group = str(word) if word or len(groups) > 1 else groups.copy().pop()
        own = [place for place in places if place.group == group and place.number and not place.until]
        if not own or (not word and len(groups) > 1):
            continue  # of which group they are is asked first
        count = part.map({each: int(each.split()[-1]) for each in part.unique()}).astype("int64")
        axles, sided = max(place.number for place in own), all(place.side for place in own)
        if sided or count.max() > axles:
            yield _how_counted(part, count, (group, axles), sided=sided, about=about, key=f"{key} {group}")


def _group_of(text: str) -> str:
    understood = read_position(text)
    return understood.group if understood is not None else ""


def _ask_group(text: pd.Series, places: list[Position], about: str, *, key: str) -> Iterator[Question]:
    """Ask of which group of axles wheels are that name none, where several groups have such a wheel."""
    read = {word: read_position(word) for word in text.unique()}
    named = {word: at for word, at in read.items() if at is not None and at.number and not at.group}
    fitting = {
        word: {place.group for place in places if at.covers(place)}
        for word, at in named.items()
        if at not in places
    }
    if any(len(groups) > 1 for groups in fitting.values()):
        yield _which_group(
            text[text.isin(list(fitting))], sorted(set().union(*fitting.values())), about, key=key
        )


def _how_counted(
    text: pd.Series, count: pd.Series, axles: tuple[str, int], *, sided: bool, about: str, key: str
) -> Question:
    """How wheels are counted that have a number and no side; `axles`: their group, and how many it has."""
    shown = text.drop_duplicates().iloc[:_SHOWN]
    group, n_axles = axles
    axle, second = (count + 1) // 2, count % 2 == 0
    along, beyond = (count - 1) % n_axles + 1, count > n_axles
    ways = {
        "pairs-left-first": ("two at each axle from the front, the left one first", axle, ~second),
        "pairs-right-first": ("two at each axle from the front, the right one first", axle, second),
        "left-side-first": ("the left side from the front, then the right side", along, ~beyond),
        "right-side-first": ("the right side from the front, then the left side", along, beyond),
    }
    answers = {}
    for word, (means, at, left) in ways.items() if sided else ():
        meant = f"{group} " + at.astype("str") + left.map({True: " left", False: " right"})
        meant = meant.astype("str").str.strip()
        answers[word] = Answer(means, Settled(stated={POSITION: meant}), tuple(meant[shown.index]))
    if not sided:
        meant = (f"{group} " + count.astype("str")).astype("str").str.strip()
        answers["axles"] = Answer(
            "they are the numbers of axles", Settled(stated={POSITION: meant}), tuple(meant[shown.index])
        )
    words = f"Wheels of {about} are only numbered, such as {', '.join(shown)}. How are they counted?"
    return _question(text, shown, words, answers, "wheels", key=key)


def _which_group(text: pd.Series, groups: list[str], about: str, *, key: str) -> Question:
    """Of which group of axles wheels are that several groups have."""
    shown = text.drop_duplicates().iloc[:_SHOWN]
    answers = {}
    for group in groups:
        meant = (f"{group} " + text).astype("str").str.strip()
        name = group or "no group"
        answers[name.replace(" ", "-")] = Answer(
            f"wheels of the {name}", Settled(stated={POSITION: meant}), tuple(meant[shown.index])
        )
    what = f" of {about}" if about else ""
    words = (
        f"Wheels{what} such as {', '.join(shown)} may be of several groups of axles "
        f"({', '.join(groups)}). Of which are they?"
    )
    return _question(text, shown, words, answers, "group", key=key, of_kind=False)


def _question(
    text: pd.Series,
    shown: pd.Series,
    words: str,
    answers: dict[str, Answer],
    kind: str,
    *,
    key: str,
    of_kind: bool = True,
) -> Question:
    """A question about ids, which may also be none of what is offered."""
    at = text.index
    answers[_NONE] = Answer(
        "none of these: leave the rows out", Settled(left_out=at), ("left out",) * len(shown)
    )
    pairs = tuple(zip(shown.index.tolist(), shown.tolist(), strict=True))
    return Question(kind, "position", words, at, pairs, answers, of_kind=of_kind, key=key)
