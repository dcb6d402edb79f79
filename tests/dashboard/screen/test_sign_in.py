"""Signing in against a real OpenID provider on this machine, and what each role can reach in the browser."""

import base64
import json
import re
import shutil
import threading
import time
from datetime import UTC, datetime, timedelta

import pytest

from dashboard.screen.access import donor_token, load
from ingest.store import Store

pytestmark = pytest.mark.browser

PEOPLE = {"officer": "all", "fitter": "add", "planner": "plan", "friend": "look"}
COOKIE_SECRET = "0123456789abcdef0123456789abcdef"
DOOR, HOME = "Sign in", "What will stop us first?"


class Provider:
    """An OpenID provider; ``spoil(claims, own key)`` makes another ID token of the one that it gives out."""

    def __init__(self):
        import oidc_provider_mock
        from werkzeug.serving import make_server

        def user(name, **claims):
            return oidc_provider_mock.User(sub=name, claims=claims)

        people = [user(n, email=f"{n}@example.org", email_verified=True) for n in (*PEOPLE, "stranger")]
        self.app = oidc_provider_mock.app(user_claims=people)
        self.app.after_request(self._answer)
        self.server = make_server("127.0.0.1", 0, self.app, threaded=True)
        self.address = f"http://127.0.0.1:{self.server.server_port}"
        self.spoil, self.given = None, 0
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def _answer(self, response):
        import flask

        if self.spoil and flask.request.path == "/oauth2/token" and response.status_code == 200:
            told = response.get_json()
            head, body, _ = told["id_token"].split(".")
            own = flask.g.oidc_provider_mock_storage.jwk
            told["id_token"] = self.spoil(json.loads(_decoded(head)), json.loads(_decoded(body)), own)
            response.set_data(json.dumps(told))
            self.given += 1
        return response


def _decoded(part):
    return base64.urlsafe_b64decode(part + "=" * (-len(part) % 4))


def _coded(value):
    return base64.urlsafe_b64encode(json.dumps(value).encode()).decode().rstrip("=")


def signed(head, claims, key):
    from authlib.jose import jwt

    return jwt.encode(head, claims, key).decode()


def forged(head, claims, _own):
    """Signed by somebody else's key under the provider's key name."""
    from authlib.jose import RSAKey

    return signed(head, claims, RSAKey.generate_key(is_private=True))


SPOILT = {
    "wrong audience": lambda head, claims, own: signed(head, claims | {"aud": "somebody-else"}, own),
    "wrong issuer": lambda head, claims, own: signed(head, claims | {"iss": "http://evil.example"}, own),
    "expired": lambda head, claims, own: signed(
        head, claims | {"iat": int(time.time()) - 9000, "exp": int(time.time()) - 5400}, own
    ),
    "forged signature": forged,
    "no signature": lambda head, claims, own: f"{_coded({'alg': 'none'})}.{_coded(claims)}.",
    "another's nonce": lambda head, claims, own: signed(head, claims | {"nonce": "replayed"}, own),
}


@pytest.fixture(scope="module")
def provider():
    found = Provider()
    yield found
    found.server.shutdown()


@pytest.fixture(autouse=True)
def _unspoilt(request):
    if "provider" in request.fixturenames or "railway" in request.fixturenames:
        request.getfixturevalue("provider").spoil = None


@pytest.fixture(scope="module")
def railway(made_store, provider, serve, free_port, tmp_path_factory):
    """A server that asks people to sign in: its address, its store, its roles file."""
    folder = tmp_path_factory.mktemp("signed")
    db, roles, port = folder / "small.duckdb", folder / "roles.toml", free_port()
    shutil.copy(made_store, db)
    people = "\n".join(f'"{name}@example.org" = "{role}"' for name, role in PEOPLE.items())
    roles.write_text(
        f'[sign_in]\nprovider = "{provider.address}/.well-known/openid-configuration"\n'
        f'client_id = "milesleft"\nclient_secret = "of no worth"\ncookie_secret = "{COOKIE_SECRET}"\n'
        f'address = "http://127.0.0.1:{port}"\n[roles]\n{people}\n'
    )
    with serve(db, "--roles", str(roles), port=port) as address:
        yield address, db, roles


