"""What the server takes into memory: from whom, how much, and that it gives it back."""

import socket
import time
import uuid

import pytest
from websockets.exceptions import InvalidStatus

MB = 2**20


def test_nobody_without_a_role_hands_a_file_in(guarded):
    with guarded.visitor("fitter").socket() as fitters:
        fitters.run()
        for who in (None, "stranger", "friend", "planner"):
            visitor = guarded.visitor(who)
            with visitor.socket() as page:
                page.run()
                for session in (page.session, fitters.session, "none", str(uuid.uuid4())):
                    assert visitor.put(session, b"x" * 1000).status_code == 403


def test_nobody_hands_a_file_into_another_persons_page(guarded):
    with guarded.visitor("fitter").socket() as fitters:
        fitters.run()
        assert guarded.visitor("kate").put(fitters.session, b"x").status_code == 403
        assert guarded.visitor("fitter").put(fitters.session, b"x").status_code == 403  # another sign-in
        assert (
            guarded.visitor("kate")
            .request("DELETE", f"/_stcore/upload_file/{fitters.session}/x", origin=guarded.home)
            .status_code
            == 403
        )


def test_a_file_a_page_and_the_server_have_their_bounds(guarded):
    half = b"x" * (MB * 6 // 10)
    fitter, kate = guarded.visitor("fitter"), guarded.visitor("kate")
    with fitter.socket() as first:
        first.run()
        assert fitter.put(first.session, b"x" * (MB + 10)).status_code == 413
        assert [fitter.put(first.session, half).status_code for _ in range(4)] == [204, 204, 204, 413]
        with kate.socket() as second:
            second.run()
            answers = [kate.put(second.session, half) for _ in range(3)]
            assert [each.status_code for each in answers] == [204, 413, 413]  # 3 MB on the server
            assert "Try again" in answers[-1].text
    # Both have left: what they handed in is given back after the time that a page is kept.
    with kate.socket() as third:
        third.run()
        ends = time.monotonic() + 15
        while kate.put(third.session, half, file="same").status_code != 204:
            assert time.monotonic() < ends
            time.sleep(0.3)
        assert kate.put(third.session, half, file="other").status_code == 204


def test_many_small_files_have_a_bound_too(guarded):
    fitter = guarded.visitor("fitter")
    with fitter.socket() as page:
        page.run()
        assert [fitter.put(page.session, b"").status_code for _ in range(6)] == [204] * 4 + [413] * 2


def test_a_file_whose_length_is_not_told_is_not_taken_in(guarded):
    def endless():
        for _ in range(50):
            yield b"x" * MB

    fitter = guarded.visitor("fitter")
    with fitter.socket() as page:
        page.run()
        path = f"/_stcore/upload_file/{page.session}/x"
        told = {"X-Xsrftoken": fitter.with_token(), "Content-Type": "multipart/form-data; boundary=x"}
        answer = fitter.request("PUT", path, origin=guarded.home, headers=told, content=endless())
        assert answer.status_code == 411


def test_room_that_is_held_for_a_file_is_given_back_when_it_does_not_come(guarded):
    """Ten announce a file each and go away."""
    fitter = guarded.visitor("fitter")
    with fitter.socket() as page:
        page.run()
        token = fitter.with_token()
        cookies = "; ".join(f"{name}={value}" for name, value in fitter.cookies.items())
        host, port = guarded.address.split("/")[2].split(":")
        for place in range(10):
            with socket.create_connection((host, int(port))) as raw:
                announced = (
                    f"PUT /_stcore/upload_file/{page.session}/{place} HTTP/1.1\r\nHost: {fitter.host}\r\n"
                    f"Origin: {fitter.home}\r\nCookie: {cookies}\r\nX-Xsrftoken: {token}\r\n"
                    "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 900000\r\n\r\n--x"
                )
                raw.sendall(announced.encode())
        time.sleep(0.3)
        assert fitter.put(page.session, b"x" * 900000).status_code == 204


@pytest.mark.parametrize(("who", "kb", "code"), [(None, 80, 1009), ("officer", 1300, 1009)])
def test_a_message_has_a_bound(guarded, who, kb, code):
    with guarded.visitor(who).socket() as page:
        page.run()
        page.socket.send(b"\x0a" * kb * 1024)
        assert page.ended() == code


def test_those_at_the_door_cannot_fill_the_server(guarded):
    opened = []
    try:
        for _ in range(4):
            opened.append(guarded.visitor().socket())
            opened[-1].__enter__()
        with pytest.raises(InvalidStatus), guarded.visitor().socket():
            pass
        with guarded.visitor("officer").socket() as page:  # who has a role still gets in
            page.run()
            assert page.shows("What will stop us first?")
    finally:
        for each in opened:
            each.__exit__(None, None, None)


def test_the_server_is_still_well(guarded):
    assert guarded.visitor().get("/health").json()["ok"] is True
    assert "Traceback" not in next(guarded.folder.glob("serve-*.log")).read_text()
