"""In CI a skip is a failure; elsewhere it is a skip."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).with_name("conftest.py")
CASES = {
    "skipped": "import pytest\ndef test_it():\n    pytest.skip('no browser')\n",
    "marked": "import pytest\n@pytest.mark.skip\ndef test_it():\n    pass\n",
    "module": "import pytest\npytest.skip('no browser', allow_module_level=True)\n",
    "xfail": "import pytest\n@pytest.mark.xfail\ndef test_it():\n    assert False\n",
    "plain": "def test_it():\n    pass\n",
}


def outcomes(folder: Path, ci: str) -> dict[str, str]:
    """Outcome of each case as pytest's short summary says it."""
    (folder / "conftest.py").write_text(CONFTEST.read_text("utf-8"), "utf-8")
    for name, text in CASES.items():
        (folder / f"test_{name}.py").write_text(text, "utf-8")
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-rA",
            "-p",
            "no:cacheprovider",
            "--continue-on-collection-errors",
        ],
        env={**os.environ, "CI": ci, "PYTHONPATH": str(CONFTEST.parent)},
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
    )
    lines = [line.split() for line in done.stdout.splitlines()]
    found = {
        name: [line[0] for line in lines if any(f"test_{name}.py" in word for word in line)] for name in CASES
    }
    return {name: words[-1] if words else "" for name, words in found.items()}


def test_a_skip_fails_in_ci(tmp_path):
    found = outcomes(tmp_path, "true")
    assert found["skipped"] == "FAILED"
    assert found["marked"] == found["module"] == "ERROR"  # it fails before the test begins
    assert (found["plain"], found["xfail"]) == ("PASSED", "XFAIL")


def test_a_skip_is_a_skip_elsewhere(tmp_path):
    found = outcomes(tmp_path, "")
    assert {found[name] for name in ("skipped", "marked", "module")} == {"SKIPPED"}
    assert (found["plain"], found["xfail"]) == ("PASSED", "XFAIL")


@pytest.mark.parametrize("said", ["", "0", "false"])
def test_ci_is_on_only_when_said(said, tmp_path):
    code = "import conftest, sys; sys.exit(conftest.IN_CI)"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "CI": said, "PYTHONPATH": str(CONFTEST.parent)},
        cwd=tmp_path,
    )
    assert done.returncode == 0
