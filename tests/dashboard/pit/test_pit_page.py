"""The page at the engine on telephones: hands, light, honesty, no connection. Real Chromium with touch."""

import io
import re
import time
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image

pytestmark = pytest.mark.browser

SIZES = ["390x844", "360x640"]
LOOKS = Path(__file__).with_name("looks.js").read_text("utf-8")


def begun(page, server, observer="A. Reader", point=""):
    page.goto(f"{server.address}/pit/?vehicle=Nettle")
    page.wait_for_selector("body[data-ready]")
    if page.locator("#setup-box[open]").count():
        page.fill("#observer", observer)
        page.fill("#odometer", "9100")
        if point:  # which tests have read it before, and so whether it is due, is of no matter
            page.select_option("#places", "all")
        page.tap("#begin")
        page.wait_for_selector("#setup-box", state="hidden")
    if point:
        page.wait_for_function("() => / of 7 · /.test(document.getElementById('where').textContent)")
    for _ in range(7):
        if not point or page.inner_text("#where").split(" · ")[1] + ", " + page.inner_text("#what") == point:
            return page
        page.tap("#forth")
    pytest.fail(f"{point} is no place of the round")


def typed(page, text):
    """Type on the page's own keys; how many taps that took."""
    for key in text:
        page.locator("#keys button", has_text=re.compile(f"^{re.escape('␣' if key == ' ' else key)}$")).tap()
    return len(text)


def waits(page, words):
    page.wait_for_function("words => document.getElementById('says').textContent.includes(words)", arg=words)


def sent(page):
    page.wait_for_function("() => document.getElementById('sent').textContent.startsWith('All sent')")


@pytest.mark.parametrize("scheme", ["dark", "light"])
@pytest.mark.parametrize("size", SIZES)
def test_the_page_is_made_for_hands_and_dim_light(pit_server, phone, size, scheme):
    page = begun(phone(size, scheme), pit_server)
    typed(page, "1 3/8")
    for box in ("", "#setup", "#more"):
        if box:
            page.tap(box)
            page.wait_for_selector(f"{box}-box[open]")
        assert page.evaluate(f"({LOOKS}).all()") == {"narrow": [], "small": [], "faint": []}
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
        found = Axe().run(page).response["violations"]
        assert [each["id"] for each in found] == []
        if box:
            page.keyboard.press("Escape")
            page.wait_for_selector("dialog[open]", state="hidden")
    assert page.evaluate(
        "() => document.getElementById('keep').getBoundingClientRect().bottom <= innerHeight"
    )


def test_a_reading_takes_one_tap_besides_its_digits_and_the_next_place_is_offered(pit_server, phone):
    page = begun(phone("360x640"), pit_server, point="driver 1 left, driver tire, tread hollow")
    typed(page, "0.18")
    assert page.inner_text("#read") == "reads 0.18 in = 4.572 mm"
    asked = page.evaluate(
        """async () => { const began = performance.now(); document.getElementById('keep').click();
        await new Promise((done) => { const look = () => document.getElementById('says').textContent
          ? done() : requestAnimationFrame(look); look(); }); return performance.now() - began; }"""
    )
    waits(page, "Kept. Fits.")
    assert page.inner_text("#where").split(" · ")[1] == "driver 2 left"
    sent(page)
    print(f"kept and moved on in {asked:.0f} ms")  # a figure for people, not held here
    stored = pit_server.store.read("readings")
    assert stored[stored["value_text"] == "0.18"]["observer"].tolist() == ["A. Reader"]


@pytest.mark.parametrize(
    ("keys", "reads"),
    [
        ("1 3/8", "reads 1.375 in = 34.925 mm"),
        ("88/64", "reads 1.375 in = 34.925 mm"),
        ("12|thou", "reads 12 thou = 0.012 in"),
        ("34,9|mm", "reads 34.9 mm = 1.374 in"),
    ],
)
def test_the_keypad_types_it_and_shows_in_large_type_how_it_is_read(pit_server, phone, keys, reads):
    page = begun(phone(), pit_server)
    figures, _, unit = keys.partition("|")
    typed(page, figures)
    if unit:
        page.get_by_role("button", name=f"unit {unit}").tap()
    assert page.inner_text("#read") == reads


