"""The page on layouts says what holds: its layouts, values and positions are read, its bounds are right."""

import re
from pathlib import Path

import pandas as pd

from ingest.figures import bound
from ingest.layouts.layout import Blocks, Layout, SheetLayout, Spread, parse_layout
from ingest.names.positions import read_position
from ingest.notation.values import parse_values

PAGE = (Path(__file__).parents[3] / "ingest" / "layouts" / "README.md").read_text(encoding="utf-8")
LAYOUTS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def test_every_layout_of_the_page_is_one():
    assert len(LAYOUTS) == 2
    for text in LAYOUTS:
        assert parse_layout(text).tables


def test_every_entry_is_on_the_page():
    page = "\n".join(LAYOUTS)
    for kind in (Layout, SheetLayout, Spread, Blocks):
        for name in kind.__dataclass_fields__.keys() - {"name", "tables"}:
            assert re.search(rf"\b{name}\b( =|\.|\])", page), f"{kind.__name__}.{name}"


def test_the_values_of_the_page_are_read():
    sentence = PAGE[PAGE.index("How values are written") : PAGE.index("Dates:")]
    values = re.findall(r"`([^`]+)`", sentence)
    assert len(values) == 10
    assert (parse_values(pd.Series(values))["problem"] == "").all()


def test_the_positions_of_the_page_are_understood():
    written = re.findall(r"`([^`]+)`", PAGE[PAGE.index("as people write them") : PAGE.index("group, number")])
    assert len(written) == 5
    assert all(read_position(text) is not None for text in written)


def test_the_bounds_of_the_page():
    assert f"{bound('file', 'most_rows'):,} rows" in PAGE
    assert f"{bound('file', 'largest_size') // 1_000_000} MB" in PAGE