def lets_the_provider_ask(page):
    """The provider's own pages ask for a stylesheet from elsewhere, in vain."""
    page.page.route("https://**", lambda route: route.abort())
    page.allowed = ("https://cdn.jsdelivr.net/", "http://127.0.0.1")
    return page


def sign_in(make, address, name):
    """A page on which somebody has signed in, or has tried to."""
    page = lets_the_provider_ask(make())
    page.open(address)
    page.page.get_by_role("button", name=DOOR).click()
    page.page.get_by_role("button", name=name, exact=True).click()
    page.page.wait_for_url(f"{address}/**")
    page.settle()
    return page


@pytest.fixture(scope="module")
def sessions():
    """What the browser of each person keeps after a sign-in."""
    return {}


@pytest.fixture
def as_person(railway, browser_page, sessions):
    """``as_person(name)``: a page of somebody who signed in before."""

    def make(name):
        if name not in sessions:
            page = sign_in(browser_page, railway[0], name)
            sessions[name] = page.page.context.storage_state()
            return page
        page = browser_page(state=sessions[name])
        page.open(railway[0])
        return page

    return make


def heading(page):
    return page.page.locator("h1").first.inner_text()


def links(page):
    return [text.split("\n")[-1] for text in page.page.get_by_role("link").all_inner_texts() if text.strip()]


def test_nobody_sees_anything_without_signing_in(railway, browser_page):
    page = browser_page()
    for path in ("", "point", "case"):
        page.open(f"{railway[0]}/{path}")
        assert heading(page) == "milesleft"
        assert page.page.get_by_role("button", name=DOOR).is_visible()
        assert "Nettle" not in page.page.content()


MAY = {  # who: changes data, keeps a case, gives links to donors away
    "officer": (True, True, True),
    "fitter": (True, False, False),
    "planner": (False, True, False),
    "friend": (False, False, False),
}


@pytest.mark.parametrize("name", MAY)
def test_each_role_reaches_what_is_its_own_and_no_more(railway, as_person, name):
    changes, keeps, gives = MAY[name]
    page = as_person(name)
    assert heading(page) == HOME
    page.page.get_by_role("link", name="How a forecast is made").wait_for()
    assert ("Is this batch right?" in links(page)) == changes
    page.open(f"{railway[0]}/batch")
    assert (heading(page) == "Not open to you") == (not changes)
    page.open(f"{railway[0]}/case")
    page.page.get_by_text("Files to download").wait_for()
    page.settle()  # the buttons come last
    assert page.page.get_by_role("button", name="Keep this brief").is_visible() == keeps
    assert page.page.get_by_role("button", name="Make the link").is_visible() == gives


def test_every_change_is_signed_with_who_made_it(railway, as_person):
    address, db, _ = railway
    page = as_person("fitter")
    page.open(f"{address}/batch")
    content = b"point,date,value,unit\nN-D1L-HOLLOW,2023-09-20,0.172,in\n"
    file = {"name": "september.csv", "mimeType": "text/csv", "buffer": content}
    page.page.locator("input[type=file]").set_input_files(file)
    page.page.get_by_role("button", name="Add these files").click()
    page.page.get_by_text("Stored as batch").wait_for()
    assert Store(db).batches()["who"].iloc[0] == "fitter@example.org"


def test_who_has_no_role_is_told_so_and_sees_nothing(railway, browser_page):
    page = sign_in(browser_page, railway[0], "stranger")
    page.page.get_by_text("has no role here").wait_for()
    assert heading(page) == "milesleft"
    assert "Nettle" not in page.page.content()


@pytest.fixture(scope="module")
def login(railway, chromium):
    """Where the button of the door leads to."""
    page = chromium.new_page()
    page.goto(railway[0])
    with page.expect_request(re.compile("/auth/login")) as asked:
        page.get_by_role("button", name=DOOR).click()
    page.close()
    return asked.value.url


def session_after(login, name):
    """Sign in as a browser would, without one; the cookies that are left at the end."""
    import httpx

    with httpx.Client(timeout=10) as client:
        asked = client.get(login).headers["location"]
        back = client.post(asked, data={"sub": name}).headers["location"]
        assert client.get(back).status_code == 302
        return dict(client.cookies)


