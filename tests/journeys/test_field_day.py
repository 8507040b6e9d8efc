"""A whole day: a phone gets ready, works without signal, is restarted, and delivers to a server that is killed twice."""

from __future__ import annotations

import time
from datetime import datetime
from fractions import Fraction
from typing import Any

import pytest

from tests.journeys.conftest import FLAGS, chromium
from tests.journeys.field_phone import PHONE, FieldPhone, go_offline
from tests.photographs import camera_jpeg

pytestmark = pytest.mark.slow

FLOUNDER, HARDYHEAD = "Rhombosolea tapirina", "Atherinosoma microstoma"
CRAB, SHRIMP, MULLET = "Paragrapsus gaimardii", "Palaemon serenus", "Aldrichetta forsteri"
GOBY, SOLDIER, TOADFISH, SMELT = "Favonigobius lateralis", "Mictyris platycheles", "Tetractenos glaber", "Retropinna tasmanica"


@pytest.fixture
def phone_at(playwright, tmp_path):
    """Start the phone's browser on one and the same folder, as a phone that is switched off and on."""
    opened = []

    def start():
        context = playwright.chromium.launch_persistent_context(
            str(tmp_path / "phone"), executable_path=chromium(), args=FLAGS, **PHONE
        )
        opened.append(context)
        return context

    yield start
    for context in opened:
        context.close()


def test_a_whole_day_at_the_creek(phone_at, own_demo, tmp_path, record_property):
    context = phone_at()
    phone = FieldPhone(context.pages[0], own_demo.address)
    phone.enrol(own_demo.code_for_the_collector())
    phone.arrive()
    phone.wait_until_all_is_sent()

    # Off the map: no radio, and the phone is switched off and on.
    go_offline(context)
    context.close()
    context = phone_at()
    go_offline(context)
    phone.page = context.pages[0]
    phone.open()
    phone.open_haul()
    first_haul(phone, record_property)
    second_haul(phone)
    set_a_trap(phone)
    assert "unsent" in phone.unsent()
    kept = phone.stored()
    assert len({one["record"] for one in phone.outbox()}) >= 18

    deliver_to_a_server_that_dies_twice(phone, context, own_demo)
    check_that_all_arrived(own_demo, kept)
    check_that_the_photo_arrived(own_demo)
    record_property("touches of the whole day", phone.touches)


def first_haul(phone: FieldPhone, record_property: Any) -> None:
    """Eight kinds, thirty animals: counted with the touches they take."""
    before = phone.touches
    phone.find("gre fl", FLOUNDER, "kept")
    record_property("touches of a new kind", phone.touches - before)
    assert phone.touches - before <= 3
    repeat = phone.touches
    phone.count("kept", FLOUNDER)
    assert phone.touches - repeat == 1
    for name, letters, fate, more in (
        (HARDYHEAD, "smallm", "kept", 5),
        (CRAB, "para ga", "released", 5),
        (SHRIMP, "pala se", "released", 3),
        (MULLET, "ald", "released", 2),
        (GOBY, "favon la", "released", 3),
        (SOLDIER, "mict pl", "released", 3),
        (TOADFISH, "tetr gl", "dead", 0),
    ):
        if phone.zone(fate, name).count() == 0:
            phone.find(letters, name, fate)
        else:
            phone.count(fate, name)
        phone.count(fate, name, more)
    spent = phone.touches - before
    record_property("touches of a haul of 8 kinds and 30 animals", spent)
    assert spent <= 45
    for fate, name, number in (
        ("kept", FLOUNDER, "2"),
        ("kept", HARDYHEAD, "6"),
        ("released", CRAB, "6"),
        ("released", SHRIMP, "4"),
        ("released", MULLET, "3"),
        ("released", GOBY, "4"),
        ("released", SOLDIER, "4"),
        ("dead", TOADFISH, "1"),
    ):
        phone.sees(fate, name, number)
    # A mistake is taken back, and the screen says what.
    phone.count("dead", CRAB)
    phone.sees("dead", CRAB, "1")
    phone.touch(phone.button(f"Undo: 1 dead {CRAB}"))
    phone.page.get_by_text(f"Taken back: 1 dead {CRAB}").wait_for(state="attached")
    phone.sees("dead", CRAB, "0")
    # Nothing is left of the trip's two flounders: it says so, and the truth is still kept.
    stop = phone.zone("kept", FLOUNDER)
    stop.filter(has_text="Stop").wait_for()
    phone.count("kept", FLOUNDER)
    phone.sees("kept", FLOUNDER, "3")
    # A length run with one below the size.
    phone.lengths(FLOUNDER, "total length", ["85", "55", "120.5"])
    phone.page.locator("article", has_text=FLOUNDER).get_by_text("3.4:").wait_for()
    phone.close_haul()


