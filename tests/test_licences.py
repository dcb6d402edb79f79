"""What is installed with the program may be passed on with it: the licences are those of the list."""

import re
import tomllib
from importlib.metadata import Distribution, distribution
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
SAME = {  # words for a licence in older metadata, and its SPDX name
    "2-clause bsd": "BSD-2-Clause",
    "3-clause bsd license": "BSD-3-Clause",
    "apache license 2.0": "Apache-2.0",
    "bsd license": "BSD",
    "mit license": "MIT",
}
LONGEST = 60  # characters; a longer text is that of the licence itself


def installed_with(project: Path) -> dict[str, Distribution]:
    """Every distribution that ``pip install`` of the project brings, by its normalised name."""
    wanted = [Requirement(text) for text in tomllib.loads(project.read_text())["project"]["dependencies"]]
    found, seen = {}, set()
    while wanted:
        requirement = wanted.pop()
        name = re.sub(r"[-_.]+", "-", requirement.name).lower()
        asked = (name, *sorted(requirement.extras))
        if asked in seen:
            continue
        seen.add(asked)
        found[name] = distribution(name)
        extras = requirement.extras or {""}
        for text in found[name].requires or []:
            needed = Requirement(text)
            if not needed.marker or any(needed.marker.evaluate({"extra": extra}) for extra in extras):
                wanted.append(needed)
    return found


def licence(known: Distribution) -> str:
    told = known.metadata.get("License-Expression") or known.metadata.get("License") or ""
    if not 0 < len(told) < LONGEST:
        classes = known.metadata.get_all("Classifier") or []
        told = next(each.rsplit(" :: ", 1)[1] for each in classes if each.startswith("License ::"))
    return SAME.get(told.lower(), told)


def listed() -> dict[str, str]:
    """Licence by distribution, from the table of DEVELOPERS.md."""
    text = (ROOT / "DEVELOPERS.md").read_text().split("## Licences", 1)[1].split("\n## ", 1)[0]
    rows = [row.split("|")[1:3] for row in text.splitlines() if row.startswith("| ")][1:]
    return {
        name.strip(): told.strip() for told, names in rows for name in names.split(",") if "---" not in told
    }


def test_every_dependency_is_listed_with_its_licence():
    assert listed() == {
        name: licence(known) for name, known in installed_with(ROOT / "pyproject.toml").items()
    }