def test_nothing_is_told_before_a_number_and_nothing_is_green_unless_it_fits(pit_server, phone):
    page = begun(phone(), pit_server, point="driver 2 left, driver tire, tread hollow")
    before = page.inner_text("body")
    for secret in ("0.28", "0.23", "miles", "expected", "Last"):
        assert secret not in before
    typed(page, "0.02")
    assert page.get_attribute("#says", "class") in ("", None)  # while one types, nothing is judged
    page.tap("#keep")
    waits(page, "Far from what was expected: read it again, both are kept")
    page.tap("#keep")  # a second tap wipes nothing away
    page.wait_for_timeout(300)
    assert "read it again" in page.inner_text("#says")
    assert page.get_attribute("#says", "class") == "warn"
    assert "driver 2 left" in page.inner_text("#where")  # it stays there for the second reading
    typed(page, "0.31")
    page.tap("#keep")
    waits(page, "Kept.")
    sent(page)
    stored = pit_server.store.read("readings")
    held = pit_server.store.held()["raw"].str.cat()
    assert "0.02" in stored["value_text"].tolist()
    assert "0.31" in [*stored["value_text"], *re.findall(r'"value": "([^"]*)"', held)]


def test_what_cannot_be_right_is_kept_only_with_a_word(pit_server, phone):
    page = begun(phone(), pit_server, point="driver 1 right, driver tire, tread hollow")
    typed(page, "17")
    page.tap("#keep")
    page.wait_for_selector("#doubt-box[open]")
    page.tap("#again")
    assert page.inner_text("#typed") == "17"
    assert page.get_attribute("#says", "class") == "bad"
    page.tap("#keep")
    page.tap("#stands")
    waits(page, "It will be held back until somebody has looked")
    assert page.get_attribute("#says", "class") == "bad"
    sent(page)
    assert "read twice, it stands" in pit_server.store.held()["raw"].iloc[-1]


def test_no_key_is_lost_while_the_round_arrives(pit_server, phone):
    page = begun(phone(), pit_server)
    page.route("**/pit/api/round**", lambda route: (time.sleep(0.5), route.continue_()))
    page.reload(wait_until="commit")
    page.wait_for_selector("#take:not([hidden])")
    written = "0.123456789 1234567890123456789"
    for key in written:  # the fresh round comes somewhere among them
        page.keyboard.press("Space" if key == " " else key)
        time.sleep(0.05)
    assert page.inner_text("#typed") == written
    page.locator("#back").focus()
    page.keyboard.press("Backspace")
    assert page.inner_text("#typed") == written[:-1]


def only_two_are_due(route):
    """The round with two places due, whatever the day."""
    answer = route.fetch()
    told = answer.json()
    for number, each in enumerate(told["points"]):
        each["due"] = "never read" if number in (1, 3) else ""
    route.fulfill(response=answer, json=told)


def test_the_round_is_what_is_due_and_all_places_can_be_chosen(pit_server, phone):
    page = phone("360x640")
    page.route("**/pit/api/round**", only_two_are_due)
    begun(page, pit_server)
    first = page.inner_text("#where")
    assert first.startswith("1 of 2 due · ")
    assert page.inner_text("#due") == "never read"
    page.tap("#forth")
    assert page.inner_text("#where").startswith("2 of 2 due · ")
    page.tap("#forth")
    assert page.inner_text("#where") == first
    page.tap("#setup")
    listed = page.locator("#places option").all_inner_texts()
    assert listed == ["what is due: 2", "all places: 7"]
    page.select_option("#places", "all")
    page.tap("#begin")
    page.wait_for_function("() => / of 7 · /.test(document.getElementById('where').textContent)")
    page.reload()
    page.wait_for_selector("body[data-ready]")
    assert " of 7 · " in page.inner_text("#where")  # what was chosen stays


def test_what_was_typed_wrong_is_taken_out_while_it_waits_and_is_not_sent(pit_server, phone):
    page = begun(phone(), pit_server, point="driver 1 right, driver tire, tread hollow")
    sent(page)
    before = len(pit_server.store.read("readings")) + len(pit_server.store.held())
    page.context.set_offline(True)
    typed(page, "0.17")
    page.tap("#keep")
    page.wait_for_function("() => document.getElementById('sent').textContent.startsWith('1 to send')")
    page.tap("#sent")
    page.get_by_role("button", name="Take out driver 1 right").tap()
    page.get_by_text("Taken out: it is not sent").wait_for()
    page.keyboard.press("Escape")
    page.context.set_offline(False)
    sent(page)
    assert len(pit_server.store.read("readings")) + len(pit_server.store.held()) == before


