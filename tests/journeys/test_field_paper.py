"""Paper beside the phone: a field sheet entered afterwards, and the papers that anybody may be shown."""

from __future__ import annotations

from datetime import datetime

import pytest
from playwright.sync_api import expect

from tests.journeys.field_phone import FieldPhone, go_offline
from tests.photographs import camera_jpeg

pytestmark = pytest.mark.slow

SHRIMP, CRAB, FLOUNDER = "Palaemon serenus", "Paragrapsus gaimardii", "Rhombosolea tapirina"
OFFSET = "+10:00"
"""Of Australia/Hobart in July (IANA time zone database)."""


def same_moment(found: str, local: str) -> bool:
    return datetime.fromisoformat(found) == datetime.fromisoformat(local + OFFSET)


def test_a_field_sheet_is_entered_with_its_own_times_and_marked_as_paper(phones, field_demo):
    phone = phones.start()
    phone.open("trips")
    phone.touch(phone.button("Enter a field sheet from paper"))
    phone.page.get_by_label("Left for the creek").fill("2028-07-12T07:30")
    phone.touch(phone.button("Enter the hauls"))
    phone.button("Open a haul").wait_for()
    trip = phone.page.url.rpartition("/")[2]
    phone.page.get_by_text("Entered from paper.").wait_for()

    phone.open_haul()
    haul = phone.page.url.rpartition("/")[2]
    # Not the hour of typing: what nobody has typed yet stands with the trip.
    expect(phone.page.get_by_label("Began, as on the sheet")).to_have_value("2028-07-12T07:30")
    phone.page.get_by_label("Began, as on the sheet").fill("2028-07-12T08:05")
    phone.page.get_by_label("Ended").fill("2028-07-12T08:40")
    phone.page.get_by_label("Ended").blur()
    phone.find("pala se", SHRIMP, "released")
    phone.estimate("released", SHRIMP, 40)
    phone.find("para ga", CRAB, "kept")
    phone.sees("kept", CRAB, "1")
    phone.touch(phone.button("To the trip"))

    with phone.page.expect_file_chooser() as chooser:
        phone.touch(phone.button("Photo of the sheet"))
    chooser.value.set_files({"name": "sheet.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(seed=12)})
    phone.touch(phone.button("Close the trip"))
    expect(phone.button("Close the trip now")).to_be_disabled()
    phone.page.get_by_label("Came back, as on the sheet").fill("2028-07-12T11:15")
    phone.touch(phone.button("Close the trip now"))
    phone.wait_until_all_is_sent()

    records = {one["id"]: one for one in field_demo.pulled()}
    told = records[trip]["record"]
    assert told["paper_record"] is True
    assert same_moment(told["depart"], "2028-07-12T07:30")
    assert same_moment(told["back"], "2028-07-12T11:15")
    assert same_moment(records[haul]["record"]["start"], "2028-07-12T08:05")
    assert same_moment(records[haul]["record"]["end"], "2028-07-12T08:40")
    # No position is made up for a place where nobody stands while typing.
    assert not records[haul]["record"].get("fixes")
    lines = {one["id"] for one in records.values() if one["parent"] == haul}
    assert len(lines) == 2
    ways = field_demo.entered_from({trip, haul, *lines})
    assert len(ways) >= 4
    assert set(ways) == {"paper"}
    with field_demo.signed_in("inspector") as client:
        (photo,) = client.get(f"/api/trips/{records[trip]['code']}/photos").json()
    assert photo["of_record"] == trip
    assert photo["whole_at"] is not None


def test_what_happens_at_the_creek_is_marked_as_from_the_screen(phones, field_demo):
    phone = phones.start()
    trip = phone.begin_trip()
    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    phone.wait_until_all_is_sent()
    assert set(field_demo.entered_from({trip, *lines_below(phone, trip)})) == {"screen"}


def lines_below(phone: FieldPhone, trip: str) -> set[str]:
    hauls = {id_ for id_, one in phone.stored().items() if one["parent"] == trip}
    return hauls | {id_ for id_, one in phone.stored().items() if one["parent"] in hauls}


SIGN_OUT = """new Promise((resolve, reject) => {
  const asked = indexedDB.open("creekledger");
  asked.onsuccess = () => {
    const writing = asked.result.transaction("notes", "readwrite");
    writing.objectStore("notes").delete("session");
    writing.oncomplete = () => { asked.result.close(); resolve(); };
    writing.onerror = () => reject(writing.error);
  };
})"""


def test_the_papers_open_without_signing_in(phones, field_demo):
    phone = phones.start()
    phone.begin_trip()
    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    phone.count("released", SHRIMP)
    phone.sees("released", SHRIMP, "2")
    tell_the_kind(phone)
    take_sand(phone)
    phone.page.evaluate(SIGN_OUT)
    go_offline(phone.page.context)
    phone.open()
    phone.touch(phone.button("Show the papers on this phone"))
    phone.page.get_by_role("heading", name="Papers and today").wait_for()
    expect(phone.page.get_by_text("As this phone knew them ")).to_contain_text("ago; its own hauls up to now.")
    row = phone.page.get_by_role("row").filter(has_text=SHRIMP)
    expect(row).to_have_count(1)
    assert int(row.get_by_role("cell").nth(1).inner_text()) >= 2
    expect(phone.page.get_by_text("sand: 31 L taken")).to_have_count(1)
    (permit,) = [one["record"] for one in field_demo.pulled() if one["id"] == "kelloran-permit-28"]
    first = permit["conditions"][0]
    expect(phone.page.get_by_role("listitem").filter(has_text=first["text"])).to_have_count(1)
    expect(phone.page.get_by_text(permit["number"])).not_to_have_count(0)
    # And what is unsent can still be brought to safety.
    phone.touch(phone.page.locator("a.unsent"))
    expect(phone.button("Save a copy to a file")).to_be_enabled()


def tell_the_kind(phone: FieldPhone) -> None:
    """Stage and sex of one crab are one row more; a shrimp may carry eggs, a flounder not."""
    phone.find("para ga", CRAB, "kept")
    phone.touch(phone.page.get_by_role("button", name=f"Number, lengths or kind of {CRAB}"))
    for choice in ("Kind", "berried", "female", "Number", "3", "Done"):
        phone.touch(phone.page.locator("dialog").get_by_role("button", name=choice, exact=True))
    rows = phone.page.locator("article", has_text=CRAB)
    expect(rows).to_have_count(2)
    # What was typed and not confirmed is counted, of the kind that was told, and can be taken back.
    expect(rows.filter(has_text="berried, female").locator("b").first).to_have_text("3")
    phone.touch(phone.undo(f"3 kept {CRAB}, berried, female"))
    expect(rows.filter(has_text="berried, female").locator("b").first).to_have_text("0")
    phone.find("gre fl", FLOUNDER, "kept")
    phone.touch(phone.page.get_by_role("button", name=f"Number, lengths or kind of {FLOUNDER}"))
    phone.touch(phone.button("Kind"))
    phone.button("juvenile").wait_for()
    expect(phone.button("berried")).to_have_count(0)
    phone.touch(phone.button("Done"))


def take_sand(phone: FieldPhone) -> None:
    """Sand is taken or put back, in litres; beyond its limit it shows the stop sign; an amount waits for its unit."""
    keypad = phone.page.locator("dialog")
    phone.touch(phone.button("Find"))
    phone.page.get_by_label("First letters of a name").fill("sand")
    expect(phone.page.get_by_role("button", name="sand dead")).to_have_count(0)
    phone.touch(phone.button("An amount of sand taken"))
    for key in ("2", "6"):
        phone.touch(keypad.get_by_role("button", name=key, exact=True))
    phone.touch(keypad.get_by_role("button", name="Done"))
    expect(keypad.get_by_role("alert")).to_have_text("26 of what? Touch its unit, or take the digits back.")
    phone.touch(keypad.get_by_role("button", name="26 L"))
    sand = phone.page.locator("article", has_text="clean sand").first
    taken = sand.locator("button.zone.kept")
    # 2.21 of the permit: 30 litres on one trip from one area.
    expect(taken).to_contain_text("4 L left · 2.21")
    phone.touch(taken)
    phone.touch(keypad.get_by_role("button", name="5", exact=True))
    # The app is gone before the unit was touched: the digit stands there again.
    phone.wait_until_typed("5")
    phone.page.reload()
    phone.touch(keypad.get_by_role("button", name="5 L"))
    expect(taken).to_contain_text("Stop")
    expect(taken).to_contain_text("none left · 2.21")
