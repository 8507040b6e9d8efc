"""Attempts to lose what a phone holds: quick fingers, dying tabs and browsers, a phone with no room left."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import expect

from tests.journeys.field_phone import FieldPhone, go_offline
from tests.photographs import camera_jpeg

pytestmark = pytest.mark.slow

SHRIMP = "Palaemon serenus"


def begin_a_haul(phone: FieldPhone) -> None:
    """Begin a trip and a haul without signal, and count the first animal."""
    phone.begin_trip()
    go_offline(phone.page.context)
    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    phone.sees("released", SHRIMP, "1")


def of_open_haul(phone: FieldPhone) -> dict[tuple[str, str], object]:
    """Give what the phone's database holds of the haul in hand, by kind and fate."""
    haul = phone.page.url.rpartition("/")[2]
    lines = [one["content"] for one in phone.stored().values() if one["kind"] == "line" and one["parent"] == haul]
    return {(one["taxon"], one["fate"]): one["count"] for one in lines}


def test_a_hundred_touches_in_twenty_seconds_are_a_hundred_also_after_a_kill(phones):
    phone = phones.start()
    begin_a_haul(phone)
    # Once the checks have told where the net is and what is left, nothing moves under a finger any more.
    phone.page.get_by_role("status").filter(has_text="inside the edge of the permitted area").wait_for()
    phone.zone("kept", SHRIMP).filter(has_text="left").wait_for()
    # The first touch brings the row to where it can be touched; from there on the finger stays.
    phone.count("released", SHRIMP)
    phone.sees("released", SHRIMP, "2")
    box = phone.zone("released", SHRIMP).bounding_box()
    assert box is not None
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    began = time.monotonic()
    for touch in range(98):
        # The beat of a finger: five a second, never quicker.
        time.sleep(max(0.0, began + touch * 0.2 - time.monotonic()))
        phone.page.touchscreen.tap(*middle)
    assert time.monotonic() - began < 25, "the touches were not five a second"
    phone.sees("released", SHRIMP, "100")
    phones.kill(phone)
    phone = phones.start()
    go_offline(phone.page.context)
    phone.open()
    phone.sees("released", SHRIMP, "100")
    assert of_open_haul(phone) == {(SHRIMP, "released"): 100}


def test_what_was_touched_last_outlives_reload_dead_tab_and_dead_browser(phones):
    phone = phones.start()
    begin_a_haul(phone)
    haul = phone.page.url
    for number, way in enumerate(("reload", "tab", "browser"), start=2):
        phone.count("released", SHRIMP)
        phone.sees("released", SHRIMP, str(number))
        if way == "reload":
            phone.page.reload()
        elif way == "tab":
            phones.kill_tab(phone)
            phone.page = phone.page.context.new_page()
            phone.open()
        else:
            phones.kill(phone)
            phone = phones.start()
            go_offline(phone.page.context)
            phone.open()
        # Open again on the haul in hand, and all is there: the count, its way to the server, and what can be taken back.
        phone.page.wait_for_url(haul)
        phone.sees("released", SHRIMP, str(number))
        assert of_open_haul(phone) == {(SHRIMP, "released"): number}
        assert [one["content"]["count"] for one in phone.outbox() if one["kind"] == "line"][-1] == number
        expect(phone.button(f"Undo: 1 released {SHRIMP}")).to_be_enabled()
    # A number typed and left by the browser's way back is counted, and can be taken back.
    phone.touch(phone.button("Trip"))
    phone.touch(phone.page.locator(".hauls button"))
    phone.hold(phone.zone("released", SHRIMP))
    phone.touch(phone.page.locator("dialog").get_by_role("button", name="7", exact=True))
    phone.page.evaluate("history.back()")
    phone.page.get_by_role("heading", name="Hauls").wait_for()
    phone.open()
    phone.sees("released", SHRIMP, "11")
    phone.touch(phone.button(f"Undo: 7 released {SHRIMP}"))
    phone.sees("released", SHRIMP, "4")
    for number in ("3", "2", "1"):
        phone.touch(phone.button(f"Undo: 1 released {SHRIMP}"))
        phone.sees("released", SHRIMP, number)


# What a full phone does while `full` is set, by the standards (Web IDL, QuotaExceededError; Indexed Database API 3.0, 5.4):
# a write fails at once, or its transaction is aborted with that error as it is to be written. The browser's own way to set
# a small quota (Storage.overrideQuotaForOrigin) let writes through here once the database had been opened.
FULL = """
  for (const name of ["put", "add"]) {
    const own = IDBObjectStore.prototype[name];
    IDBObjectStore.prototype[name] = function (...given) {
      const ours = this.transaction.db.name === "creekledger";
      const error = new DOMException("The quota has been exceeded.", "QuotaExceededError");
      if (ours && globalThis.full === "at once") throw error;
      const asked = own.apply(this, given);
      if (ours && globalThis.full === "at the end" && this.name === "outbox") {
        const own = this.transaction;
        own.pending = (own.pending ?? 0) + 1;
        asked.addEventListener("success", () => {
          if (--own.pending > 0) return;
          Object.defineProperty(own, "error", { value: error });
          own.abort();
        });
      }
      return asked;
    };
  }
"""
NO_ROOM = "This phone has no room left: the last entry was NOT stored."