def second_haul(phone: FieldPhone) -> None:
    """Eight kinds again, with an estimate and an animal that nobody knows."""
    phone.open_haul()
    phone.zone("kept", HARDYHEAD).wait_for()
    before = phone.touches
    phone.estimate("released", SHRIMP, 40)
    assert phone.touches - before <= 5
    phone.sees("released", SHRIMP, "~40")
    for name, fate in ((HARDYHEAD, "kept"), (CRAB, "kept"), (MULLET, "released"), (GOBY, "dead"), (SOLDIER, "released")):
        phone.count(fate, name, 2)
    phone.find("retro", SMELT, "released")
    with phone.page.expect_file_chooser() as chooser:
        phone.touch(phone.button("Not sure"))
    chooser.value.set_files({"name": "unknown.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(seed=7)})
    phone.sees("released", "unknown 1", "1")
    phone.close_haul()


def set_a_trap(phone: FieldPhone) -> None:
    """A trap stands in the water, and the trip cannot be closed without a word about it."""
    phone.touch(phone.button("Set gear"))
    phone.touch(phone.button("Set trap"))
    phone.page.get_by_role("heading", name="In the water").wait_for()
    phone.touch(phone.button("Close the trip"))
    assert phone.button("Close the trip now").is_disabled()
    phone.touch(phone.button("Lift it"))
    phone.touch(phone.button("Nothing caught"))
    phone.touch(phone.button("Close the trip"))
    phone.touch(phone.page.locator("fieldset", has_text="6.6").get_by_role("button", name="kept", exact=True))
    phone.touch(phone.button("Close the trip now"))
    phone.page.get_by_role("heading", name="Trips").wait_for()


def deliver_to_a_server_that_dies_twice(phone: FieldPhone, context: Any, demo: Any) -> None:
    """Two deliveries die on their way, at once and after a moment; the third gets through."""
    for wait in (0.0, 0.15):
        with phone.page.expect_request("**/api/sync/push", timeout=90_000):
            go_offline(context, False)
            phone.page.evaluate("dispatchEvent(new Event('online'))")
        time.sleep(wait)
        demo.kill()
        demo.start()
    phone.wait_until_all_is_sent()


def check_that_all_arrived(demo: Any, kept: dict[str, dict[str, Any]]) -> None:
    """Hold what stands on the server against what the phone held before it sent."""
    pulled = [one for one in demo.pulled() if one["kind"] in ("trip", "haul", "line")]
    server = {one["id"]: one for one in pulled}
    assert len(server) == len(pulled), "a record stands on the server twice"
    trip = next(one for one in kept.values() if one["kind"] == "trip" and one["content"]["status"] == "closed" and one["code"] == "K28-10")
    hauls = [one for one in kept.values() if one["parent"] == trip["id"]]
    lines = [one for one in kept.values() if one["parent"] in {haul["id"] for haul in hauls}]
    assert len(hauls) == 3
    assert len(lines) >= 17
    for one in (trip, *hauls, *lines):
        assert compared(server[one["id"]]["record"]) == compared(one["content"]), one["content"]
    mine = {one["id"] for one in (*hauls, *lines)}
    theirs = {one["id"] for one in pulled if one["parent"] == trip["id"]}
    theirs |= {one["id"] for one in pulled if one["parent"] in theirs}
    assert theirs == mine


def check_that_the_photo_arrived(demo: Any) -> None:
    """The photo of the unknown animal is on the server, whole, with its line."""
    with demo.signed_in("inspector") as client:
        (photo,) = client.get("/api/trips/K28-10/photos").json()
        assert photo["whole_at"] is not None
        lines = {one["id"]: one["record"] for one in demo.pulled() if one["kind"] == "line"}
        assert lines[photo["of_record"]]["name_as_written"] == "unknown 1"
        shown = client.get(f"/api/photos/{photo['sha256']}")
        assert shown.headers["content-type"] == "image/jpeg"


def compared(content: dict[str, Any]) -> dict[str, Any]:
    """Give the content in one way of writing: times as instants, counts as three numbers, defaults left out."""
    found = {name: plain(name, value) for name, value in content.items()}
    found.setdefault("unit", "individuals")
    return {
        name: value
        for name, value in found.items()
        if value not in ("", [], None, False) and name not in ("hauls", "lines", "zone", "unit", "may_stand_under", "id")
    }


def plain(name: str, value: Any) -> Any:
    if name in ("start", "end", "depart", "back", "at") and isinstance(value, str):
        return datetime.fromisoformat(value).timestamp()
    if name == "count":
        low, best, high = (value, value, value) if not isinstance(value, dict) else (value["low"], value["best"], value["high"])
        return [Fraction(str(one)) for one in (low, best, high)]
    if name == "values":
        return [Fraction(str(one).split()[0]) for one in value]
    if isinstance(value, dict):
        told = {key: plain(key, one) for key, one in value.items() if one not in ("", None)}
        return {"number": 1, **told} if name == "gear" else told
    if isinstance(value, list):
        return [plain(name, one) for one in value]
    return value
