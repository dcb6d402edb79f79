"""Settings, logos and the way numbers are written: what is taken, and what is said when it is not."""

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.papers.brief import check_targets, settings_of
from dashboard.papers.brief_logo import check_logo, read_logo
from dashboard.papers.brief_svg import clean
from dashboard.services.brief_settings import DEFAULTS, load_settings
from dashboard.services.brief_settings import settings_file as usual_file
from dashboard.words.assumptions import assumptions_in_words
from dashboard.words.numbers import numbers, round_miles
from ingest.errors import UnreadableFile, WrongUsage
from models.case.excursion import Excursion
from models.case.schedule import TERMS_COLUMNS
from models.frequency import times_in

NOTHING = dict.fromkeys(("title", "vehicle", "window", "confidence"))


def settings_file(tmp_path, text):
    path = tmp_path / "brief.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_defaults_are_all_marked_as_assumptions():
    settings = load_settings(None, NOTHING)
    assert {each["source"] for each in settings.assumptions.values()} == {"assumption"}
    assert set(settings.terms["source"]) == {"assumption"}
    assert list(settings.terms.columns) == TERMS_COLUMNS
    printed = assumptions_in_words(settings.assumptions, settings.rates, numbers("en", "USD"))
    assert printed.loc[0].tolist() == ["prices rise each year by 3%", "3%", "assumption"]


def test_layers_command_over_file_over_defaults(tmp_path):
    path = settings_file(
        tmp_path,
        """
        [brief]
        title = "From the file"
        paper = "letter"
        [assumptions]
        inflation = { value = 0.045, source = "price index of May 2026" }
        risk = 0.1
        [rates]
        cad = 0.73
        """,
    )
    settings = load_settings(path, {"title": "From the command", "paper": None})
    assert settings.brief["title"] == "From the command"
    assert settings.brief["paper"] == "letter"
    assert settings.value("inflation") == 0.045
    assert settings.assumptions["inflation"]["source"] == "price index of May 2026"
    assert settings.assumptions["risk"]["source"] == "settings file"
    assert settings.rates == {"CAD": 0.73}


EXCURSIONS = """
[[excursion]]
name = "fall colors"
distance = "100 km"
days = 4
seats = 240
[[excursion]]
distance = "18"
"""


def test_excursions_of_the_file_are_read_in_miles(tmp_path):
    fall, other = load_settings(settings_file(tmp_path, EXCURSIONS), NOTHING).excursions
    assert (fall.name, fall.days, fall.seats) == ("fall colors", 4, 240)
    assert fall.miles == pytest.approx(4 * 62.137, abs=0.01)
    assert other == Excursion("excursion 2", 18.0, 1, 0)
    assert load_settings(None, NOTHING).excursions == ()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[[excursion]]\nname = "x"', "it has no distance"),
        ('[[excursion]]\ndistance = "far"', "'far' is no distance"),
        ('[[excursion]]\ndistance = "62 in"', "'62 in' is no distance"),
        ('[[excursion]]\ndistance = "0 mi"', "is not run in a day"),
        ('[[excursion]]\ndistance = "62 mi"\ndays = 0', "days is 0. Expected a whole number from 1 to 366"),
        ('[[excursion]]\ndistance = "62 mi"\nseats = "all"', "seats is 'all'"),
        ('[[excursion]]\ndistance = "62 mi"\nfare = 30', "'fare' is not known"),
        ("excursion = 3", "excursion is not a list"),
    ],
)
def test_an_excursion_that_cannot_be_is_said_with_its_place(tmp_path, text, says):
    with pytest.raises(WrongUsage, match=r"brief\.toml") as refused:
        load_settings(settings_file(tmp_path, text), NOTHING)
    assert says in str(refused.value)


