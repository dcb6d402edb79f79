"""The command line on a store of small tables, and sheets given as text."""

import json

import pytest
from click.testing import CliRunner

from dashboard.cli import main


@pytest.fixture
def milesleft(store):
    """The command line on the store; gives what it printed, as JSON if that was asked for."""

    def run(*words, ends=0):
        result = CliRunner().invoke(main, [*map(str, words), "--db", str(store.path)])
        assert result.exit_code == ends, (result.output, result.exception)
        return json.loads(result.stdout) if "--json" in words else result.output

    return run


@pytest.fixture
def sheet(folder):
    def write(text, name="sheet.csv"):
        (folder / name).write_text(text)
        return folder / name

    return write


@pytest.fixture
def look(milesleft):
    """The questions that a look asks by kind, and the rows by their number in the file."""

    def at(path, *words):
        found = milesleft("add", path, "--look", "--json", *words)
        asked = {question["kind"]: question for question in found["questions"]}
        return asked, {row["row"]: row for row in found["rows"]}

    return at
