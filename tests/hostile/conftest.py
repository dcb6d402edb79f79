"""For the tests that do harm: a small store, a server with roles behind a proxy, one without roles."""

import shutil
from types import SimpleNamespace

import pytest
from knocking.servers import serving
from knocking.visitor import COOKIE_SECRET, USER_COOKIE, Visitor, claims_of, cookie_of
from knocking.watched import Watch
from pages.small_railway import small_railway_forecast

HOME = "https://wear.example.org"
ROLES = f"""
[sign_in]
provider = "http://127.0.0.1:9/.well-known/openid-configuration"
client_id = "milesleft"
client_secret = "of no worth"
cookie_secret = "{COOKIE_SECRET}"
address = "{HOME}"

[roles]
"officer@example.org" = "all"
"fitter@example.org" = "add"
"kate@example.org" = "add"
"planner@example.org" = "plan"
"friend@example.org" = "look"
"sub:248289761001" = "add"
"""
BOUNDS = """
[uploads]
file_mb = 1
session_mb = 2
server_mb = 3
session_files = 4
[sockets]
without_role = 4
kept_s = 2
"""


@pytest.fixture(scope="session")
def small_backup(small_store, tmp_path_factory):
    """A backup of the small store. Copy it, do not write."""
    from ingest.store import Store
    from ingest.store.backup import backup

    path = tmp_path_factory.mktemp("backed") / "b.milesleft"
    backup(Store(small_store), path)
    return path


@pytest.fixture(scope="session")
def small_store(once):
    """The small railway in a store, with one forecast. Copy it, do not write."""
    return once("small_store", small_railway_forecast) / "small.duckdb"


@pytest.fixture(scope="session")
def guarded(small_store, tmp_path_factory):
    """A server with roles and narrow bounds; ``visitor(email)`` comes to it with a cookie, or without one."""
    folder = tmp_path_factory.mktemp("guarded")
    db, roles, bounds = folder / "demo.duckdb", folder / "roles.toml", folder / "bounds.toml"
    shutil.copy(small_store, db)
    roles.write_text(ROLES)
    bounds.write_text(BOUNDS)
    with serving(db, "--roles", str(roles), "--bounds", str(bounds)) as address:

        def visitor(email=None, **changes):
            claims = claims_of(f"{email}@example.org", **changes) if email else None
            return Visitor(
                address, home=HOME, cookies={USER_COOKIE: cookie_of(claims, HOME)} if claims else None
            )

        found = SimpleNamespace(address=address, home=HOME, roles=roles, visitor=visitor, folder=folder)
        found.watch = Watch(next(folder.glob("watch-*")))
        yield found


@pytest.fixture(scope="session")
def unguarded(small_store, tmp_path_factory):
    """The address of a server without roles: whoever sits at this machine may do all."""
    db = tmp_path_factory.mktemp("unguarded") / "demo.duckdb"
    shutil.copy(small_store, db)
    with serving(db) as address:
        yield address


@pytest.fixture
def changed_roles(guarded):
    """``changed_roles(old, new)``: change the roles file under the running server, to be put back."""

    def change(old, new):
        told = guarded.roles.read_text()
        assert old in told
        guarded.roles.write_text(told.replace(old, new))

    yield change
    guarded.roles.write_text(ROLES)