@pytest.mark.parametrize("when", ["at once", "at the end"])
def test_a_full_phone_says_what_it_did_not_store_and_goes_on_once_there_is_room(phones, when):
    phone = phones.start(script=FULL)
    begin_a_haul(phone)
    waiting = phone.outbox()
    phone.page.evaluate("when => { full = when; }", when)
    phone.count("released", SHRIMP)
    alert = phone.page.get_by_role("alert").filter(has_text=NO_ROOM)
    alert.wait_for()
    phone.sees("released", SHRIMP, "1")
    assert of_open_haul(phone) == {(SHRIMP, "released"): 1}
    assert phone.outbox() == waiting
    # Nor is an attempt to send taken for an entry that was lost.
    phone.touch(alert.get_by_role("button", name="Seen"))
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.page.get_by_role("alert").filter(has_text="This phone has no room left, so nothing can be sent.").wait_for()
    expect(alert).to_have_count(0)
    phone.sees("released", SHRIMP, "1")
    expect(phone.page.get_by_role("status").filter(has_text=f"1 released {SHRIMP}")).to_have_count(1)
    phone.page.evaluate("full = ''; dispatchEvent(new Event('online'))")
    phone.count("released", SHRIMP)
    phone.sees("released", SHRIMP, "2")
    expect(alert).to_have_count(0)
    phone.page.reload()
    phone.sees("released", SHRIMP, "2")


def test_a_photo_for_which_there_is_no_room_is_not_stored_and_it_is_said(phones):
    phone = phones.start(script=FULL)
    begin_a_haul(phone)
    phone.page.evaluate("full = 'at once'")
    alert = phone.page.get_by_role("alert").filter(has_text=NO_ROOM)
    photograph_the_unknown(phone)
    alert.wait_for()
    # It still stands there after whatever the phone does next.
    phone.page.evaluate("new Promise(requestAnimationFrame)")
    expect(alert).to_have_count(1)
    assert of_open_haul(phone) == {(SHRIMP, "released"): 1}
    assert phone.photos() == []
    phone.page.evaluate("full = ''")
    photograph_the_unknown(phone)
    # Stored before anybody has said what became of the animal; it is seen, and nothing is counted.
    sheet = phone.page.get_by_role("dialog", name="What became of it?")
    sheet.get_by_role("img", name="Photo of").wait_for()
    assert len(phone.photos()) == 1
    assert of_open_haul(phone) == {(SHRIMP, "released"): 1}
    phone.touch(phone.button("Released"))
    phone.sees("released", "unknown 1", "1")
    expect(alert).to_have_count(0)
    # Taking the count back leaves the photo, which waits until it is given to a row.
    phone.touch(phone.button("Undo: 1 released unknown 1"))
    phone.sees("released", "unknown 1", "0")
    waiting = phone.page.get_by_role("button", name="Photo without a row.")
    waiting.wait_for()
    assert len(phone.photos()) == 1
    phone.touch(waiting)
    phone.touch(phone.button("Later"))
    phone.page.reload()
    phone.touch(waiting)
    phone.touch(phone.button("Dead"))
    phone.sees("dead", "unknown 1", "1")
    expect(waiting).to_have_count(0)
    (photo,) = phone.photos()
    assert phone.stored()[photo["of_record"]]["content"]["fate"] == "dead"


def photograph_the_unknown(phone: FieldPhone) -> None:
    """Touch "Not sure" and take a photo."""
    with phone.page.expect_file_chooser() as chooser:
        phone.touch(phone.button("Not sure"))
    chooser.value.set_files({"name": "it.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(seed=3)})


def test_a_phone_that_promises_nothing_says_so_and_works_on(phones):
    phone = phones.start(
        script="StorageManager.prototype.persist = StorageManager.prototype.persisted = async () => false;"
    )
    phone.open("ready")
    phone.touch(phone.button("Get ready now"))
    phone.page.get_by_text("The phone gave no promise to keep what is stored.").wait_for()
    phone.page.get_by_text("Install the app to the home screen, and send whenever there is signal.").wait_for()
    phone.begin_trip()
    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    phone.count("released", SHRIMP)
    phone.sees("released", SHRIMP, "2")
    phone.page.reload()
    phone.sees("released", SHRIMP, "2")
    phone.wait_until_all_is_sent()


def test_a_phone_that_promises_to_keep_says_that_too(phones):
    phone = phones.start(script="StorageManager.prototype.persisted = async () => true;")
    phone.open("ready")
    phone.touch(phone.button("Get ready now"))
    phone.page.get_by_text("The phone promises to keep what is stored.").wait_for()
