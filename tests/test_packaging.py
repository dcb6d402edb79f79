"""The generic package names are ours, the layers hold, the wheel is whole, and nothing points outside."""

import ast
import importlib
import re
import subprocess
import sys
import zipfile
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("ingest", "models", "dashboard", "data_demo")
UNSHIPPED = (".pyc",)


def tracked(*folders: str) -> list[str]:
    """Files under version control, those not yet added included, as paths from the root."""
    call = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "--", *folders]
    listed = subprocess.run(call, cwd=ROOT, capture_output=True, text=True, check=True).stdout.splitlines()
    return [name for name in listed if (ROOT / name).is_file()]


@pytest.mark.parametrize("name", PACKAGES)
def test_generic_names_resolve_to_our_folders(name):
    module = importlib.import_module(name)
    assert module.__file__ is not None
    assert Path(module.__file__).parent == ROOT / name


def test_nothing_in_the_dashboard_shadows_a_package():
    """Streamlit puts the script's folder first on the path."""
    stems = {Path(name).stem for name in tracked("dashboard") if name.count("/") == 1}
    assert stems.isdisjoint({*PACKAGES, "tests"} - {"dashboard"})


def test_no_package_below_tests_and_no_name_twice():
    """A tests/models/__init__.py would replace the package of that name under every import mode."""
    files = [name for name in tracked("tests") if name.endswith(".py")]
    assert [name for name in files if name.endswith("__init__.py")] == []
    names = Counter(Path(name).name for name in files)
    assert {name for name, n in names.items() if n > 1 and name != "conftest.py"} == set()


def test_the_layers_hold():
    linter = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([linter], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> zipfile.Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    done = subprocess.run(build, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as archive:
        archive.extractall(folder / "installed")
    return folder / "installed"


def test_the_wheel_holds_every_file_of_the_packages(wheel):
    missing = [name for name in tracked(*PACKAGES) if not (wheel / name).is_file()]
    assert missing == []
    for kind in ("*.sql", "*.csv", "*.xlsx", "*.toml", "*.js"):
        assert list(wheel.rglob(kind)), kind


def test_the_wheel_holds_no_tests(wheel):
    assert not (wheel / "tests").exists()


def test_the_wheel_works_from_another_folder(wheel, tmp_path):
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import dashboard.services.demo_railway as demo;"
        "from ingest.verdicts.add import add_files; from ingest.store import Store;"
        "report = add_files(Store('demo.duckdb'), [demo.demo_sheets()]);"
        "print(demo.demo_sheets(), report.count('accepted'))"
    )
    call = [sys.executable, "-c", code, str(wheel)]
    done = subprocess.run(call, cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    folder, accepted = done.stdout.split()
    assert Path(folder) == wheel / "data_demo" / "railway"
    assert int(accepted) > 10_000


TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "ingest", "models", "dashboard", "data_demo", "tests"}
MOST_MODULES = 25
LONG = re.compile(r"#\s*long because \S")


def test_nothing_else_lies_at_the_top():
    assert {name.split("/")[0] for name in tracked() if not name.startswith(".")} == TOP


def test_rooms_are_small_and_each_says_in_one_sentence_what_it_is():
    modules = [Path(name) for name in tracked("ingest", "models", "dashboard") if name.endswith(".py")]
    rooms = Counter(module.parent for module in modules if len(module.parts) > 2)
    assert {room: count for room, count in rooms.items() if count > MOST_MODULES} == {}
    for room in rooms:
        text = ast.get_docstring(ast.parse((ROOT / room / "__init__.py").read_text("utf-8"))) or ""
        assert text.split("\n\n")[0].endswith("."), room


def too_long(name: str) -> list[str]:
    """What is longer than it may be in a file, unless a comment in it says ``# long because ...``."""
    text = (ROOT / name).read_text("utf-8")
    lines = text.splitlines()
    most, most_of_function = (500, None) if name.startswith("tests/") else (400, 50)
    longer = [f"{name}: all has {len(lines)} lines"] if len(lines) > most and not LONG.search(text) else []
    for node in ast.walk(ast.parse(text)) if most_of_function else ():
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = lines[node.lineno - 1 : node.end_lineno]
            if len(body) > most_of_function and not LONG.search("\n".join(body)):
                longer.append(f"{name}: {node.name} has {len(body)} lines")
    return longer


def test_modules_and_functions_are_short_or_say_why_not():
    files = [name for name in tracked(*PACKAGES, "tests") if name.endswith(".py")]
    assert [words for name in files for words in too_long(name)] == []


# Written apart, so that this file does not find itself.
OUTSIDE = {
    "a package registry": r"pypi\.(?:org|python)|pythonhosted|registry\.npm|index[-_]url|trusted[-_]host",
    "a place on one machine": r"(?<![\w.])/(?:work|home|root|Users)/\w|\.\./" + "shared",
}


@pytest.mark.parametrize("what", OUTSIDE)
def test_no_file_names(what):
    pattern = re.compile(OUTSIDE[what])
    found = []
    for name in tracked():
        if Path(name).name == Path(__file__).name:
            continue
        text = (ROOT / name).read_bytes().decode("utf-8", errors="ignore")
        found += [f"{name}: {hit.group()}" for hit in pattern.finditer(text)]
    assert found == []
