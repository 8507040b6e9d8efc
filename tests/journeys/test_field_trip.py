"""Around the catch: gear that is measured once, places and waters that are asked about, readings, traps that stay, a lock."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from tests.journeys.field_phone import FieldPhone, until

pytestmark = pytest.mark.slow

SHRIMP = "Palaemon serenus"
INSIDE_BAR, FLAT = "Inside Kelloran Bar", "Gannet Flat"
"""Sites of the sample season; the phone of these tests stands at the first (sample_trips/trips-2028-autumn.json)."""


def panel(phone: FieldPhone) -> Locator:
    """Give the panel on top."""
    return phone.page.locator("dialog[open]").last


def press(phone: FieldPhone, name: str | re.Pattern[str]) -> None:
    """Touch a button of the panel on top."""
    phone.touch(panel(phone).get_by_role("button", name=name, exact=isinstance(name, str)))


def type_digits(phone: FieldPhone, value: str) -> None:
    for key in value:
        press(phone, "Point" if key == "." else key)


def open_details(phone: FieldPhone) -> None:
    phone.touch(phone.page.locator("button.where"))
    phone.page.get_by_label("Site", exact=True).wait_for()


def write(phone: FieldPhone, label: str, value: str) -> None:
    field = phone.page.get_by_label(label, exact=True)
    field.fill(value)
    field.blur()


def haul_in_hand(phone: FieldPhone) -> str:
    return phone.page.url.rpartition("/")[2]


def content(phone: FieldPhone, record: str) -> dict[str, Any]:
    found: dict[str, Any] = phone.stored()[record]["content"]
    return found


def empty_haul(phone: FieldPhone) -> None:
    phone.touch(phone.button("Nothing caught"))
    phone.button("Open a haul").wait_for()


def outcomes_at_the_core(demo: Any, number: str, haul: str) -> set[str]:
    """Give what the core answers on a condition of the new permit where it speaks of a haul."""
    (code,) = [one["code"] for one in demo.pulled() if one["id"] == haul]
    with demo.signed_in("inspector") as client:
        asked = {"authority": "kelloran-permit-28", "number": number, "limit": 1000}
        findings = client.get("/api/findings", params=asked).json()["findings"]
    return {one["outcome"] for one in findings if one["number"] == number and code in one["records"]}


def test_a_net_is_measured_once_and_a_change_of_water_asks_for_the_cleaning(phones, field_demo):
    phone = phones.start()
    phone.open("begin/new")
    # Alone, with none of the papers: it is said, and starting is all that it takes.
    told = phone.page.get_by_role("status").filter(has_text="Starting says that you know")
    expect(told).to_contain_text("You are alone.")
    expect(told).to_contain_text("Not ticked as carried: permit and amendments")
    trip = phone.begin_trip()
    phone.open_haul()
    first = haul_in_hand(phone)
    where = phone.page.locator("button.where")
    expect(where).to_contain_text("Which gear?")
    expect(where).to_contain_text(f"at {INSIDE_BAR}?")

    open_details(phone)
    press(phone, "seine")
    expect(panel(phone).get_by_text("Not noted yet: length, mesh.")).to_have_count(1)
    press(phone, re.compile("^length [?]"))
    expect(panel(phone)).to_contain_text("at most 15 m (4.1)")
    type_digits(phone, "12")
    press(phone, "12 m")
    press(phone, re.compile("^mesh [?]"))
    type_digits(phone, "0.25")
    press(phone, "0.25 in (6.35 mm)")
    expect(panel(phone).get_by_text("Not noted yet")).to_have_count(0)
    phone.touch(phone.page.locator("summary", has_text="Name on it"))
    write(phone, "Name or number on it", "S-7")
    press(phone, INSIDE_BAR)
    press(phone, "Done")
    expect(where).to_contain_text("seine S-7, length 12 m, mesh 0.25 in")
    expect(where).to_contain_text(f"{INSIDE_BAR}, Kelloran Inlet")
    assert content(phone, first)["gear"] == {"gear": "seine", "length_mm": "12 m", "mesh_mm": "0.25 in", "tag": "S-7"}
    gear = [one for one in phone.ask_the_checks(trip, first) if one["number"] == "4.1" and first in one["records"]]
    assert [one["outcome"] for one in gear] == ["met"]
    empty_haul(phone)

    # The next one says what it took over; another kind takes no size along, and the same net is one touch.
    phone.open_haul()
    second = haul_in_hand(phone)
    expect(where).to_contain_text("seine S-7, length 12 m, mesh 0.25 in")
    expect(where).to_contain_text("as in Haul 1")
    open_details(phone)
    press(phone, "hand net")
    expect(panel(phone).get_by_text("Not noted yet: opening.")).to_have_count(1)
    assert content(phone, second)["gear"] == {"gear": "hand net"}
    press(phone, "seine S-7, length 12 m, mesh 0.25 in")
    expect(panel(phone).get_by_text("Not noted yet")).to_have_count(0)
    assert content(phone, second)["gear"] == content(phone, first)["gear"]

    # The position speaks for another site: a question, and the answer is the crew's.
    write(phone, "Site", FLAT)
    question = panel(phone).get_by_role("group", name="Another site?")
    expect(question).to_contain_text(f"2.7 km from {FLAT}")
    press(phone, f"Keep {FLAT}")
    expect(question).to_have_count(0)
    # The answer holds after the panel is closed, and after the app was: only another note or position asks again.
    press(phone, "Done")
    phone.page.reload()
    expect(where).to_contain_text(FLAT)
    expect(where).not_to_contain_text(f"at {INSIDE_BAR}?")
    open_details(phone)
    expect(panel(phone).get_by_label("Site", exact=True)).to_have_value(FLAT)
    expect(question).to_have_count(0)
    write(phone, "Site", INSIDE_BAR)
    # So does it of a water: what is typed stands all the same, and the cleaning is asked for.
    write(phone, "Water", "Heron Arm")
    expect(panel(phone).get_by_role("group", name="Another water?")).to_contain_text("outside Heron Arm as it is drawn")
    press(phone, "Keep Heron Arm")
    expect(panel(phone)).to_contain_text("The haul before was in Kelloran Inlet, this one is in Heron Arm.")
    press(phone, "Note the cleaning")
    expect(panel(phone)).to_contain_text("48 hours dried")
    expect(panel(phone)).to_contain_text("gloves and eyes covered")
    press(phone, "hot water")
    write(phone, "For how long", "15")
    press(phone, "Note it as cleaned")
    expect(phone.page.get_by_text("Was the gear cleaned in between?")).to_have_count(0)
    press(phone, "Done")
    empty_haul(phone)
    phone.wait_until_all_is_sent()
    (cleaning,) = content(phone, trip)["cleanings"]
    assert (cleaning["method"], cleaning["minutes"], cleaning["gear"]) == ("hot water", 15, "seine S-7")
    assert outcomes_at_the_core(field_demo, "4.1", second) == {"met"}
    assert outcomes_at_the_core(field_demo, "6.3", second) == {"met"}

    # It can be struck out, and that it was not done is noted as well.
    phone.touch(phone.button("Gear cleaned"))
    press(phone, "Strike out: seine S-7: hot water, 15 min")
    expect(panel(phone).get_by_text("Noted on this trip")).to_have_count(0)
    assert content(phone, trip)["cleanings"] == []


def test_readings_are_asked_about_and_can_be_struck_out(phones):
    phone = phones.start()
    trip = phone.begin_trip()
    phone.touch(phone.button("Water reading"))
    expect(panel(phone).get_by_role("button", name="temperature")).to_have_attribute("aria-pressed", "true")
    press(phone, "pH")
    expect(panel(phone).get_by_role("button", name="pH", exact=True).first).to_have_attribute("aria-pressed", "true")
    expect(panel(phone).get_by_role("button", name="temperature")).to_have_attribute("aria-pressed", "false")

    def readings() -> list[tuple[str, str]]:
        return [(one["value"], one["unit"]) for one in content(phone, trip).get("readings", [])]

    type_digits(phone, "81")
    press(phone, "81 pH")
    expect(panel(phone).get_by_role("alert")).to_contain_text("pH 81 lies outside 0 to 14. Did you mean another?")
    assert readings() == []
    press(phone, "8.1 pH")
    panel(phone).get_by_role("button", name="Strike out pH 8.1").wait_for()
    assert readings() == [("8.1", "pH")]
    press(phone, "salinity")
    type_digits(phone, "32")
    press(phone, "32 SG")
    # Whoever insists is believed.
    expect(panel(phone).get_by_role("button", name="32 psu")).to_have_count(1)
    press(phone, "Keep 32 SG")
    panel(phone).get_by_role("button", name="Strike out salinity 32 SG").wait_for()
    assert readings() == [("8.1", "pH"), ("32", "SG")]
    press(phone, "Strike out pH 8.1")
    expect(panel(phone).get_by_role("button", name="Strike out pH 8.1")).to_have_count(0)
    assert readings() == [("32", "SG")]


def test_a_trap_that_is_left_stands_on_the_first_screen_until_it_is_lifted(phones, field_demo):
    phone = phones.start()
    phone.begin_trip()
    names = phone.page.locator(".hauls strong")
    phone.open_haul()
    empty_haul(phone)
    phone.touch(phone.button("Set gear"))
    # Only gear that is left to stand is offered, and a known trap with its sizes.
    expect(phone.page.locator(".gears button", has_text="hand net")).to_have_count(0)
    phone.touch(phone.page.locator(".gears button", has_text="trap T1-T4"))
    water = phone.page.get_by_role("heading", name="In the water")
    water.wait_for()
    trap = phone.page.get_by_role("listitem").filter(has_text="trap T1-T4")
    expect(trap).to_contain_text("Set 2")
    expect(trap).to_contain_text("opening 60 mm")
    phone.open_haul()
    empty_haul(phone)
    # Nothing that stands, is added or gets its code makes another name of a name.
    expect(names).to_have_text(["Haul 3", "Haul 1"])
    phone.wait_until_all_is_sent()
    expect(names).to_have_text(["Haul 3", "Haul 1"])

    # Lost is asked once, and found again.
    phone.touch(trap.get_by_role("button", name="Lost"))
    phone.touch(phone.button("No, it stands"))
    phone.touch(trap.get_by_role("button", name="Lost"))
    phone.touch(phone.button("Yes, it is lost"))
    expect(water).to_have_count(0)
    phone.touch(phone.button("Set 2 was found again"))
    water.wait_for()

    phone.touch(phone.button("Close the trip"))
    phone.page.get_by_label("Gear stays in the water on purpose").check()
    phone.touch(phone.button("Close the trip now"))
    phone.page.get_by_role("heading", name="Still in the water").wait_for()
    left = phone.page.get_by_role("listitem").filter(has_text="trap T1-T4")
    expect(left).to_contain_text("stands for")
    expect(left).to_contain_text("lift within")
    expect(left).to_contain_text("Set 2")
    # Lost and found again after its trip was closed: the reason is known.
    trip_of_it = next(
        one["parent"]
        for one in phone.stored().values()
        if one["content"].get("kind") == "set" and "end" not in one["content"]
    )
    phone.touch(left.get_by_role("button", name="Lost"))
    phone.touch(phone.button("Yes, it is lost"))
    expect(left).to_have_count(0)
    phone.open(f"trip/{trip_of_it}")
    phone.touch(phone.button("Set 2 was found again"))
    water.wait_for()
    phone.open("trips")
    phone.page.get_by_role("heading", name="Still in the water").wait_for()
    phone.touch(left.get_by_role("button", name="Looked in"))
    expect(left.get_by_role("button", name="Looked in (1)")).to_have_count(1)
    phone.wait_until_all_is_sent()
    phone.touch(left.get_by_role("button", name="Lift"))
    trap_id = haul_in_hand(phone)
    # Nobody is asked for a reason: it is known.
    expect(phone.page.get_by_text("“Gear left in the water when the trip was closed”")).to_have_count(1)
    phone.find("pala se", SHRIMP, "released")
    phone.touch(phone.page.locator("footer").get_by_role("button", name="Lifted", exact=True))
    phone.touch(phone.button("Close the set"))
    phone.wait_until_all_is_sent()
    stored = next(one["record"] for one in field_demo.pulled() if one["id"] == trap_id)
    assert stored["end"] is not None
    assert len(stored["checks"]) == 1
    phone.open("trips")
    phone.page.get_by_role("heading", name="Trips").wait_for()
    expect(phone.page.get_by_role("listitem").filter(has_text="trap T1-T4")).to_have_count(0)


def test_the_map_finds_its_way_back_and_a_pocket_touches_nothing(phones):
    phone = phones.start()
    phone.begin_trip()
    trip = phone.page.url
    phone.touch(phone.button("Map"))
    phone.touch(phone.button("Where am I?"))
    phone.page.get_by_text("good to 8 m.").wait_for()
    own, whole = phone.page.locator(".map-own"), phone.page.locator("main .map")
    mine, box = own.bounding_box(), whole.bounding_box()
    assert mine is not None
    assert box is not None
    assert mine["x"] + mine["width"] / 2 == pytest.approx(box["x"] + box["width"] / 2, abs=20)
    assert mine["y"] + mine["height"] / 2 == pytest.approx(box["y"] + box["height"] / 2, abs=20)
    phone.page.reload()
    phone.touch(phone.page.get_by_role("button", name="Trip", exact=True))
    phone.page.wait_for_url(trip)

    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    zone = phone.zone("released", SHRIMP)
    zone.scroll_into_view_if_needed()
    at = zone.bounding_box()
    assert at is not None
    phone.touch(phone.button("Lock for the pocket"))
    locked = phone.page.get_by_role("dialog", name="Screen locked")
    locked.wait_for()
    for _ in range(3):
        phone.page.touchscreen.tap(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    for _ in range(3):
        phone.page.keyboard.press("Escape")
    expect(locked).to_have_count(1)
    # Browsers may close a panel all the same, as on a second Escape: it comes up again.
    locked.evaluate("one => one.close()")
    phone.page.wait_for_function("() => document.querySelector('dialog:modal') !== null")
    # By keyboard, too: two buttons, one after the other.
    phone.button("Unlock").focus()
    phone.page.keyboard.press("Enter")
    expect(phone.button("Yes, unlock")).to_be_focused()
    phone.page.keyboard.press("Enter")
    expect(locked).to_have_count(0)
    phone.sees("released", SHRIMP, "1")


def test_a_wrong_code_is_said_to_be_wrong(phones):
    phone = phones.start("another", new=True)
    phone.open()
    phone.page.get_by_label("Code from the office").fill("AAAAA-BBBBB")
    phone.touch(phone.button("Enrol this phone"))
    alert = phone.page.get_by_role("alert")
    expect(alert).to_contain_text("This code is wrong, was used already, or is too old.")
    expect(alert).to_contain_text("ask the office for a new one")
    expect(alert).not_to_contain_text("signed out")


def test_animals_that_got_away_and_were_typed_only_are_counted_when_the_haul_is_closed(phones):
    phone = phones.start()
    phone.begin_trip()
    phone.open_haul()
    haul = haul_in_hand(phone)
    phone.find("pala se", SHRIMP, "released")
    phone.sees("released", SHRIMP, "1")
    phone.touch(phone.button("Close"))
    press(phone, f"{SHRIMP}: some got away")
    type_digits(phone, "3")
    press(phone, "Close the haul")
    phone.button("Open a haul").wait_for()
    of_haul = [one["content"] for one in phone.stored().values() if one["parent"] == haul]
    assert {one["fate"]: one["count"] for one in of_haul} == {"released": 1, "lost": 3}
    assert "end" in content(phone, haul)


HAS_ARRIVED = """id => new Promise((resolve) => {
  const asked = indexedDB.open("creekledger");
  asked.onsuccess = () => {
    const read = asked.result.transaction("records").objectStore("records").get(["trip", id]);
    read.onsuccess = () => { asked.result.close(); resolve("arrived" in read.result.content); };
  };
})"""
SLOW_POSITION = """
const at = navigator.geolocation.getCurrentPosition.bind(navigator.geolocation);
navigator.geolocation.getCurrentPosition = (found, failed, how) => setTimeout(() => at(found, failed, how), 2500);
"""


@pytest.mark.parametrize("script", ["", SLOW_POSITION], ids=["at once", "after the trip was started"])
def test_where_the_crew_stood_is_kept_with_its_trip_whenever_the_position_comes(phones, field_demo, script):
    phone = phones.start(script=script)
    phone.open("begin/new")
    phone.page.get_by_text("Looking for the position" if script else "You stand at -42.30256, 153.62721").wait_for()
    phone.touch(phone.page.get_by_label("Thought through; somebody ashore knows"))
    phone.touch(phone.button("Start the trip"))
    phone.button("Open a haul").wait_for()
    trip = phone.page.url.rpartition("/")[2]
    assert ("arrived" in content(phone, trip)) is (script == "")
    until(phone.page, HAS_ARRIVED, trip)
    phone.wait_until_all_is_sent()
    stands = {"lat": -42.302562, "lon": 153.627205, "radius_m": 8}
    assert content(phone, trip)["arrived"] == stands
    (at_the_server,) = [one["record"]["arrived"] for one in field_demo.pulled() if one["id"] == trip]
    assert at_the_server == stands


WOKEN_LATE = """
const real = Date.now.bind(Date);
let later = 0;
Date.now = () => real() + later;
const at = navigator.geolocation.getCurrentPosition.bind(navigator.geolocation);
navigator.geolocation.getCurrentPosition = (found, failed, how) => setTimeout(() => {
  later = 3_600_000;
  at((one) => { found(one); window.positionCame = true; }, failed, how);
}, 2500);
"""


def test_a_position_that_comes_an_hour_after_the_trip_began_is_no_place_of_its_beginning(phones):
    phone = phones.start(script=WOKEN_LATE)
    trip = phone.begin_trip()
    phone.page.wait_for_function("() => window.positionCame === true")
    phone.wait_until_all_is_sent()
    assert "arrived" not in content(phone, trip)
    assert phone.outbox() == []
