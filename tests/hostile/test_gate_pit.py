"""The page for readings at the engine: who gets what, which page may send, how much, and what it may load."""

import io
import json
import re
from datetime import UTC, datetime, timedelta

import pytest
from knocking.visitor import Visitor
from PIL import Image

FILES = ["/pit/", "/pit/page.js", "/pit/worker.js", "/pit/manifest.webmanifest", "/pit/icon-192.png"]
ASKED = ["/pit/api/vehicles", "/pit/api/round?vehicle=Nettle"]


def body(number=1, **more):
    said = {"point": "N-D1L-HOLLOW", "date": "2023-10-20", "value": "0.18", "unit": "in", **more}
    entry = {"id": f"hostile-{number:04d}", "kind": "reading", **said}
    return json.dumps({"entries": [entry]}).encode()


def posted(visitor, content, *, path="/pit/api/entries", origin="own", **headers):
    told = {"Content-Type": "application/json"} | headers
    return visitor.request(
        "POST", path, origin=visitor.home if origin == "own" else origin, headers=told, content=content
    )


@pytest.mark.parametrize("path", FILES)
def test_the_page_without_data_is_anybodys_and_runs_no_script_but_its_files(guarded, path):
    answer = guarded.visitor().get(path)
    assert answer.status_code == 200
    assert "Nettle" not in answer.text
    policy = answer.headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_no_script_or_style_stands_within_the_page(guarded):
    text = guarded.visitor().get("/pit/").text
    assert text.count("<script") == text.count('<script type="module" src="./') == 1
    assert "<style" not in text
    assert " style=" not in text
    assert re.search(r"\son\w+\s*=", text) is None


@pytest.mark.parametrize("path", ASKED)
def test_data_needs_the_role_to_add(guarded, path):
    for name, status in ((None, 401), ("stranger", 401), ("friend", 403), ("planner", 403), ("fitter", 200)):
        answer = guarded.visitor(name).get(path)
        assert answer.status_code == status, name
        assert ("Nettle" in answer.text) == (status == 200)
    assert answer.headers["cache-control"] == "no-store"


def test_what_is_given_ends_with_the_sign_in(guarded):
    told = guarded.visitor("fitter").get("/pit/api/round?vehicle=Nettle").json()
    assert 11.9 * 3600 < told["until"] - told["now"] <= 12 * 3600


def test_a_reading_is_taken_from_a_page_of_ours_alone(guarded):
    fitter = guarded.visitor("fitter")
    for origin in ("", "null", "https://evil.example", "http://127.0.0.1:9"):
        answer = posted(fitter, body(1), origin=origin)
        assert answer.status_code == 403, origin
    for name in (None, "friend", "planner"):
        assert posted(guarded.visitor(name), body(1)).status_code in (401, 403)
    cross = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}
    assert posted(fitter, body(1), **cross).status_code == 403
    told = posted(fitter, body(1))
    assert told.status_code == 200
    assert told.json()["entries"][0]["verdict"] == "accepted"  # of all these, the one that may


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"[]", b"{" * 50_000, b'{"entries": [{"id": 1}]}'])
def test_what_is_no_message_is_refused_without_a_trace(guarded, content):
    answer = posted(guarded.visitor("fitter"), content)
    assert answer.status_code == 400
    assert "Traceback" not in answer.text
    assert answer.json()["problem"]


def test_a_message_of_any_length_takes_no_more_than_its_bound(guarded):
    answer = posted(guarded.visitor("fitter"), b'{"entries": "' + b"x" * 2_000_000 + b'"}')
    assert answer.status_code == 413


def test_a_photo_is_no_larger_than_its_bound_and_is_a_photo(guarded):
    fitter = guarded.visitor("fitter")
    path = "/pit/api/pictures?id=hostile-photo&point=N-D1L-HOLLOW&date=2023-10-20"
    assert posted(fitter, b"\xff\xd8\xff" * 1_200_000, path=path).status_code == 400
    assert posted(fitter, b"<svg onload='x'/>", path=path).status_code == 400
    bomb = io.BytesIO()
    Image.new("1", (12_000, 12_000)).save(bomb, "PNG")
    assert posted(fitter, bomb.getvalue(), path=path).status_code == 400
    assert posted(guarded.visitor("friend"), b"x", path=path).status_code == 403


NOWHERE = ["/pit/pit.html", "/pit/page.js/x", "/pit/api", "/pit/api/x", "/pit/rounds.py"]


@pytest.mark.parametrize("path", NOWHERE)
def test_nothing_else_lies_there(guarded, path):
    assert guarded.visitor("officer").get(path).status_code == 404


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH"])
def test_no_other_method_is_taken(guarded, method):
    visitor = guarded.visitor("officer")
    for path in ("/pit/", "/pit/api/entries"):
        assert visitor.request(method, path, origin=visitor.home, content=b"{}").status_code == 405


def test_the_phone_of_a_person_is_shut_out_by_one_line_of_the_roles_file(guarded, changed_roles):
    lost, other = guarded.visitor("fitter"), guarded.visitor("kate")
    assert lost.get(ASKED[0]).status_code == 200
    moment = (datetime.now(UTC) + timedelta(seconds=2)).strftime("%Y-%m-%dT%H:%M:%SZ")
    changed_roles("[roles]", f'[signed_out]\n"fitter@example.org" = {moment}\n\n[roles]')
    assert lost.get(ASKED[0]).status_code == 401
    assert posted(lost, body(3)).status_code == 401
    assert other.get(ASKED[0]).status_code == 200


def test_without_roles_the_machines_own_user_takes_readings_from_its_own_pages(unguarded):
    visitor = Visitor(unguarded)
    assert visitor.get(ASKED[0]).json()["until"] == 0
    assert posted(visitor, body(4), origin="http://evil.example").status_code == 403
    assert posted(visitor, body(4)).json()["entries"][0]["verdict"] == "accepted"
