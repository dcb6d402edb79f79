"""What is handed in to a served page as no browser does: odd forms, lengths, places and names of files."""

import socket
import uuid

import pytest
from hostile.odd_forms import FORMS, GOOD, KEPT_NAMES, LENGTHS, MULTI, PATHS, SHOWN_NAMES
from knocking.visitor import Visitor

TAKEN = {
    *("as it should be", "two files", "bytes behind it", "no name", "a name with zeros"),
    *("a name that is no UTF-8", "a name with quotation marks", "a name twice", "packed"),
    "in a transfer code",
}
"""Forms that hold a file, whatever else is odd about them; what it holds is looked at by its reader."""


def sent(guarded, visitor, session, body, *, kind=MULTI, file=None, method="PUT", length=None, more=""):
    """Status of what the server answers to a request that is written by hand."""
    token = visitor.with_token()
    cookies = "; ".join(f"{name}={value}" for name, value in visitor.cookies.items())
    told = f"Content-Length: {len(body) if length is None else length}\r\n"
    head = (
        f"{method} /_stcore/upload_file/{session}/{file or uuid.uuid4()} HTTP/1.1\r\nHost: {visitor.host}\r\n"
        f"Origin: {visitor.home}\r\nCookie: {cookies}\r\nX-Xsrftoken: {token}\r\nConnection: close\r\n"
        f"Content-Type: {kind}\r\n{told if length != 'untold' else ''}{more}\r\n"
    )
    host, port = guarded.address.split("/")[2].split(":")
    with socket.create_connection((host, int(port)), timeout=20) as line:
        answer = b""
        try:
            line.sendall(head.encode("latin-1") + body)
            while len(answer) < 12 and (piece := line.recv(4096)):
                answer += piece
        except ConnectionError:  # it answered and left before it had read all
            answer += line.recv(4096) if not answer else b""
    return int(answer.split()[1])


@pytest.fixture(scope="module")
def fitter(guarded):
    return guarded.visitor("fitter")


@pytest.fixture(scope="module")
def page(fitter):
    with fitter.socket() as opened:
        opened.run()
        yield opened.session


@pytest.mark.parametrize("name", FORMS)
def test_a_form_is_taken_or_refused_and_nothing_breaks(guarded, fitter, page, name):
    kind, body = FORMS[name]
    file = str(uuid.uuid4())
    status = sent(guarded, fitter, page, body, kind=kind, file=file)
    assert status == (204 if name in TAKEN else 400), status
    assert sent(guarded, fitter, page, b"", file=file, method="DELETE") == 204


@pytest.mark.parametrize("length", LENGTHS)
def test_a_length_that_is_none_is_refused(guarded, fitter, page, length):
    assert sent(guarded, fitter, page, GOOD, length=length) == 400


def in_pieces(body):
    return b"%x\r\n" % len(body) + body + b"\r\n0\r\n\r\n"


@pytest.mark.parametrize("length", ["untold", 10])
def test_what_comes_in_pieces_has_no_length_that_could_be_held_to(guarded, fitter, page, length):
    """A length beside the pieces says nothing: the pieces may become any length."""
    much = in_pieces(GOOD.replace(b"point", b"p" * 3_000_000))
    more = "Transfer-Encoding: chunked\r\n"
    assert sent(guarded, fitter, page, much, length=length, more=more) == 411


@pytest.mark.parametrize("path", PATHS)
def test_a_place_elsewhere_is_not_there(guarded, fitter, page, path):
    assert sent(guarded, fitter, page, GOOD, file=path) == 404


@pytest.mark.parametrize("who", [None, "friend", "planner", "kate"])
@pytest.mark.parametrize("method", ["PUT", "DELETE"])
def test_nobody_reaches_the_files_of_another(guarded, page, who, method):
    assert sent(guarded, guarded.visitor(who), page, GOOD, method=method) == 403


@pytest.mark.parametrize("method", ["GET", "POST", "PATCH", "OPTIONS", "TRACE"])
def test_no_other_method_is_known(guarded, fitter, page, method):
    assert sent(guarded, fitter, page, GOOD, method=method) == 405


def test_names_of_files_do_no_harm(unguarded, tmp_path_factory):
    """Each is read, shown, stored with its rows and told in the list of batches.

    Those that mean something on a page come with readings, whose sheets are spoken of most; the others with
    planned miles, of which a look asks little.
    """
    visitor = Visitor(unguarded)
    readings, planned = b"point,date,value,unit\n", b"vehicle,month,miles_planned,miles_sd\n"
    named = [(name, readings + b"N-XH-R,2023-08-%02d,0.07,in\n") for name in SHOWN_NAMES]
    named += [(name, planned + b"Nettle,2041-%02d,100,20\n") for name in KEPT_NAMES]
    with visitor.socket() as page:
        page.run(page="batch")
        chosen = []
        for day, (name, sheet) in enumerate(named, 1):
            content = sheet % ((day - 1) % 12 + 1)
            safe = name.encode().decode("latin-1")  # as bytes, whatever they are
            body = GOOD.replace(b"a.csv", safe.replace('"', "%22").encode("latin-1"))
            body = body.replace(b"point,date\n", content)
            mark = f"name-{day}"
            answer = visitor.request(
                "PUT",
                f"/_stcore/upload_file/{page.session}/{mark}",
                origin=visitor.home,
                headers={"Content-Type": MULTI, "X-Xsrftoken": visitor.with_token()},
                content=body,
            )
            assert answer.status_code == 204, name
            chosen.append((mark, name, len(content)))
        page.choose(Files=chosen)
        said = page.content
        page.press(next(label for label in page.buttons if label.startswith("Add these")), Files=chosen)
        page.read()
        said += page.content
        page.run(page="batch", query="part=batches")
        said += page.content
    for harm in (b"Traceback", b"Error:", b"](http://192"):
        assert harm not in said, harm
    assert list(tmp_path_factory.getbasetemp().rglob("escaped.csv")) == []


def test_the_server_is_still_well(guarded):
    assert guarded.visitor().get("/health").json()["ok"] is True
    log = next(guarded.folder.glob("serve-*.log")).read_text()
    assert "Traceback" not in log
    assert "example.org" not in log
