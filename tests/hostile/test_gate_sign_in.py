"""Sign-in: only what the provider vouches for, while it holds, and no copy of a cookie after signing out."""

import time

import pytest
from knocking.visitor import USER_COOKIE, Visitor, claims_of, cookie_of

HOUR = 3600


def gets_in(guarded, cookie):
    """Whether somebody with this cookie may know that there is no such file."""
    cookies = cookie if isinstance(cookie, dict) else {USER_COOKIE: cookie}
    status = Visitor(guarded.address, home=guarded.home, cookies=cookies).get("/media/none.csv").status_code
    assert status in (403, 404)
    return status == 404


CLAIMS = {
    "not verified": {"email_verified": False},
    "verified 'false'": {"email_verified": "false"},
    "verified 'true' as a word": {"email_verified": "true"},
    "verified 1": {"email_verified": 1},
    "verified 0": {"email_verified": 0},
    "verified null": {"email_verified": None},
    "verified not said": {"email_verified": "left out"},
    "Kelvin sign": {"email": "\u212aate@example.org"},
    "fullwidth letter": {"email": "\uff4bate@example.org"},
    "Cyrillic letter": {"email": "k\u0430te@example.org"},
    "soft hyphen": {"email": "ka\u00adte@example.org"},
    "blank before": {"email": " kate@example.org"},
    "line end": {"email": "kate@example.org\n"},
    "two addresses": {"email": "kate@example.org@example.org"},
    "a list": {"email": ["kate@example.org"]},
    "no address": {"email": "left out"},
    "somebody else's": {"email": "stranger@example.org"},
    "ran out": {"iat": time.time() - 13 * HOUR},
    "from the future": {"iat": time.time() + 2 * HOUR},
    "no time": {"iat": "left out"},
    "a name for the address": {"email": "left out", "sub": "kate@example.org"},
    "an address for the name": {"email": "sub:248289761001"},
    "name as a number": {"email": "left out", "sub": 248289761001},
}


@pytest.mark.parametrize("claims", CLAIMS.values(), ids=CLAIMS)
def test_what_the_provider_does_not_vouch_for_lets_nobody_in(guarded, claims):
    assert not gets_in(guarded, cookie_of(claims_of("kate@example.org", **claims), guarded.home))


def test_what_it_vouches_for_does(guarded):
    assert gets_in(guarded, cookie_of(claims_of("Kate@Example.org"), guarded.home))
    named = claims_of("", sub="248289761001", email="left out", email_verified="left out")
    assert gets_in(guarded, cookie_of(named, guarded.home))


def spoilt(cookie):
    at = len(cookie) // 2
    return cookie[:at] + ("A" if cookie[at] != "A" else "B") + cookie[at + 1 :]


GOOD = claims_of("officer@example.org")
COOKIES = {
    "spoilt": lambda home: spoilt(cookie_of(GOOD, home)),
    "another's secret": lambda home: cookie_of(GOOD, home, secret="f" * 32),
    "no secret": lambda home: cookie_of(GOOD, home, secret=""),
    "another cookie's": lambda home: cookie_of(GOOD, home, name="_streamlit_user_tokens"),
    "for another place": lambda home: cookie_of(GOOD, "https://wear.example.com"),
    "not signed in": lambda home: cookie_of(GOOD, home, is_logged_in=False),
    "from before the start": lambda home: cookie_of(GOOD, home, signed_at=time.time() - HOUR),
    "empty": lambda home: "",
    "quotes": lambda home: '""',
    "no ASCII": lambda home: "\u00ff\u00fe",
    "parts that lack": lambda home: {USER_COOKIE: "chunks-3", f"{USER_COOKIE}_1": "x"},
}


@pytest.mark.parametrize("made", COOKIES.values(), ids=COOKIES)
def test_a_cookie_that_is_not_good_lets_nobody_in(guarded, made):
    assert not gets_in(guarded, made(guarded.home))


def test_a_cookie_from_before_the_start_opens_only_the_door(guarded):
    """The pages see the same cookie: what the gate refuses, they must not take."""
    visitor = guarded.visitor()
    visitor.cookies[USER_COOKIE] = cookie_of(GOOD, guarded.home, signed_at=time.time() - HOUR)
    with visitor.socket() as page:
        page.run()
        assert page.shows("Sign in")
        assert not page.shows("Nettle")


def test_signing_out_ends_the_sign_in_for_every_copy_of_the_cookie(guarded):
    officer, other = guarded.visitor("officer"), guarded.visitor("officer")
    copy = guarded.visitor()
    copy.cookies.update(officer.cookies)
    with copy.socket() as open_before, other.socket() as anothers:
        open_before.run()
        anothers.run()
        assert officer.get("/auth/logout").status_code == 302
        assert open_before.ended() == 1008
        anothers.run()
        assert anothers.shows("What will stop us first?")  # another sign-in of the same person goes on
    assert not gets_in(guarded, copy.cookies)
    with copy.socket() as page:
        page.run()
        assert page.shows("Sign in")
        assert not page.shows("Nettle")
