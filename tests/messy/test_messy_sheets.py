"""Messy sheets whose truth is known: nothing that is not true is stored, and what is true comes in.

The long form makes ten thousand sheets (``pytest -m long``); here some makers of each kind make one each.
"""

import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner
from messy.held_to_truth import outcome_by_question, outcome_of
from messy.invented_railways import railway, write_tables
from messy.logs import log_makers, log_outcome
from messy.makers import make, makers
from messy.more_arrangements import MORE
from messy.truth_told import true_answer

from dashboard.cli import main

MAKERS = makers()
CLEAN = [maker for maker in MAKERS if maker.clean]
FAULTS = sorted({maker.fault for maker in MAKERS} - {""})
SHARE_IN = 0.9
CLEAN_ASKED = 1 / 50
LONG_SHEETS = 10_000


def outcomes(chosen, seeds, folder):
    """Name of each sheet and what became of it."""
    for maker in chosen:
        for seed in seeds:
            yield (
                f"{maker.name} ({seed})",
                outcome_of(make(maker, seed, folder / f"{maker.name[:40]} {seed}")),
            )


def wrong_of(found):
    return {name: outcome.wrong for name, outcome in found if outcome.wrong}


def share_in(found):
    wanted = sum(outcome.n_true + outcome.n_work for _, outcome in found)
    return sum(outcome.n_in + outcome.n_work_in for _, outcome in found) / max(wanted, 1)


def test_there_are_sixty_makers_and_more():
    assert len({maker.name for maker in MAKERS}) + len(log_makers()) >= 60
    for what in ("arrangement", "notation", "language", "date_form", "fault"):
        count = Counter(getattr(maker, what) for maker in MAKERS)
        assert min(count.values()) >= 2, what


def test_clean_sheets_are_stored_as_they_are_and_hardly_ever_asked_about(tmp_path):
    found = list(outcomes(CLEAN[::8], (0,), tmp_path))
    assert wrong_of(found) == {}
    assert share_in(found) == 1
    asked = [name for name, outcome in found if outcome.asked]
    assert len(asked) <= CLEAN_ASKED * len(found), asked


@pytest.mark.parametrize("fault", FAULTS)
def test_of_a_sheet_with_a_fault_nothing_false_is_stored(fault, tmp_path):
    found = list(outcomes([maker for maker in MAKERS if maker.fault == fault][:1], (0,), tmp_path))
    assert wrong_of(found) == {}
    assert share_in(found) >= SHARE_IN, [outcome.held[:3] for _, outcome in found]


def test_what_a_sheet_does_not_say_is_found_out_or_asked(tmp_path):
    found = list(outcomes([m for m in MAKERS if not m.clean and not m.fault][::6], (0,), tmp_path))
    assert wrong_of(found) == {}
    assert share_in(found) >= SHARE_IN


def test_what_a_person_reads_at_once_is_read(tmp_path):
    """Both sides in a cell, several readings of a place, engines side by side, parts in other languages."""
    found = list(outcomes([maker for maker in MAKERS if maker.arrangement in MORE][::5], (0,), tmp_path))
    assert wrong_of(found) == {}
    assert share_in(found) >= SHARE_IN


def test_sheets_arranged_in_their_own_way_come_in_by_one_question_without_a_layout(tmp_path):
    """A column for each date or dimension, engines or days below each other: one word answers how."""
    own_way = ("wide by date", "wide by dimension", "stacked engines", "paired")
    chosen = [next(maker for maker in CLEAN if maker.arrangement == name) for name in own_way]
    found = [
        (maker.name, outcome_by_question(make(maker, 0, tmp_path / maker.name[:40]))) for maker in chosen
    ]
    assert wrong_of(found) == {}
    assert all([word for word in outcome.asked if word.startswith("layout")] for _, outcome in found)
    assert share_in(found) >= SHARE_IN


def test_logs_are_read_in_their_own_unit_and_count_on(tmp_path):
    made = log_makers()[::12]
    found = [(maker.name, log_outcome(maker, 0, tmp_path / maker.name)) for maker in made]
    assert wrong_of(found) == {}
    assert share_in(found) >= SHARE_IN


def test_the_command_line_says_and_stores_the_same(tmp_path):
    """A sheet and its second copy through ``add --look --json`` and ``add --answer``, in a real store."""
    maker = next(maker for maker in MAKERS if maker.fault == "second_copy")
    handed = make(maker, 0, tmp_path / "sheets")
    folder = tmp_path / "tables"
    folder.mkdir()
    write_tables(railway(handed.draft.railway.name), folder)
    db = tmp_path / "store.duckdb"

    def call(*words):
        done = CliRunner().invoke(main, [*map(str, words), "--db", str(db), "--json"])
        assert done.exit_code == 0, done.output
        return json.loads(done.stdout)

    call("add", folder)
    stored = 0
    for path, layout in handed.calls:
        with_layout = ("--layout", layout) if layout else ()
        asked = call("add", path, *with_layout, "--look")["questions"]
        answers = [f"{question['id']}={_word(question, handed)}" for question in asked]
        told = call("add", path, *with_layout, *(part for text in answers for part in ("--answer", text)))
        stored += told["accepted"]
        assert told["held_back"] == 0
    expected = outcome_of(handed)
    assert expected.wrong == []
    assert stored >= expected.n_in > 0


def _word(question, handed):
    """The true answer to a question as the command line puts it."""
    asked = outcome_questions(handed)
    return true_answer(asked[question["id"]], handed)


def outcome_questions(handed):
    """Every question that the sheets of a maker raise, by id."""
    seen = {}

    def answer(question, handed):
        seen[question.id] = question
        return true_answer(question, handed)

    outcome_of(handed, answer)
    return seen


def test_texts_of_either_kind_come_to_the_same():
    """Long runs keep texts as Python's own, which takes less time: each outcome is that of the real ones."""
    marks = set()
    for kind in ("plain", "as they are"):
        done = subprocess.run(
            [sys.executable, Path(__file__).parent / "many_sheets.py", "8", "4", "600", kind],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        assert "8 sheets" in done.stdout
        marks.add(done.stdout.split()[-1])
    assert len(marks) == 1


@pytest.mark.long
def test_of_ten_thousand_messy_sheets_nothing_false_is_stored(tmp_path):
    seeds = range(1, 1 + -(-LONG_SHEETS // len(MAKERS)))
    wrong, clean_asked, n_clean, n_in, n_true = {}, 0, 0, 0, 0
    for maker in MAKERS:
        for seed in seeds:
            outcome = outcome_of(make(maker, seed, tmp_path / "sheet"))
            if outcome.wrong:
                wrong[f"{maker.name} ({seed})"] = outcome.wrong
            clean_asked += maker.clean and bool(outcome.asked)
            n_clean += maker.clean
            n_in, n_true = n_in + outcome.n_in, n_true + outcome.n_true
    assert wrong == {}
    assert clean_asked <= CLEAN_ASKED * n_clean
    assert n_in >= SHARE_IN * n_true
