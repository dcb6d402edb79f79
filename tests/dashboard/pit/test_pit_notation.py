"""The phone reads a measurement as the server does: the same value, unit and reason, cell by cell."""

import random

import numpy as np
import pandas as pd
import pytest

from dashboard.pit.rounds import round_of
from ingest.look.plausible import is_possible
from ingest.notation.elsewhere import notation_rules
from ingest.notation.values import parse_values
from ingest.value_state import value_states

pytestmark = pytest.mark.browser

CELLS = 6_000
WRITTEN = [
    "1 3/8",
    "88/64",
    "12 thou",
    "34,9 mm",
    "34.9mm",
    '1-3/8"',
    "1⅜",
    "2' 3 1/2\"",
    "-0.003",
    "12,345.5",
    "1,375",
    ".5",
    "5.",
    "1e3",
    "3/0",
    "1 9/8",
    "2' 13",
    "2' 3 mm",
    "n/a",
    "ok",
    "3/4/2024",
    "12:30",
    "<5",
    "5 + 2",
    "about 3",
    "see sheet 4",
    "12 bananas",
    "99999999 mm",
    "  7  ",
    "7 64ths",
    "5 16ths",
    "3 32nds",
    "7ft",
    "1 / 2",
    "+ 3",
    "0.001 in",
    "4 1/1000 in",
    "½",
    "3½ in",
    "−2",
    "1\u00a0\u00a03/8",
    "5 mm.",
    "5 (mm)",
    "5 MM",
    "45 %",
    "45°",
    "12 µm",
    "12 μm",
    "x" * 90,
    "1" * 85,
    "",
    "   ",
    "-",
    "''",
    "3 ''",
    "5\t6",
    "1 3/8 in 2",
    "1.2.3",
    "1,2,3",
]
UNITS = ["", "in", "mm", "thou", "1/64 in", "1/16 in", "%", "°", "inches", "hours", "furlongs"]
PIECES = "0123456789" * 3 + " /.,-+'\"½⅜″’%°~<" + "  //.."
WORDS = [
    "in",
    "mm",
    "thou",
    "64ths",
    "ft",
    "feet",
    "µm",
    "inch.",
    "mil metres",
    "lb",
    "e2",
    "(mm)",
    "May",
]


def generated(count, seed=20261129):
    """Cells from their own alphabet, and written ones with one character changed."""
    drawn = random.Random(seed)
    cells = list(WRITTEN)
    while len(cells) < count:
        if drawn.random() < 0.5:
            text = "".join(drawn.choice(PIECES) for _ in range(drawn.randint(1, 9)))
            text += drawn.choice(["", " ", ""]) + drawn.choice(["", *WORDS]) if drawn.random() < 0.5 else ""
        else:
            text = drawn.choice(WRITTEN)
            at = drawn.randrange(len(text) + 1)
            text = text[:at] + drawn.choice(PIECES) + text[at + drawn.randrange(2) :]
        cells.append(text)
    return cells


READ = """async ([rules, cells, units, decimal]) => {
  const { Notation } = await import("./notation.js");
  const notation = new Notation(rules);
  const told = (read) => [read.value, read.unit, read.problem];
  return cells.map((cell, i) => told(notation.read(cell, units[i], decimal)));
}"""


@pytest.fixture
def page(pit_server, phone):
    made = phone()
    made.goto(f"{pit_server.address}/pit/manifest.webmanifest")  # of its folder; runs nothing
    return made


@pytest.mark.parametrize("decimal", [".", ","])
def test_script_and_server_read_thousands_of_cells_alike(page, decimal):
    cells = generated(CELLS)
    units = [UNITS[i % len(UNITS)] for i in range(CELLS)]
    here = parse_values(pd.Series(cells, dtype="str"), pd.Series(units, dtype="str"), decimal=decimal)
    there = page.evaluate(READ, [notation_rules(), cells, units, decimal])
    wrong = []
    for cell, unit, mine, its in zip(cells, units, here.itertuples(index=False), there, strict=True):
        value = None if np.isnan(mine.value) else mine.value
        if [value, mine.unit, mine.problem] != its:
            wrong.append((cell, unit, value, mine.unit, mine.problem, its))
    assert wrong == []
    assert here["problem"].eq("").sum() > CELLS / 10  # both kinds are among them
    assert here["problem"].ne("").sum() > CELLS / 10


JUDGED = """async ([points, values]) => {
  const { stateOf } = await import("./judge.js");
  return points.map((point, i) => values[i].map((value) => stateOf(value, point)));
}"""


def test_script_and_server_hold_values_against_limits_alike(page, pit_server):
    store = pit_server.store
    told = round_of(store, "Nettle", pd.Timestamp("2023-11-01").date())["points"]
    about = store.read("wear_points").set_index("point")
    values = np.unique(np.concatenate([np.linspace(-0.5, 1.5, 401), [0.3125, 0.0625, 0.25, 0.015]]))
    there = page.evaluate(JUDGED, [told, [list(map(float, values))] * len(told)])
    for point, states in zip(told, there, strict=True):
        row = pd.DataFrame([about.loc[point["point"]]] * len(values), index=range(len(values)))
        per = float(row["per_base"].iloc[0])
        base = pd.Series(values / per)
        told_here = value_states(base, row)
        known = {"wear_points": store.read("wear_points"), "readings": store.read("readings")}
        possible = is_possible(pd.Series([point["point"]] * len(values)), base, known)
        expected = told_here.where(possible, "implausible")
        # A value that is an end of what is possible falls on either side, by the last digit of its unit.
        inside = [not any(np.isclose(value, end) for end in ends_of(point)) for value in values]
        assert list(np.array(states)[inside]) == list(expected[inside]), point["point"]
        assert sum(inside) >= len(values) - 2


def ends_of(point):
    return [end for end in (point["lowest"], point["highest"]) if end is not None]


def test_script_and_server_make_the_same_mark_of_a_cell(page):
    from dashboard.pit.sealed import mark

    asked = [(f"2026-11-29 N-D{i}L µ", i * 7 - 50) for i in range(40)]
    code = """async (asked) => {
      const { mark } = await import("./judge.js");
      return asked.map(([word, cell]) => mark(word, cell));
    }"""
    assert page.evaluate(code, asked) == [mark(word, cell) for word, cell in asked]
