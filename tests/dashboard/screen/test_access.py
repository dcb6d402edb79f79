"""Who may do what: the roles file, what a sign-in must tell, and links for donors."""

from datetime import UTC, datetime, timedelta

import pytest

from dashboard.screen.access import MAY, Person, donor_link, donor_may_look, donor_token, load
from ingest.errors import WrongUsage

NOW = datetime(2026, 5, 1, 12, tzinfo=UTC)
GOOD = """
[sign_in]
provider = "https://id.example.org/.well-known/openid-configuration"
client_id = "milesleft"
client_secret = "not a secret"
cookie_secret = "0123456789abcdef0123456789abcdef"
address = "https://engines.example.org/"

[roles]
"Officer@Example.org" = "all"
"fitter@example.org" = "add"
"planner@example.org" = "plan"
"friend@example.org" = "look"
"""


@pytest.fixture
def roles(tmp_path):
    path = tmp_path / "roles.toml"
    path.write_text(GOOD)
    return load(path)


def claims(email="fitter@example.org", **changes):
    return {"email": email, "email_verified": True, "iat": NOW.timestamp() - 60} | changes


def test_the_sign_in_goes_where_the_file_says(roles):
    assert roles.sign_in["redirect_uri"] == "https://engines.example.org/oauth2callback"
    assert roles.sign_in["server_metadata_url"].startswith("https://id.example.org/")


@pytest.mark.parametrize(
    ("email", "may"),
    [
        ("officer@example.org", {"look", "add", "plan", "all"}),
        ("FITTER@example.org", {"look", "add"}),
        ("planner@example.org", {"look", "plan"}),
        ("friend@example.org", {"look"}),
    ],
)
def test_each_role_may_do_its_own_and_no_more(roles, email, may):
    person = roles.person(claims(email), NOW)
    assert isinstance(person, Person)
    assert person.name == email.lower()
    assert {act for act in MAY["all"] if person.may(act)} == may


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"email": "stranger@example.org"}, "no role"),
        ({"email": ""}, "no e-mail"),
        ({"email": None}, "no e-mail"),
        ({"email_verified": False}, "not confirmed"),
        ({"email_verified": "true"}, "not confirmed"),
        ({"email_verified": None}, "not confirmed"),
        ({"email": "\u212aate@example.org"}, "beyond plain ASCII"),
        ({"iat": NOW.timestamp() - 13 * 3600}, "run out"),
        ({"iat": None}, "run out"),
        ({"iat": "soon"}, "run out"),
        ({"iat": NOW.timestamp() + 3600}, "run out"),
        ({"iat": float("nan")}, "run out"),
    ],
)
def test_who_is_not_let_in_is_told_why(roles, changes, why):
    found = roles.person(claims(**changes), NOW)
    assert isinstance(found, str)
    assert why in found


def with_lines(tmp_path, *changes):
    text = GOOD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "roles.toml"
    path.write_text(text)
    return load(path)


def test_a_provider_that_never_says_verified_is_named_as_such(tmp_path, roles):
    silent = claims()
    del silent["email_verified"]
    assert "does not say" in roles.person(silent, NOW)
    named = with_lines(tmp_path, ("[sign_in]", "[sign_in]\nprovider_never_says_email_verified = true"))
    assert named.person(silent, NOW) == Person("fitter@example.org", "add")
    for said in (False, "false", "true", 0, 1, None):
        assert isinstance(named.person(silent | {"email_verified": said}, NOW), str)


def test_the_providers_own_name_goes_before_the_address(tmp_path):
    named = with_lines(tmp_path, ("[roles]", '[roles]\n"sub:Ab-7" = "plan"'))
    assert named.person(claims(sub="Ab-7"), NOW) == Person("fitter@example.org", "plan")
    assert named.person(claims(sub="Ab-7", email="x@y.org", email_verified=False), NOW) == Person(
        "sub:Ab-7", "plan"
    )
    assert named.person(claims(sub="ab-7"), NOW) == Person("fitter@example.org", "add")
    assert isinstance(named.person(claims(sub=["Ab-7"], email=""), NOW), str)


