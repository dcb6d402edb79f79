"""The examples in the docstrings of ``models`` run, and print what they say."""

import doctest
import importlib
from pathlib import Path

import pytest

import models

ROOT = Path(models.__file__).parent
WITH_EXAMPLES = [path for path in sorted(ROOT.rglob("*.py")) if ">>> " in path.read_text("utf-8")]


def name_of(path):
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@pytest.mark.parametrize("name", [name_of(path) for path in WITH_EXAMPLES])
def test_examples_print_what_they_say(name):
    done = doctest.testmod(importlib.import_module(name))
    assert done.attempted > 0
    assert done.failed == 0
