"""Every regular expression of the packages, and what reads foreign text with it, against 50 kB of its worst.

An expression that takes time with the square of the text takes minutes for these; one that takes it with
the text some milliseconds. The time is the processor's, so that a busy machine changes nothing.
"""

import re
import signal
from contextlib import contextmanager

import pandas as pd
import pytest
from hostile.attacks import expressions, texts

from ingest import neutral, units
from ingest.catalogue.tables import records, table_of
from ingest.errors import UserError
from ingest.layouts import find
from ingest.layouts.headings import match, recognise, split_unit
from ingest.layouts.text import like
from ingest.look import decimal_mark
from ingest.names import points, positions
from ingest.names.arrangement import parse_arrangement
from ingest.names.nearest import nearest
from ingest.notation import dates, grammar
from ingest.notation.quantities import _plain as plain_number  # noqa: F401  # its module is loaded
from ingest.notation.values import parse_values

LENGTH = 50_000
MOST_S = 2.0  # of the processor; measured: 0.06 at most for what takes time with the text

KNOWN = {package: expressions(package) for package in ("ingest", "models", "dashboard")}
ALL = list({(one.pattern, one.flags, one.how): one for found, _ in KNOWN.values() for one in found}.values())

MADE_WHILE_RUNNING = {
    "ingest.catalogue.classify:row['words']": [row["words"] for row in records(table_of("roles"))],
    "ingest.catalogue.tables:f'(?<![A-Za-z])(?:{any_word})(?![A-Za-z])'": [
        r"(?<![A-Za-z])(?:EBO|CFR)(?![A-Za-z])"
    ],
    "ingest.look.copies:f'\\\\b(?:{begins})'": [r"\b(?:correct|instead\ of)"],
    "ingest.look.decimal_mark:pattern": [pattern for pattern, _ in decimal_mark._KINDS],
    "ingest.layouts.sums:f\"(?:{'|'.join(map(re.escape, words))})(?![^ ])\"": [r"(?:sum|average)(?![^ ])"],
    "ingest.look.no_entries:f\"(?<!not )\\\\b(?:{'|'.join(map(re.escape, begins))})\"": [
        r"(?<!not )\b(?:estimat|from\ memory|angenommen)"
    ],
    "ingest.look.no_entries:f'\\\\b(?:{colors})\\\\b[^=:]{{0,24}}(?:=|:|\\\\b(?:{_MEAN})\\\\b)'": [
        r"\b(?:red|gray)\b[^=:]{0,24}(?:=|:|\b(?:means?|are|is|bedeutet)\b)"
    ],
    "ingest.look.no_entries:f'{words}: ([^;]*)'": [r"hidden: ([^;]*)"],
    "ingest.names.positions:pattern": [pattern for _, pattern in (*positions._GROUPS, *positions._SIDES)],
    "ingest.names.positions:f'\\\\b{word}\\\\b'": [r"\bsecond\b"],
    "ingest.notation.dates:pattern": list(dates._MONTH_ALONE),
    "ingest.notation.dates:f'^{pattern}$'": [f"^{pattern}$" for pattern in dates._FORMS.values()],
    "ingest.notation.grammar:pattern": [
        *(pattern for pattern, _ in grammar._REFUSALS),
        *grammar._SPELLED,
        *grammar._ODD_MARKS,
        *grammar._MARKS,
    ],
    "models.case.fund:pattern": [r"\b(?:grant|loan)s?\b"],
    "models.checks.condemned:f'(?<!\\\\d)(\\\\d{{1,6}})\\\\s+(?:{words})'": [
        r"(?<!\d)(\d{1,6})\s+(?:renewed|new)"
    ],
    "models.checks.condemned:f'(?<![a-z])(?:{any_word})(?![a-z])'": [r"(?<![a-z])(?:crack|cracked)(?![a-z])"],
    "models.checks.condemned:denied": [r"\b(?:no|not|not yet|free of)\s+(?:crack|cracked)"],
}
"""Where a pattern is put together in a function: what it is then. Each is tried like the others."""
CUT_BEFORE = {
    "ingest.names.positions:pattern",
    "ingest.notation.grammar:pattern",
    "ingest.notation.dates:pattern",
}
"""These never see a long text; what cuts it is tried below."""


class TooLong(BaseException):
    """The processor's time is over."""