def test_a_good_token_makes_a_session(login):
    assert session_after(login, "officer")["_streamlit_user"]


@pytest.mark.parametrize("kind", SPOILT)
def test_a_token_that_is_not_good_makes_no_session(login, provider, kind):
    provider.spoil, before = SPOILT[kind], provider.given
    left = session_after(login, "officer")
    assert provider.given == before + 1  # the bad token was really handed over
    assert not left.get("_streamlit_user", "").strip('"')


def test_a_spoilt_cookie_lets_nobody_in(railway, as_person):
    page = as_person("officer")
    context = page.page.context
    for cookie in context.cookies():
        if cookie["name"].startswith("_streamlit_user"):
            value = cookie["value"]
            at = len(value) // 2
            context.add_cookies(
                [cookie | {"value": value[:at] + ("A" if value[at] != "A" else "B") + value[at + 1 :]}]
            )
    page.open(railway[0])
    assert heading(page) == "milesleft"


def test_a_role_taken_away_holds_at_once(railway, as_person):
    address, _, roles = railway
    page = as_person("friend")
    assert heading(page) == HOME
    before = roles.read_text()
    roles.write_text(
        before.replace('"friend@example.org" = "look"\n', "").replace('"friend@example.org" = "look"', "")
    )
    try:
        page.open(address)
        page.page.get_by_text("has no role here").wait_for()
    finally:
        roles.write_text(before)


def test_a_page_that_is_open_closes_when_the_role_is_taken_away(railway, as_person):
    _, _, roles = railway
    page = as_person("planner")
    before = roles.read_text()
    roles.write_text(before.replace('"planner@example.org" = "plan"', '"planner@example.com" = "plan"'))
    try:
        link, told = (
            page.page.get_by_role("link", name="How a forecast is made"),
            page.page.get_by_text("has no role here"),
        )
        for _ in range(10):  # the first click may meet the closed page, which opens anew
            if told.count():
                break
            if link.count():
                link.click()
            page.page.wait_for_timeout(1500)
        told.wait_for()
        assert "Nettle" not in page.page.content()
    finally:
        roles.write_text(before)


def test_signing_out(railway, as_person):
    page = lets_the_provider_ask(as_person("friend"))
    page.page.get_by_role("button", name="Sign out").click()
    page.page.wait_for_timeout(1500)
    page.open(railway[0])
    assert page.page.get_by_role("button", name=DOOR).is_visible()


def test_a_link_for_donors_shows_the_case_and_nothing_else(railway, as_person, browser_page):
    address, _, _ = railway
    officer = as_person("officer")
    officer.open(f"{address}/case")
    officer.page.get_by_role("button", name="Keep this brief").click()
    officer.page.get_by_text("Kept. Donors see it when it is shown to them").wait_for()
    officer.page.get_by_role("button", name="Show it to donors").click()
    officer.page.get_by_text("Donors with a link see").wait_for()
    officer.settle()
    officer.page.get_by_role("button", name="Make the link").click()
    link = officer.page.locator("code").filter(has_text="share=").inner_text().strip()

    donor = browser_page()
    donor.open(link)
    assert heading(donor) == "Keep Nettle running"
    assert donor.page.get_by_text("What it takes").is_visible()
    assert links(donor) in ([], ["Skip to main content"])
    assert not donor.page.get_by_role("button", name=re.compile("Keep|Make the link|Sign out")).count()
    token = link.split("share=")[1]
    for path in ("batch", "record"):
        donor.open(f"{address}/{path}?share={token}")
        assert heading(donor) == "Keep Nettle running"
    for spoilt in (token[:-2] + "xx", ""):
        donor.open(f"{address}/?share={spoilt}")
        assert heading(donor) == "milesleft"


def test_a_link_for_donors_runs_out(railway, browser_page):
    address, _, roles = railway
    old = donor_token(load(roles), datetime.now(UTC) - timedelta(days=91), days=90)
    page = browser_page()
    page.open(f"{address}/?share={old}")
    assert heading(page) == "This link has ended"
    assert "Nettle" not in page.page.content()


def test_the_log_names_nobody(railway, as_person):
    as_person("officer")
    log = next(railway[1].parent.glob("serve-*.log")).read_text()
    assert "example.org" not in log
    assert COOKIE_SECRET not in log
