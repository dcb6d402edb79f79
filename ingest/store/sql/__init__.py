"""The statements, one file each. Values are bound; only names of our own tables are put into the text."""

import re
from functools import cache
from importlib.resources import files


@cache
def _text(name: str) -> str:
    return (files(__package__) / f"{name}.sql").read_text(encoding="utf-8")


def statement(name: str, **names: str) -> str:
    """Text of a statement; ``names`` fill its {placeholders} with names of tables and columns.

    Raises
    ------
    ValueError : a name is more than letters, figures, underscores and separating commas.
    """
    for value in names.values():
        if not re.fullmatch(r"\w+(, \w+)*", value):
            raise ValueError(f"not the name of a table or column: {value!r}")
    return _text(name).format(**names) if names else _text(name)
