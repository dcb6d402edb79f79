"""What DEVELOPERS.md and the guides of the rooms point at is there: rooms, files, modules, names."""

import importlib
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("ingest", "models", "dashboard")
GUIDES = [
    ROOT / "DEVELOPERS.md",
    *sorted(guide for package in (*PACKAGES, "data_demo") for guide in (ROOT / package).rglob("README.md")),
]
MAP = re.findall(r"^\| (\d+) \| ((?:`[^`]+`(?:, )?)+) \|", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.M)
LINE_OF = {name: int(line) for line, names in MAP for name in re.findall(r"`([^`]+)`", names)}

PLACEHOLDER = r"NAME|COUNTRY"
"""What a how-to writes where the name of the new thing goes."""


def rooms(package):
    return {f"{package}/{init.parent.name}" for init in (ROOT / package).glob("*/__init__.py")}


@pytest.mark.parametrize("package", PACKAGES)
def test_the_map_shows_every_room_and_no_other(package):
    shown = {name for name in LINE_OF if name.startswith(f"{package}/") and not name.endswith(".py")}
    assert shown == rooms(package)


def test_the_lines_of_the_map_are_those_of_the_contracts():
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    for contract in (contract for contract in contracts if "containers" in contract):
        (package,) = contract["containers"]
        for line, layer in enumerate(contract["layers"], start=1):
            for room in re.split(r" [|:] ", layer):
                folder = f"{package}/{room}"
                if (ROOT / folder).is_dir():
                    assert LINE_OF[folder] == line, folder


@pytest.mark.parametrize("guide", GUIDES, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_that_a_guide_names_are_there(guide):
    text = guide.read_text("utf-8")
    named = re.findall(r"`((?:ingest|models|dashboard|data_demo|tests)/[\w./-]+)`", text)
    named = [name for name in named if not re.search(PLACEHOLDER, name)]
    linked = re.findall(r"\]\(([\w./-]+)(?:#[\w-]+)?\)", text)
    assert [name for name in named if not (ROOT / name).exists()] == []
    assert [name for name in linked if not (guide.parent / name).exists()] == []


@pytest.mark.parametrize("guide", GUIDES, ids=lambda path: str(path.relative_to(ROOT)))
def test_modules_and_names_that_a_guide_names_are_there(guide):
    for dotted in re.findall(r"`((?:ingest|models|dashboard)(?:\.\w+)+)(?:\(\))?`", guide.read_text("utf-8")):
        assert resolves(dotted), dotted


@pytest.mark.parametrize("guide", GUIDES, ids=lambda path: str(path.relative_to(ROOT)))
def test_headings_that_a_guide_links_to_are_there(guide):
    text = guide.read_text("utf-8")
    headings = re.findall(r"^#+ (.+)$", text, re.M)
    anchors = {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}
    assert set(re.findall(r"\]\(#([\w-]+)\)", text)) <= anchors


def resolves(dotted):
    """The longest part that is a module, then names in it."""
    parts = dotted.split(".")
    for length in range(len(parts), 0, -1):
        try:
            thing = importlib.import_module(".".join(parts[:length]))
        except ModuleNotFoundError:
            continue
        for name in parts[length:]:
            if not hasattr(thing, name):
                return False
            thing = getattr(thing, name)
        return True
    return False
