"""What is being looked at. The address holds it all, so that a link, a bookmark and the back button work.

Nothing is kept beside the address: each run of a page reads it here, and a choice writes it here. A choice
that equals its default is left out of the address.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NoReturn

import streamlit as st

from dashboard.words.units_shown import DISTANCES, LENGTHS, Units

VEHICLE, RUN, LENGTH, DISTANCE, POINT, PLACE, SHARE, OPENING = (
    "vehicle",
    "forecast",
    "length",
    "distance",
    "point",
    "place",
    "share",
    "opening",
)
KEPT_BETWEEN_PAGES = (VEHICLE, RUN, LENGTH, DISTANCE, POINT, SHARE)


def chosen(key: str, default: str = "") -> str:
    """The value of a choice in the address."""
    return str(st.query_params.get(key, default))


def choose(key: str, value: str | None) -> None:
    """Write a choice into the address; an empty one is taken out."""
    if value:
        if st.query_params.get(key) != value:
            st.query_params[key] = value
    elif key in st.query_params:
        del st.query_params[key]


def units() -> Units:
    """The units that people chose."""
    length, distance = chosen(LENGTH, "sheet"), chosen(DISTANCE, "mi")
    return Units(length if length in LENGTHS else "sheet", distance if distance in DISTANCES else "mi")


def link(**changes: str | None) -> dict[str, str]:
    """The part of the address that goes along to another page, with changes."""
    kept = {key: value for key in KEPT_BETWEEN_PAGES if (value := st.query_params.get(key))}
    merged: dict[str, str | None] = {**kept, **changes}
    return {key: value for key, value in merged.items() if value}


def go(page: str, **changes: str | None) -> NoReturn:
    """Open another page with what is being looked at."""
    st.switch_page(page, query_params=link(**changes))


def pick(
    widget: Callable[..., Any],
    label: str,
    options: Sequence[str],
    key: str,
    *,
    default: str | None = None,
    words: Callable[[str], str] = str,
    where: str = "",
    **settings: object,
) -> str:
    """A widget of one choice that lives in the address under ``key``; the choice, or the default.

    A value in the address that is not among the options (an old link) counts as the default. ``where`` tells
    apart two widgets of one choice on a page.
    """
    if not options:
        return ""
    first = options[0] if default is None else default
    value = chosen(key, first)
    value = value if value in options else first
    held = f"pick-{key}{where}"
    st.session_state[held] = value

    def written() -> None:
        picked = st.session_state[held]
        choose(key, None if picked in (None, first) else picked)

    widget(label, options, key=held, on_change=written, format_func=_told_apart(options, words), **settings)
    return value


def section(parts: Mapping[str, str], words: Mapping[str, str] | None = None) -> str:
    """Which part of a page is looked at, of ``parts``: name -> words; ``words`` stand instead of some."""
    said = {**parts, **(words or {})}
    return pick(
        st.segmented_control,
        "Section",
        list(parts),
        "part",
        words=said.__getitem__,
        label_visibility="collapsed",
        required=True,
    )


def number(
    label: str,
    key: str,
    *,
    default: float,
    least: float,
    most: float,
    per: float = 1.0,
    whole: bool = True,
    **settings: object,
) -> float:
    """A number that lives in the address under ``key``, typed in steps of one; the number.

    ``per`` is what one of the unit typed is worth in that of the address and of the answer. What the address
    holds that is no number within the bounds counts as the default.
    """
    try:
        value = float(chosen(key, str(default)))
    except ValueError:
        value = default
    value = value if least <= value <= most else default
    held = f"number-{key}"
    digits = 0 if whole else 1
    bounds = [round(each / per, digits) for each in (least, most, value)]
    # Whole and broken numbers may not be mixed in one widget.
    lowest, highest, typed = [int(each) for each in bounds] if whole else bounds
    st.session_state[held] = typed

    def written() -> None:
        given = st.session_state[held] * per
        choose(key, None if math.isclose(given, default) else f"{given:.6g}")

    form: dict[str, Any] = {"step": 1, "format": "%d"} if whole else {"step": 1.0, "format": "%.1f"}
    box: Callable[..., Any] = st.number_input
    box(label, lowest, highest, key=held, on_change=written, **form, **settings)
    return value


def _told_apart(options: Sequence[str], words: Callable[[str], str]) -> Callable[[str], str]:
    """The words of each option, numbered where two options have the same: the browser picks by words."""
    said: dict[str, str] = {}
    taken: dict[str, int] = {}
    for option in options:
        word = words(option)
        while word in taken:
            taken[words(option)] += 1
            word = f"{words(option)} ({taken[words(option)]})"
        taken[word] = 1
        said[option] = word
    return said.__getitem__
