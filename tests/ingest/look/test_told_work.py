"""Notes that tell of work done, in five languages, and notes that only speak of it."""

import pytest

from ingest.look.told_work import told_work


@pytest.mark.parametrize(
    ("note", "action"),
    [
        ("new brg fitted", "renewed"),
        ("tyres turned", "cut"),
        ("to 1/32 over", "renewed"),
        ("swapped", "renewed"),
        ("No. 3 box renewed; cleaned", "renewed"),
        ("Re-metalled by J.O.", "renewed"),
        ("journal re-ground to 1/32 under", "cut"),
        ("neu ausgegossen", "renewed"),
        ("Neue Buchse, nicht eingelaufen", "renewed"),
        ("abgedreht", "cut"),
        ("pièce neuve montée", "renewed"),
        ("bandages reprofilés", "cut"),
        ("wymieniono na nowe", "renewed"),
        ("obręcze przetoczono", "cut"),
        ("vyměněno za nové", "renewed"),
        ("obruče osoustruženy", "cut"),
    ],
)
def test_work_done_is_told_in_the_words_of_the_shop(note, action):
    assert told_work(note) == action


@pytest.mark.parametrize(
    "note",
    [
        "",
        "not renewed",
        "renew next winter",
        "due for renewal",
        "to be renewed",
        "renewed? no: cleaned".replace("renewed?", "was not renewed"),
        "new gauge used",
        "no change",
        "engine turned",
        "same as new",
        "nicht erneuert",
        "nächsten Winter erneuern",
        "noch nicht ausgetauscht",
        "neue Lehre",
        "pas remplacé",
        "à remplacer l'hiver prochain",
        "nie wymieniono",
        "do wymiany zimą",
        "nevyměněno",
        "vyměnit příští zimu",
        "returned to stores",
        "underground water in pit",
    ],
)
def test_what_is_denied_planned_or_something_else_tells_of_no_work(note):
    assert told_work(note) == ""
