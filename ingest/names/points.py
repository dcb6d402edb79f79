"""Wear points named by what they are instead of by their name: vehicle, component, position, quantity."""

import re
from functools import lru_cache

import pandas as pd

from ingest.names.abroad import meanings
from ingest.names.aliases import ALL, Aliases
from ingest.names.nearest import nearest
from ingest.names.positions import Resolver
from ingest.neutral import neutral, quoted
from ingest.schema import PARTS

_LISTED = 4  # points that a message names

# One trade, two spellings (trade usage, no source); what people leave out is allowed for elsewhere.
_SAME = {
    "tyre": "tire",
    "tyres": "tire",
    "tires": "tire",
    "axlebox": "driving box",
    "hornblock": "pedestal",
    "bogie": "truck",
    "slidebar": "guide",
    "dia": "diameter",
    "diam": "diameter",
    "thick": "thickness",
    "thk": "thickness",
    "ht": "height",
    "coupling": "side",
    "connecting": "main",
    "brasses": "brass",
    "bushes": "bushing",
    "bush": "bushing",
    "hollowness": "hollow",
    "wheels": "wheel",
    "journals": "journal",
    "pins": "pin",
    "bushings": "bushing",
    "rods": "rod",
    "axles": "axle",
    "crossheads": "crosshead",
    "gudgeon": "wrist",
    "equaliser": "equalizer",
    "centre": "center",
}


def resolve_points(rows: pd.DataFrame, points: pd.DataFrame, aliases: Aliases | None = None) -> pd.DataFrame:
    """Wear points meant by rows that name them in words.

    Parameters
    ----------
    rows : text columns among vehicle, component, position, quantity; missing ones count as empty.
    points : the wear points there are: point, vehicle, component, position, quantity.
    aliases : the railway's own words for positions and wear points.

    Returns
    -------
    DataFrame : index of `rows`; ``point`` the one wear point that fits all that the row says, "" if none or
        more than one does; ``problem`` why, with the nearest points named, "" if resolved.

    Notes
    -----
    Each different naming is resolved once. A word that the row leaves out may be anything; a component or
    quantity fits when its words are among those of the wear point (``tire`` in *driver tire*), whole names
    first.
    """
    named = pd.DataFrame({name: _column(rows, name) for name in PARTS}, index=rows.index)
    known = pd.DataFrame({name: _column(points, name) for name in ("point", *PARTS)})
    namings = list(named.itertuples(index=False, name=None))
    answers = {naming: _resolve(naming, known, aliases) for naming in set(namings)}
    answered = [answers[naming] for naming in namings]
    return pd.DataFrame(answered, columns=["point", "problem"], index=rows.index, dtype="str")


def _resolve(naming: tuple[str, ...], points: pd.DataFrame, aliases: Aliases | None) -> tuple[str, str]:
    """Point and problem of one naming."""
    left, problem = narrowed(naming, points, aliases)
    return (str(left["point"].iloc[0]), "") if not problem else ("", problem)


def narrowed(
    naming: tuple[str, ...], points: pd.DataFrame, aliases: Aliases | None
) -> tuple[pd.DataFrame, str]:
    """Wear points that fit one naming, narrowed column by column, the clearest first; and why not one alone.

    Parameters
    ----------
    naming : vehicle, component, position, quantity as written, "" for what is not said.
    points : the wear points there are: point, vehicle, component, position, quantity.
    """
    vehicle, component, position, quantity = naming
    left = points
    for name, written in (("vehicle", vehicle), ("quantity", quantity), ("component", component)):
        fitting = _fitting(left, name, written)
        if fitting.empty:
            near = nearest(written, left[name].unique(), 3)
            return fitting, f"no wear point has the {name} {quoted(written)}{_nearest(near)}"
        left = fitting
    if quantity and not component:
        left = left[_named_whole(left, quantity)]
        if left.empty:
            return left, f"no wear point is of the part that {quoted(quantity)} names; write the component"
    if position:
        vehicles = left["vehicle"].unique()
        only = str(vehicles[0]) if len(vehicles) == 1 else ALL
        meant = aliases.point(position, only) if aliases else ""
        if meant and (left["point"] == meant).any():
            return left[left["point"] == meant], ""
        resolver = Resolver(left["position"], aliases.positions(only) if aliases else None)
        places = resolver.fitting(position)
        if not places and (left["point"] == position).any():
            return left[left["point"] == position], ""
        if not places:
            near = resolver.nearest(position)
            unknown = f"no such wear point at the position {quoted(position)}{_nearest(near)}"
            return left.iloc[:0], f"{unknown}; put a word of your own into the table position_aliases"
        left = left[left["position"].isin(places)]
    if len(left) == 1:
        return left, ""
    more = f" and {len(left) - _LISTED} more" if len(left) > _LISTED else ""
    listed = ", ".join(neutral(name, 40) for name in sorted(left["point"])[:_LISTED])
    return left, f"{len(left)} wear points fit: {listed}{more}; write which in the column point"


def _nearest(names: list[str]) -> str:
    return f"; nearest: {', '.join(neutral(name, 40) for name in names)}" if names else ""


def _fitting(points: pd.DataFrame, name: str, written: str) -> pd.DataFrame:
    """Points whose column says what was written: whole, else all its words."""
    if not written:
        return points
    wanted = words_of(written)
    whole = points[[words_of(text) == wanted for text in points[name]]]
    if not whole.empty or name == "vehicle":
        return whole
    said = [_spellings(text) for text in points[name]]
    any_of = _spellings(written)
    same = points[[bool(any_of & words) for words in said]]
    if not same.empty:
        return same
    return points[[any(set(one) <= set(other) for one in any_of if one for other in words) for words in said]]


def _named_whole(points: pd.DataFrame, quantity: str) -> list[bool]:
    """Whether points are of the part that a quantity of another language names too: *Reifendicke* of a tire.

    The component beside it may be left out; a thickness of anything else is not meant.
    """
    said = [set(words_of(text)) for text in meanings(quantity)]
    whole = [words for words in said if len(words) == max(map(len, said))]
    if not whole or len(whole) == len(said):
        return [True] * len(points)
    return [
        any(words <= {*part, *own} for words in whole for part in _spellings(of) for own in _spellings(what))
        for of, what in zip(points["component"], points["quantity"], strict=True)
    ]


@lru_cache(maxsize=8192)
def _spellings(text: str) -> frozenset[tuple[str, ...]]:
    """The words of a name, and those that it may be in English, in the order of the alphabet."""
    return frozenset(tuple(sorted(words_of(each))) for each in (text, *meanings(text)))


def by_point(points: pd.DataFrame) -> pd.DataFrame:
    """Wear points by their names, unique; of a point with several rows the last, which is the newest."""
    return points.drop_duplicates("point", keep="last").set_index("point")


def spelled(text: str) -> str:
    """A component or quantity in one spelling: ``Coupling rod bush`` is ``side rod bushing``.

    In English where it is understood: ``Radreifen`` is ``tire``.
    """
    return " ".join(words_of(next(iter(meanings(text)), text)))


@lru_cache(maxsize=8192)
def words_of(text: str) -> tuple[str, ...]:
    """Words in lower case, one spelling for each."""
    parts = (_SAME.get(word, word) for word in re.findall(r"[^\W_]+", text.lower()))
    return tuple(word for part in parts for word in part.split())


def _column(frame: pd.DataFrame, name: str) -> pd.Series:
    if name not in frame:
        return pd.Series("", index=frame.index, dtype="str")
    return frame[name].fillna("").astype("str").str.strip()
