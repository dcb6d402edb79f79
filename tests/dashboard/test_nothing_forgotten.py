"""Who adds a command or a page and forgets one of its places learns it here."""

import ast
from pathlib import Path

from dashboard.cli import COMMANDS

ROOT = Path(__file__).parents[2]
TESTS = ROOT / "tests" / "dashboard"


def parsed(path):
    return ast.parse(path.read_text("utf-8"))


def stems(folder):
    return {path.stem for path in (ROOT / folder).glob("*.py")} - {"__init__"}


def assigned(path, name):
    """The value of a module's global; ``app.py`` cannot be imported, it draws a page."""
    for node in parsed(path).body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if any(isinstance(target, ast.Name) and target.id == name for target in targets):
            return node.value
    raise AssertionError(f"{path} has no {name}")


def first_words(tree):
    """The first text of each list and of each call: ``run("add", file)``, ``[program, "add"]``."""
    for node in ast.walk(tree):
        given = node.args if isinstance(node, ast.Call) else getattr(node, "elts", [])
        yield from [part.value for part in given if isinstance(part, ast.Constant)][:1]


def test_every_module_with_a_command_is_listed_and_every_listed_command_has_one():
    modules = {
        stem
        for stem in stems("dashboard/commands")
        if any(
            isinstance(node, ast.FunctionDef) and node.name == "command"
            for node in parsed(ROOT / "dashboard" / "commands" / f"{stem}.py").body
        )
    }
    assert modules == {name.replace("-", "_") for name in COMMANDS}


def test_every_command_is_run_by_a_test():
    run = {word for path in TESTS.rglob("test_*.py") for word in first_words(parsed(path))}
    assert set(COMMANDS) - run == set()


def test_every_view_is_a_page_and_every_page_is_opened_by_the_tests_of_pages():
    pages = {key.value for key in assigned(ROOT / "dashboard" / "app.py", "QUESTIONS").keys}
    assert pages == stems("dashboard/views")
    opened = {key.value for key in assigned(TESTS / "views" / "test_pages.py", "VIEWS").keys}
    assert pages == opened


def test_every_page_is_opened_in_the_browser_too():
    pages = assigned(ROOT / "dashboard" / "app.py", "QUESTIONS").values
    addresses = {page.elts[1].value for page in pages}
    opened = assigned(TESTS / "views" / "test_in_browser.py", "VIEWS").keys
    assert addresses == {key.value.partition("?")[0] for key in opened}


def test_no_function_lives_by_its_tests_alone():
    """What stands between commands and pages is called by the product; by name, which is near enough."""
    modules = (ROOT / "dashboard").rglob("*.py")
    nodes = [node for path in modules for node in ast.walk(parsed(path))]
    used = {node.id for node in nodes if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)}
    used |= {node.attr for node in nodes if isinstance(node, ast.Attribute)}
    written = {
        node.name
        for room in ("words", "services", "pictures", "papers", "screen", "sections", "intake")
        for path in (ROOT / "dashboard" / room).glob("*.py")
        for node in parsed(path).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    }
    assert written - used == set()
