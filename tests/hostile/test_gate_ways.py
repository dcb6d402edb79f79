"""Ways in: what is shut, what needs a role, which page may ask, and what every answer tells."""

import time

import pytest
from knocking.servers import ROOT
from knocking.visitor import Visitor
from websockets.exceptions import InvalidStatus

SHUT = [
    "/_stcore/metrics",
    "/_stcore/metrics/",
    "/_stcore/%6detrics",
    "/point/_stcore/metrics",
    "/_stcore/metrics?families=cache_memory_bytes",
    "/_stcore/script-health-check",
    "/_stcore/agent/openapi.json",
    "/_stcore/stream",
    "/_stcore/upload_file",
    "/app/static/roles.toml",
    "//_stcore/metrics",
    "/static/../_stcore/metrics",
    "/static/..%2f..%2f_stcore/metrics",
    "/_stcore%5cmetrics",
]


@pytest.mark.parametrize("path", SHUT)
def test_what_only_the_framework_wants_is_shut_to_everybody(guarded, unguarded, path):
    for visitor in (guarded.visitor("officer"), Visitor(unguarded)):
        answer = visitor.get(path)
        assert answer.status_code == 404
        assert "<html" not in answer.text


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
@pytest.mark.parametrize("path", ["/", "/_stcore/health", "/_stcore/agent/interact", "/media/x", "/health"])
def test_nothing_but_reading_is_open_where_no_file_is_handed_in(guarded, method, path):
    answer = guarded.visitor("officer").request(method, path, origin=guarded.home, content=b"{}")
    assert answer.status_code in (404, 405)


PARTS = ["/component/x/index.html", "/_stcore/bidi-components/x/index.js"]


@pytest.mark.parametrize("path", PARTS)
def test_parts_of_elements_need_a_role(guarded, path):
    assert guarded.visitor().get(path).status_code == 403
    assert guarded.visitor("friend").get(path).status_code == 404  # there are none, and a friend may know


def test_a_file_is_given_only_to_who_may_look_and_runs_nothing(guarded):
    officer = guarded.visitor("officer")
    with officer.socket() as page:
        page.run()
        path = page.download("CSV")
        for nobody in (guarded.visitor(), guarded.visitor("stranger")):
            answer = nobody.get(path)
            assert answer.status_code == 403
            assert "Nettle" not in answer.text
        given = guarded.visitor("friend").get(path)
    assert "Nettle" in given.text
    assert "sandbox" in given.headers["content-security-policy"]
    assert given.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "8.8.8.8", "127.0.0.1@evil.example"]
)
def test_a_name_that_was_made_to_lead_here_gets_nothing(guarded, unguarded, host):
    for address in (guarded.address, unguarded):
        assert Visitor(address).get("/", host=host).status_code == 400
        if "@" not in host:
            with pytest.raises(InvalidStatus), Visitor(address).socket(origin=f"http://{host}", host=host):
                pass


FOREIGN = [
    "http://evil.example",
    "http://127.0.0.1:9",
    "http://localhost",
    "{home}.evil.example",
    "http://{host}@evil.example",
    "https://share.streamlit.app",
    "null",
    "file://",
    "",
]


@pytest.mark.parametrize("origin", FOREIGN)
def test_a_page_of_another_place_opens_no_websocket(guarded, unguarded, origin):
    """Refused before anything is done: nothing is asked outside, nobody waits."""
    for visitor in (guarded.visitor("officer"), Visitor(unguarded)):
        sent_by = origin.format(home=visitor.home, host=visitor.host)
        began = time.monotonic()
        with pytest.raises(InvalidStatus) as refused, visitor.socket(origin=sent_by):
            pass
        assert refused.value.response.status_code == 403
        assert time.monotonic() - began < 1.0


@pytest.mark.parametrize("origin", ["http://evil.example", "http://127.0.0.1:9", "null"])
def test_a_page_of_another_place_reads_and_writes_nothing(unguarded, origin):
    visitor = Visitor(unguarded)
    assert visitor.get("/_stcore/health", origin=origin).status_code == 403
    with visitor.socket() as page:
        page.run()
        assert visitor.put(page.session, b"x", origin=origin).status_code == 403
        assert visitor.put(page.session, b"x").status_code == 204
        cross = {"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "no-cors"}  # another port of this machine
        assert visitor.get(page.download("CSV"), headers=cross).status_code == 403


def test_a_link_on_another_site_opens_a_page_but_signs_nobody_out(guarded):
    officer = guarded.visitor("officer")
    followed = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    assert officer.get("/point", headers=followed).status_code == 200
    assert officer.get("/auth/logout", headers=followed).status_code == 403
    with officer.socket() as page:
        page.run()
        assert page.shows("What will stop us first?")


@pytest.mark.parametrize(
    "path",
    ["/", "/point", "/static/js", "/_stcore/health", "/health", "/media/x", "/nobody", "/_stcore/metrics"],
)
def test_every_answer_says_what_a_page_may_do(guarded, path):
    told = guarded.visitor().get(path).headers
    policy = dict(part.split(" ", 1) for part in told["content-security-policy"].split("; ") if " " in part)
    assert policy["default-src"] == policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in policy.get("script-src", "")
    assert not any("http" in sources for sources in policy.values())
    assert told["x-content-type-options"] == "nosniff"
    assert told["referrer-policy"] == "same-origin"
    assert told["x-frame-options"] == "DENY"
    assert "server" not in told
    assert not [name for name in told if name.startswith("access-control")]


def test_no_other_site_may_send_messages_to_a_page(guarded, unguarded):
    for visitor in (guarded.visitor(), Visitor(unguarded)):
        assert visitor.get("/_stcore/host-config").json()["allowedOrigins"] == []


def test_cookies_behind_https_are_for_https_only(guarded):
    given = guarded.visitor().get("/_stcore/health").headers.get_list("set-cookie")
    assert given
    assert all("secure" in each.lower().split("; ") for each in given)


@pytest.mark.parametrize("page", ["", "how"])
def test_no_page_tells_where_this_machine_keeps_the_program(guarded, page):
    with guarded.visitor("friend").socket() as opened:
        opened.run(page)
        assert opened.session
        assert opened.shows("app.py")
        for folder in (ROOT, guarded.folder):
            assert not opened.shows(str(folder))
