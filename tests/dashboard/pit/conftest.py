"""A served store of the small railway, and telephones that come to it."""

import re
import shutil
from types import SimpleNamespace

import pytest
from knocking.servers import serving

from ingest.store import Store

PHONES = {"390x844": (390, 844), "360x640": (360, 640)}


@pytest.fixture
def pit_store(made_store, tmp_path):
    """A copy of the small railway's store."""
    path = tmp_path / "pit.duckdb"
    shutil.copy(made_store, path)
    return Store(path)


@pytest.fixture(scope="module")
def pit_server(made_store, tmp_path_factory):
    """A server over a copy of the small railway: its address and its store."""
    path = tmp_path_factory.mktemp("pit") / "pit.duckdb"
    shutil.copy(made_store, path)
    with serving(path) as address:
        yield SimpleNamespace(address=address, store=Store(path))


@pytest.fixture
def phone(chromium):
    """``phone(size, scheme)``: a context with touch; it must end with nothing wrong said in its console."""
    made = []

    def make(size="390x844", scheme="dark", **more):
        wide, high = PHONES[size]
        context = chromium.new_context(
            viewport={"width": wide, "height": high},
            has_touch=True,
            is_mobile=True,
            color_scheme=scheme,
            **more,
        )
        context.set_default_timeout(20_000)
        wrong = []
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda said: wrong.append(said.text) if _is_wrong(said) else None)
        made.append((context, wrong))
        return page

    yield make
    for context, _ in made:
        context.close()
    assert [wrong for _, wrong in made] == [[] for _ in made]


def _is_wrong(said):
    # The browser itself says what was not answered, without a connection, and what was answered by 401.
    return said.type == "error" and not re.search(r"net::ERR|status of 401", said.text)
