"""The README says what is so: its commands, its tables, its files."""

import re
import shlex
from pathlib import Path

import click
import pytest

from dashboard.cli import COMMANDS, main
from dashboard.services.brief_settings import load_settings
from dashboard.words.cautions import FORECAST_CAUTION
from ingest.schema import TABLES
from models.forecast.public import PUBLIC

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
EXAMPLES = re.findall(r"^\| ([\w-]+) \| [^|]+ \| `(milesleft [^`]+)` \|$", README, flags=re.MULTILINE)
ELSEWHERE = re.findall(r"^(?:ExecStart=\S*/)?(milesleft .+)$", README, flags=re.MULTILINE)


def set_up_lines() -> list[str]:
    return [line for line in README.splitlines() if line.startswith("python3 -m venv")]


def test_two_commands_set_up_everything():
    demo, tests = set_up_lines()
    assert demo.endswith(" && .venv/bin/milesleft demo")
    assert " && .venv/bin/pytest" in tests


def test_ci_runs_the_test_command_to_the_letter():
    script = (ROOT / ".ci" / "run").read_text("utf-8").splitlines()
    assert set_up_lines()[1] in script


def test_every_command_has_one_example_and_no_other_is_named():
    assert [name for name, _ in EXAMPLES] == sorted(COMMANDS)
    for name, example in EXAMPLES:
        assert shlex.split(example)[1] == name


@pytest.mark.parametrize("example", [example for _, example in EXAMPLES] + ELSEWHERE)
def test_examples_are_understood(example):
    """The command exists and takes what the example gives it; nothing is run."""
    _, name, *rest = shlex.split(example)
    command = main.get_command(click.Context(main), name)
    assert command is not None
    if isinstance(command, click.Group) and rest:  # held mend ...
        name, rest = rest[0], rest[1:]
        command = command.get_command(click.Context(command), name)
        assert command is not None
    try:
        command.make_context(name, rest)
    except click.BadParameter as problem:
        if "does not exist" not in problem.message:  # a file of the example
            raise


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_the_public_columns_are_those_of_the_contract(table):
    cells = [f"**{column.name}**" if column.needed else column.name for column in table.columns]
    assert f"| {table.name} | {', '.join(cells)} |" in README


def test_the_tables_stand_in_the_order_of_the_contract():
    section = README.split("## Tables in")[1].split("\n## ")[0]
    assert set(re.findall(r"^\| (\w+) \| \*\*", section, flags=re.MULTILINE)) == set(TABLES)


def test_the_columns_of_the_forecast_are_those_it_writes():
    listed = re.search(r"\npoint, vehicle, [^.]+", README)
    assert listed is not None
    assert [name.strip() for name in listed.group().split(",")] == PUBLIC


def test_the_caution_stands_before_the_commands():
    words = re.sub(r"[>*\s]+", " ", README).lower()
    for sentence in FORECAST_CAUTION.split("; "):
        assert sentence.rstrip(".").lower() in words
    assert README.index("never replaces inspection") < README.index("## Two commands")


@pytest.mark.parametrize("target", re.findall(r"\]\(([^)#:]+)\)", README))
def test_files_that_it_links_exist(target):
    assert (ROOT / target).exists()


def test_the_settings_of_the_brief_are_taken_as_they_stand(tmp_path):
    example = tmp_path / "brief.toml"
    example.write_text(re.search(r"```toml\n(\[brief\]\n.*?)```", README, re.DOTALL)[1], encoding="utf-8")
    settings = load_settings(example, {})
    assert (settings.brief["currency"], settings.rates) == ("EUR", {"USD": 0.92})
    assert settings.terms["share"].fillna(0.8).tolist() == [0.2, 0.8]
    assert [(each.name, each.miles) for each in settings.excursions] == [("fall colors", 248.0)]
