"""In CI a skip is a failure; elsewhere it is a skip."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).with_name("conftest.py")
SKIPPING = {
    "a test": "import pytest\ndef test_one():\n    pytest.skip('no browser')\n",
    "a marked test": "import pytest\n@pytest.mark.skip\ndef test_one():\n    pass\n",
    "a module": "import pytest\npytest.skip('no browser', allow_module_level=True)\ndef test_one():\n    pass\n",
}


def outcome(folder: Path, ci: str) -> int:
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(folder)],
        env={**os.environ, "CI": ci},
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
    )
    return done.returncode


@pytest.mark.parametrize("what", SKIPPING)
def test_a_skip_fails_in_ci_only(tmp_path, what):
    (tmp_path / "conftest.py").write_text(CONFTEST.read_text("utf-8"), "utf-8")
    (tmp_path / "test_it.py").write_text(SKIPPING[what] + "def test_two():\n    pass\n", "utf-8")
    assert outcome(tmp_path, "true") in (pytest.ExitCode.TESTS_FAILED, pytest.ExitCode.INTERRUPTED)
    assert outcome(tmp_path, "") in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED)


def test_an_expected_failure_is_no_skip(tmp_path):
    (tmp_path / "conftest.py").write_text(CONFTEST.read_text("utf-8"), "utf-8")
    text = "import pytest\n@pytest.mark.xfail\ndef test_one():\n    assert False\n"
    (tmp_path / "test_it.py").write_text(text, "utf-8")
    assert outcome(tmp_path, "true") == pytest.ExitCode.OK