def test_an_unknown_role_may_do_nothing():
    assert not any(Person("x", "king").may(act) for act in MAY["all"])


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"add"', '"admin"', "[roles], entry 2: 'admin' is no role"),
        ("[roles]", "[role]", "gives nobody a role"),
        ("[roles]", '[roles]\n"fitter@EXAMPLE.org" = "look"', "entry 3: this person is named further up"),
        ("fitter@", "f\u0131tter@", "no e-mail address in plain ASCII"),
        ("fitter@example.org", "fitter", "no e-mail address in plain ASCII"),
        ('"add"', '["add"]', "is no role"),
        ("[sign_in]", "donors = 3\n[sign_in]", "donors is no section"),
        ("[sign_in]", "[sign_in]\nhours = inf", "no number of hours"),
        ("[sign_in]", "[sign_in]\nprovider_never_says_email_verified = 1", "neither true nor false"),
        ('client_id = "milesleft"', "", "client_id is missing"),
        ("0123456789abcdef0123456789abcdef", "short", "cookie_secret has 5 characters"),
        ("[sign_in]", "[sign_in]\nhours = 0", "no number of hours"),
        ("[sign_in]", "[sign_in", "is not TOML"),
        ("[sign_in]", "a" + ".a" * 300 + " = 1\n[sign_in]", "more than 200 full stops"),
        ("[roles]", '[donors]\nlinks_since = "May"\n[roles]', "links_since"),
    ],
)
def test_a_wrong_roles_file_says_what_and_where(tmp_path, old, new, message):
    path = tmp_path / "roles.toml"
    path.write_text(GOOD.replace(old, new))
    with pytest.raises(WrongUsage, match=r"roles\.toml") as caught:
        load(path)
    assert message in str(caught.value)
    assert caught.value.exit_code == 2


def test_a_roles_file_that_is_not_there(tmp_path):
    with pytest.raises(WrongUsage, match="cannot be read"):
        load(tmp_path / "none.toml")


def test_secrets_may_come_from_the_environment(tmp_path, monkeypatch):
    path = tmp_path / "roles.toml"
    path.write_text(GOOD.replace('client_secret = "not a secret"', ""))
    monkeypatch.setenv("MILESLEFT_CLIENT_SECRET", "from outside")
    assert load(path).sign_in["client_secret"] == "from outside"


def test_a_link_for_donors_opens_while_it_lasts(roles):
    token = donor_token(roles, NOW, days=30)
    assert donor_may_look(roles, token, NOW)
    assert donor_may_look(roles, token, NOW + timedelta(days=29))
    assert not donor_may_look(roles, token, NOW + timedelta(days=30))
    assert not donor_may_look(roles, token, NOW - timedelta(days=1))


def test_a_link_whose_days_are_over_is_told_apart_from_one_that_is_not_ours(roles):
    token = donor_token(roles, NOW, days=30)
    assert donor_link(roles, token, NOW) == "open"
    assert donor_link(roles, token, NOW + timedelta(days=30)) == "ended"
    assert donor_link(roles, token[:-2] + "xx", NOW) == "unknown"
    assert donor_link(roles, "", NOW) == "unknown"


def test_a_link_for_donors_cannot_be_made_longer_or_up(roles):
    made, ends, signature = donor_token(roles, NOW, days=30).split(".")
    forged = [f"{made}.{int(ends) + 1}.{signature}", f"{made}.{ends}.", "", "a.b.c", "..", f"{made}.{ends}"]
    assert not any(donor_may_look(roles, token, NOW) for token in forged)


def test_another_secret_signs_otherwise(roles, tmp_path):
    path = tmp_path / "other.toml"
    path.write_text(GOOD.replace("0123456789abcdef0123456789abcdef", "f" * 40))
    assert not donor_may_look(load(path), donor_token(roles, NOW, days=30), NOW)


def test_links_can_be_called_back(tmp_path, roles):
    path = tmp_path / "roles.toml"
    path.write_text(GOOD.replace("[roles]", "[donors]\nlinks_since = 2026-05-02T00:00:00Z\n[roles]"))
    assert not donor_may_look(load(path), donor_token(roles, NOW, days=30), NOW)
    later = NOW + timedelta(days=2)
    assert donor_may_look(load(path), donor_token(roles, later, days=30), later)
