"""One word for one thing: the list of DEVELOPERS.md is that of the page, and no text uses what is refused."""

import ast
import re
from pathlib import Path

import pytest

from dashboard.words.glossary import meanings, refused

ROOT = Path(__file__).parents[3]
PACKAGES = ("dashboard", "models", "ingest")
THEIRS = re.compile(r"^glossary\.toml$|_words\.toml$")
"""Files of what is refused, and of words that people write into their own sheets."""
NAMES = re.compile(r"[\w.:/{}=-]+")  # a word of the program, not of people: a key, a column, an address


def told(path):
    """Texts of a module that people may read, by line: its strings, and the help of its commands."""
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    comments = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    helps = {id(node.body[0].value) for node in nodes if isinstance(node, ast.FunctionDef) and called(node)}
    for node in nodes:
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        if (id(node) not in comments or id(node) in helps) and not NAMES.fullmatch(node.value):
            yield node.lineno, node.value


def called(function):
    """Whether a function is a command, whose first string is its help."""
    decorators = [ast.unparse(each) for each in function.decorator_list]
    return isinstance(function.body[0], ast.Expr) and any(
        "command" in each or "group" in each for each in decorators
    )


def without_comments(path):
    """What a file holds, but for the comments of its makers."""
    text = path.read_text(encoding="utf-8")
    return re.sub(r"(?m)^#.*$", "", text) if path.suffix == ".toml" else text


def texts():
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*")):
            where = path.relative_to(ROOT)
            if path.suffix == ".py":
                yield from ((f"{where}:{line}", text) for line, text in told(path))
            elif path.suffix in (".typ", ".html", ".js", ".toml", ".csv") and not THEIRS.search(path.name):
                yield str(where), without_comments(path)
    yield "README.md", (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_list_for_developers_is_that_of_the_page():
    section = (ROOT / "DEVELOPERS.md").read_text().split("## Glossary", 1)[1].split("\n## ", 1)[0]
    rows = [row.strip("| \n").split(" | ") for row in section.splitlines() if row.startswith("| ")][2:]
    assert [tuple(row) for row in rows] == meanings()


def test_no_word_is_explained_twice():
    words = [word for word, _ in meanings()]
    assert len(words) == len(set(words))


@pytest.fixture(scope="module")
def everything():
    return list(texts())


@pytest.mark.parametrize(("words", "instead"), refused())
def test_no_text_uses_a_refused_word(everything, words, instead):
    pattern = re.compile(words, re.IGNORECASE)
    found = [f"{where}: {text[:80]!r}" for where, text in everything if pattern.search(text)]
    assert found == [], f"say '{instead}'"
