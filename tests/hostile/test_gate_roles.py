"""Roles taken away or made unreadable under a running server, and what those without a role may ask."""

from contextlib import suppress
from datetime import UTC, datetime, timedelta

import pytest
from streamlit.proto.BackMsg_pb2 import BackMsg
from websockets.exceptions import ConnectionClosed, InvalidStatus

from dashboard.screen.access import donor_token, load

FRIEND, FITTER = '"friend@example.org" = "look"\n', '"fitter@example.org" = "add"\n'


def test_a_role_taken_away_gets_no_more_of_an_open_page(guarded, changed_roles):
    friend = guarded.visitor("friend")
    with friend.socket() as parts, friend.socket() as files, friend.socket() as whole:
        for page in (parts, files, whole):
            page.run()
        changed_roles(FRIEND, "")
        for page, more in ((parts, {"fragment_id": parts.fragments[0]}), (whole, {})):
            with suppress(ConnectionClosed):  # it may have closed by itself
                page.run(wait=False, **more)
            assert page.ended() == 1008
        asked = BackMsg()
        asked.backend_operation_request.session_id = files.session
        asked.backend_operation_request.deferred_file.file_id = files.files["CSV"]
        with suppress(ConnectionClosed):
            files.say(asked)
        assert files.ended() == 1008
    assert friend.get("/media/none.csv").status_code == 403
    with friend.socket(session=whole.session) as again:
        again.run()
        assert again.session != whole.session
        assert again.shows("has no role here")
        assert not again.shows("Nettle")


def test_a_page_under_way_shows_nothing_after_the_role_is_taken_away(guarded, changed_roles):
    friend = guarded.visitor("friend")
    with friend.socket() as page:
        page.run()
        page.run(wait=False)  # the answers come after the change
        changed_roles(FRIEND, "")
        assert page.ended() == 1008


def test_a_role_made_smaller_hands_nothing_in(guarded, changed_roles):
    fitter = guarded.visitor("fitter")
    with fitter.socket() as page:
        page.run(page="batch")
        assert fitter.put(page.session, b"x").status_code == 204
        changed_roles(FITTER, FITTER.replace('"add"', '"look"'))
        assert fitter.put(page.session, b"x").status_code == 403
        with suppress(ConnectionClosed):
            page.run(page="batch", wait=False)
        assert page.ended() == 1008


@pytest.mark.parametrize("broken", ["[roles", "", '[roles]\n"a@b" = "king"', "sign_in = 3"])
def test_while_the_roles_cannot_be_read_nobody_does_anything(guarded, changed_roles, broken):
    officer = guarded.visitor("officer")
    with officer.socket() as page:
        page.run()
        changed_roles(guarded.roles.read_text(), broken)
        with suppress(ConnectionClosed):
            page.run(wait=False)
        assert page.ended() == 1008
    for path in ("/", "/health", "/media/none.csv"):
        answer = officer.get(path)
        assert answer.status_code == 503
        assert "Ask the people who run it" in answer.text
        assert "roles.toml" not in answer.text
    with pytest.raises(InvalidStatus), officer.socket():
        pass


def messages():
    """What those at the door may not ask, and whether it ends their page."""
    part, cache, code, rows, skills, files = (BackMsg() for _ in range(6))
    part.rerun_script.fragment_id = "e4d3dc79a5df98b72df2000d79edc601"
    cache.clear_cache = True
    code.load_git_info = True
    rows.backend_operation_request.deferred_file.file_id = "x"
    skills.backend_operation_request.install_skills.SetInParent()
    files.file_urls_request.file_names.append("a.csv")
    return {
        "a part of a page": (part, True),
        "everybody's cache": (cache, False),
        "the source code": (code, False),
        "a file": (rows, True),
        "more of the framework": (skills, True),
        "places for files": (files, False),
    }


@pytest.mark.parametrize("kind", messages())
def test_those_at_the_door_ask_for_the_door_only(guarded, kind):
    asked, ends = messages()[kind]
    visitor = guarded.visitor()
    with visitor.socket() as page:
        page.run()
        assert page.fragments == []
        page.say(asked)
        if ends:
            assert page.ended() == 1008
        else:
            page.run()
            assert not page.shows("upload_file")
            assert page.shows("Sign in")


@pytest.mark.parametrize("kind", ["everybody's cache", "the source code", "more of the framework"])
def test_nobody_changes_the_server_itself(guarded, kind):
    with guarded.visitor("officer").socket() as page:
        page.run()
        page.say(messages()[kind][0])
        page.run()
        assert not page.shows("skill")


def test_places_for_files_are_told_to_who_may_add(guarded):
    for who, told in (("fitter", True), ("friend", False)):
        with guarded.visitor(who).socket() as page:
            page.run()
            page.say(messages()["places for files"][0])
            if told:
                page.read("file_urls_response")
            else:
                page.run()
            assert page.shows("upload_file") == told


def test_rubbish_ends_the_page_and_nothing_else(guarded):
    for rubbish in (b"\xff" * 50, b"\x0a\xff\xff\xff\xff\x7f"):
        with guarded.visitor("friend").socket() as page:
            page.run()
            page.socket.send(rubbish)
            assert page.ended() == 1008
    log = next(guarded.folder.glob("serve-*.log")).read_text()
    assert "Traceback" not in log


def test_a_link_for_donors_gives_its_own_files_and_no_others(guarded):
    token = donor_token(load(guarded.roles), datetime.now(UTC), days=30)
    donor = guarded.visitor()
    given = donor.get(f"/?share={token}").headers.get_list("set-cookie")
    name, _, rest = next(each for each in given if each.startswith("milesleft_share")).partition("=")
    assert {"httponly", "secure", "samesite=lax"} <= set(rest.lower().split("; "))
    donor.cookies[name] = rest.split(";")[0]
    assert donor.get("/media/none.csv").status_code == 403  # only what this page tells of
    with donor.socket() as page:
        page.run(query=f"share={token}")
        assert not page.shows("Sign in")
        assert donor.put(page.session, b"x").status_code == 403
    old = donor_token(load(guarded.roles), datetime.now(UTC) - timedelta(91), 90)
    for bad in (token[:-2] + "xx", old, "\u212a"):
        told = guarded.visitor().get(f"/?share={bad}").headers.get_list("set-cookie")
        assert not [each for each in told if each.startswith("milesleft_share")]
