"""The example case and its brief, made once."""

import pytest
from briefs.example_case import MADE_ON, example

from dashboard.papers.brief import BriefSettings, compose


@pytest.fixture(scope="session")
def case():
    return example()


@pytest.fixture(scope="session")
def brief(case):
    return compose(case, BriefSettings(railway="Fernmoor Railway"), MADE_ON)