def test_settings_file_in_use_is_named_here_or_beside_the_store(tmp_path, monkeypatch):
    started_in, shelf = tmp_path / "here", tmp_path / "shelf"
    started_in.mkdir()
    shelf.mkdir()
    monkeypatch.chdir(started_in)
    monkeypatch.delenv("MILESLEFT_BRIEF", raising=False)
    db = shelf / "railway.duckdb"
    assert usual_file(db) is None
    (shelf / "brief.toml").touch()
    assert usual_file(db) == shelf / "brief.toml"
    (started_in / "brief.toml").touch()
    assert usual_file(db).resolve() == started_in / "brief.toml"
    monkeypatch.setenv("MILESLEFT_BRIEF", "other.toml")
    assert str(usual_file(db)) == "other.toml"


def test_terms_of_the_file_take_the_place_of_the_defaults(tmp_path):
    text = '[[payment]]\npayment = "all at once"\nmonths_before = 1\nsource = "shop, May 2026"\n'
    settings = load_settings(settings_file(tmp_path, text), NOTHING)
    assert settings.terms["payment"].tolist() == ["all at once"]
    assert pd.isna(settings.terms.loc[0, "share"])


def test_logo_path_is_read_from_where_the_settings_lie(tmp_path):
    path = settings_file(tmp_path, '[brief]\nlogo = "logo.svg"\n')
    (tmp_path / "logo.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"/>')
    assert settings_of(load_settings(path, NOTHING).brief).logo.mime == "image/svg+xml"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[brief]\ntitel = 'x'", r"\[brief\]: 'titel' is not known. Known are .*title"),
        ("[brief]\npaper = 'a3'", "paper is 'a3'. Expected a4 or letter"),
        ("[brief]\nconfidence = 80", "confidence is 80. Expected a share"),
        ("[brief]\nconfidence = '80 %'", "'80 %' is not a number"),
        ("[brief]\nwindow = 'next fall'", "window: 'next fall' is no day. Expected a day"),
        ("[assumptions]\ninflation = 3", r"\[assumptions\] inflation: 3. Expected a share"),
        ("[assumptions]\nfund_share = 1.5", "fund_share: 1.5. Expected a share"),
        ("[assumptions]\nluck = 0.5", "'luck' is not known"),
        ("[assumptions]\nrisk = {size = 1}", "'size' is not known"),
        ("assumptions = 3", r"Expected \[assumptions\]"),
        ("[[payment]]\nshare = 0.5", "it has no name"),
        ("[[payment]]\npayment = 'x'\nshare = 1.5", "expected a share from 0 to 1"),
        ("[[payment]]\npayment = 'x'\nwhen = 3", "'when' is not known"),
        ("payment = []", "no \\[\\[payment\\]\\] is given"),
        ("[rates]\nCAD = 'many'", "'many' is not a number"),
        ("[extra]\nx = 1", "'extra' is not known"),
    ],
)
def test_what_is_wrong_in_the_file_is_named(tmp_path, text, says):
    with pytest.raises(WrongUsage, match=says):
        load_settings(settings_file(tmp_path, text), NOTHING)


def test_missing_or_broken_file_is_named(tmp_path):
    with pytest.raises(UnreadableFile, match="no such file"):
        load_settings(tmp_path / "none.toml", NOTHING)
    with pytest.raises(UnreadableFile, match="Expected TOML"):
        load_settings(settings_file(tmp_path, "title = "), NOTHING)
    broken = tmp_path / "b.toml"
    broken.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UnreadableFile, match="UTF-8"):
        load_settings(broken, NOTHING)


def test_defaults_file_explains_itself():
    text = DEFAULTS.read_text(encoding="utf-8")
    assert text.count("#") > 10


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "not a PNG, JPEG or SVG"),
        (b"GIF89a" + b"\0" * 50, "not a PNG, JPEG or SVG"),
        (b"<svg xmlns='x'><script>alert(1)</script></svg>", "script"),
        (b"<svg xmlns='x' onload='alert(1)'/>", "onload"),
        (b"<svg xmlns='x'><image href='http://example.org/x.png'/></svg>", "href"),
        (b"<svg xmlns='x'><image href='/etc/passwd'/></svg>", "href"),
        (b"<!DOCTYPE svg [<!ENTITY a 'b'>]><svg/>", "not a PNG"),
        (b"<?xml version='1.0'?><!DOCTYPE svg [<!ENTITY a 'b'>]><svg>&a;</svg>", "ENTITY"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 8 + b"\0\0\xff\xff\0\0\xff\xff" + b"\0" * 20, "65535 × 65535 pixels"),
    ],
)
def test_logo_that_is_none_or_does_more_is_refused(content, says):
    with pytest.raises(UnreadableFile, match=says):
        check_logo(content, "logo")