def test_without_a_connection_one_types_reloads_and_nothing_is_lost(pit_server, phone):
    page = begun(phone(), pit_server, point="driver 2 right, driver tire, tread hollow")
    page.evaluate("() => navigator.serviceWorker.ready")
    page.wait_for_function("() => navigator.serviceWorker.controller")
    page.context.set_offline(True)
    typed(page, "0.22")
    page.tap("#keep")
    page.wait_for_function("() => document.getElementById('sent').textContent.startsWith('1 to send')")
    typed(page, "0.1")
    page.reload()
    page.wait_for_selector("body[data-ready]")
    assert page.inner_text("#typed") == "0.1"  # half typed, and still there
    page.wait_for_function("() => document.getElementById('sent').textContent === '1 to send, no connection'")
    before = len(pit_server.store.read("readings"))
    page.context.set_offline(False)
    sent(page)
    assert len(pit_server.store.read("readings")) == before + 1


def test_a_photo_a_crack_and_a_place_that_was_not_reached(pit_server, phone):
    page = begun(phone(), pit_server, point="driver 1 left, driver tire, tread hollow")
    exif = Image.Exif()
    exif[0x010F] = "Maker of phones"
    made = io.BytesIO()
    Image.new("RGB", (3000, 2000), "#604020").save(made, "JPEG", exif=exif)
    page.tap("#more")
    page.set_input_files("#photo", {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"})
    waits(page, "this is no picture that can be drawn here")
    page.tap("#more")
    page.set_input_files("#photo", {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": made.getvalue()})
    waits(page, "without place and device")
    page.tap("#more")
    page.fill("#note", "at spoke 4")
    page.tap("#cracked")
    waits(page, "kept as a finding")
    page.tap("#more")
    page.tap("#unreached")
    waits(page, "could not be reached")
    sent(page)
    tables = pit_server.store.read_all("pictures", "defects", "events")
    assert {name: len(rows) for name, rows in tables.items()} == {"pictures": 1, "defects": 1, "events": 1}
    assert tables["defects"]["note"].tolist() == ["at spoke 4"]
    assert b"Maker" not in pit_server.store.picture(tables["pictures"]["picture"].iloc[0])


def test_what_is_noted_while_photos_are_sent_goes_out_at_once(pit_server, phone):
    page = phone()
    page.add_init_script("globalThis.setInterval = () => 0")  # no later try sends it
    begun(page, pit_server, point="driver 2 right, driver tire, tread hollow")
    sent(page)
    posted, held = [], []
    page.on("request", lambda told: posted.append(told.url.split("/api/")[1][:7]) if told.post_data else None)
    page.context.set_offline(True)
    for color in ("red", "blue"):
        photo = io.BytesIO()
        Image.new("RGB", (60, 40), color).save(photo, "JPEG")
        page.tap("#more")
        page.set_input_files(
            "#photo", {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": photo.getvalue()}
        )
        waits(page, "without place and device")
        page.wait_for_selector("#more-box", state="hidden")
    page.wait_for_function("() => document.getElementById('sent').textContent.startsWith('2 to send, no')")
    posted.clear()
    page.route("**/pit/api/pictures*", lambda route: route.continue_() if held else held.append(route))
    with page.expect_request("**/pit/api/pictures*"):
        page.context.set_offline(False)
    typed(page, "0.19")
    page.tap("#keep")
    page.wait_for_function("() => document.getElementById('sent').textContent.startsWith('3 to send')")
    held[0].continue_()
    sent(page)
    assert posted == ["picture", "entries", "picture"]


def test_what_the_phone_was_given_ends_with_the_sign_in_and_what_was_noted_stays(pit_server, phone):
    page = begun(phone(), pit_server, point="cylinder and motion left, crosshead, vertical clearance")
    sent(page)
    page.route("**/pit/api/**", lambda route: route.fulfill(status=401, body="Sign in to take readings."))
    typed(page, "0.08")
    page.tap("#keep")
    page.wait_for_function("() => document.getElementById('why').textContent.includes('1 noted here wait')")
    left = page.evaluate(
        """async () => { const keep = await import('./keep.js');
        return [(await keep.all('rounds')).length, (await keep.all('entries')).map((e) => e.value)]; }"""
    )
    assert left == [0, ["0.08"]]
    page.unroute("**/pit/api/**")
    page.reload()
    sent(page)
    assert "0.08" in pit_server.store.read("readings")["value_text"].tolist()


def test_back_and_forward_answer_at_once(pit_server, phone):
    page = begun(phone(), pit_server)
    first = page.inner_text("#where")
    began = time.perf_counter()
    page.tap("#forth")
    assert page.inner_text("#where") != first
    page.tap("#back")
    assert page.inner_text("#where") == first
    print(f"two steps in {time.perf_counter() - began:.3f} s")