@contextmanager
def at_most(seconds=MOST_S):
    def stop(*_):
        raise TooLong

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def test_every_expression_is_known():
    unknown = {where for _, places in KNOWN.values() for where in places}
    assert unknown == set(MADE_WHILE_RUNNING), "name it there, with what it is when it runs"
    assert len(ALL) > 60


@pytest.mark.parametrize("one", ALL, ids=lambda one: f"{one.where.replace('[', '(')[:60]}-{one.how}")
def test_an_expression_takes_no_longer_than_its_text(one):
    attacks = texts(one.pattern, one.flags, LENGTH)
    if one.pandas:
        column = pd.Series(attacks, dtype="str")
        with at_most(4 * MOST_S):
            if one.how == "replace":
                column.str.replace(one.pattern, "", regex=True)
            else:
                getattr(column.str, one.how)(one.pattern)
        return
    for how in ("search", "fullmatch") if one.how == "compile" else (one.how,):
        attack_with(one.pattern, one.flags, how, attacks)


@pytest.mark.parametrize("where", sorted(set(MADE_WHILE_RUNNING) - CUT_BEFORE))
def test_an_expression_that_is_made_while_running_takes_no_longer_than_its_text(where):
    for pattern in MADE_WHILE_RUNNING[where]:
        attack_with(pattern, 0, "search", texts(pattern, 0, LENGTH))


def attack_with(pattern, flags, how, attacks):
    whole = re.compile(pattern, flags)
    method = getattr(whole, "search" if how in ("sub", "split", "findall", "finditer") else how)
    for attack in attacks:
        text = attack.encode("latin-1", "replace") if isinstance(pattern, bytes) else attack
        try:
            with at_most():
                method(text)
        except TooLong:
            pytest.fail(f"{how} of {pattern!r} takes too long for {attack[:40]!r}...{attack[-10:]!r}")


HEADINGS = ["value [" * (LENGTH // 7), "(" * LENGTH, "a " * (LENGTH // 2), "_" * LENGTH, "a/" * (LENGTH // 2)]
MONTHS = list(dates._MONTH_ALONE)
GRAMMAR = [pattern for pattern, _ in grammar._REFUSALS] + [grammar.PLAIN]
POSITIONS = MADE_WHILE_RUNNING["ingest.names.positions:pattern"]


def against(*patterns):
    """The worst texts against several expressions, and headings."""
    return list(dict.fromkeys([*HEADINGS, *(text for one in patterns for text in texts(one, 0, LENGTH))]))


def column(*patterns):
    return pd.Series(against(*patterns), dtype="str")


def each(function, *patterns):
    def tried():
        for text in against(*patterns):
            try:
                function(text)
            except UserError:
                continue

    return tried


READ = {
    "a heading's unit": each(split_unit.__wrapped__),
    "a heading": each(lambda text: match([text], "readings")),
    "headings of a sheet": lambda: recognise([*HEADINGS, "point", "date", "value"]),
    "a text like a pattern": each(lambda text: like(text, ["a*a*a*a*a*b", "*1*1*1*1*x", "* * * *!"])),
    "a block's first line": each(find.BLOCK.fullmatch),
    "measurements": lambda: parse_values(column(*GRAMMAR)),
    "measurements with decimal commas": lambda: parse_values(column(*GRAMMAR), decimal=","),
    "dates": lambda: dates.parse_dates(column(*dates._FORMS.values(), dates._THREE)),
    "months": lambda: dates.parse_months(column(*MONTHS)),
    "units": each(units.unit_of),
    "positions": each(positions.read_position.__wrapped__, *POSITIONS),
    "groups in components": each(positions.group_named, *POSITIONS),
    "words of one spelling": each(positions.folded),
    "components": each(points.spelled),
    "arrangements": each(parse_arrangement),
    "formulas": lambda: neutral.with_formulas(
        neutral.without_formulas(column(r"'*[=+]").to_frame("note"))["note"]
    ),
    "names that are near": each(lambda text: nearest(text, [text[::-1], "driver 2 left"] * 50, 3)),
}


@pytest.mark.parametrize("what", READ)
def test_what_reads_foreign_text_takes_no_longer_than_it(what):
    with at_most(10 * MOST_S):  # for all of some hundred texts of 50 kB
        READ[what]()