def test_logo_file_missing_or_too_large(tmp_path):
    with pytest.raises(UnreadableFile, match="no such file"):
        read_logo(tmp_path / "none.png")
    large = tmp_path / "large.png"
    large.write_bytes(b"\x89PNG\r\n\x1a\n" + b"\0" * 2_100_000)
    with pytest.raises(UnreadableFile, match="more than 2 MB"):
        read_logo(large)


# As CLDR 47 has them (babel 2.18); hard and narrow blanks are part of them.
@pytest.mark.parametrize(
    ("locale", "currency", "shown"),
    [
        ("en", "USD", "$1,235,000"),
        ("en_GB", "GBP", "£1,235,000"),
        ("de", "EUR", "1.235.000\xa0€"),
        ("fr", "EUR", "1\u202f235\u202f000\xa0€"),
        ("de-CH", "CHF", "CHF\xa01’235’000"),
        ("hi", "INR", "₹12,35,000"),
    ],
)
def test_money_as_the_language_writes_it(locale, currency, shown):
    assert numbers(locale, currency).money(1_234_567, 1000) == shown


def test_small_money_has_its_coins_only_where_they_tell_something():
    english = numbers("en", "USD")
    assert [english.small_money(x) for x in (0.314, 9.5, 12.6, 1_234.4)] == [
        "$0.31",
        "$9.50",
        "$13",
        "$1,230",
    ]


@pytest.mark.parametrize("locale", ["xx_YY", "", "en; drop", "english please"])
def test_unknown_language_of_numbers(locale):
    with pytest.raises(WrongUsage, match="--numbers"):
        numbers(locale, "USD")


def test_unknown_currency():
    with pytest.raises(WrongUsage, match="'DOLLAR' is no currency"):
        numbers("en", "DOLLAR")


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "fewer than 1 time in 100"),
        (0.012, "1 time in 100"),
        (0.05, "1 time in 20"),
        (0.16, "2 times in 10"),
        (0.5, "5 times in 10"),
        (0.8, "8 times in 10"),
        (0.95, "19 times in 20"),
        (0.97, "97 times in 100"),
        (1.0, "more than 99 times in 100"),
    ],
)
def test_chance_as_frequency(chance, words):
    assert times_in(chance) == words


@settings(deadline=None)
@given(st.floats(0.0, 1.0))
def test_frequency_is_near_its_chance_and_never_all_or_none(chance):
    words = times_in(chance)
    if words.startswith(("fewer", "more")):
        return
    count, _, _, out_of = words.split()
    assert 0 < int(count) < int(out_of)
    assert abs(int(count) / int(out_of) - chance) <= 0.051


@settings(deadline=None)
@given(st.floats(0.0, 1e6))
def test_miles_are_rounded_by_no_more_than_they_can_bear(miles):
    assert abs(round_miles(miles) - miles) <= max(0.5, 0.0501 * miles)


@settings(deadline=None)
@given(st.text())
def test_cleaned_text_is_one_line_without_control_characters(text):
    cleaned = clean(text)
    assert "\n" not in cleaned
    assert not any(ord(c) < 32 or 0xD800 <= ord(c) <= 0xDFFF or ord(c) in (0xFFFE, 0xFFFF) for c in cleaned)


def test_place_to_write_is_checked_first(tmp_path):
    with pytest.raises(WrongUsage, match="nowhere to write"):
        check_targets(None, None, as_json=False)
    with pytest.raises(WrongUsage, match=r"Expected \.pdf or \.html"):
        check_targets(tmp_path / "brief.docx", None, as_json=False)
    with pytest.raises(WrongUsage, match="there is no folder"):
        check_targets(tmp_path / "none" / "brief.pdf", None, as_json=False)
    check_targets(None, None, as_json=True)
