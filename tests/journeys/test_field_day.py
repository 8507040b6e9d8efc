"""A whole day: a phone gets ready, works without signal, is restarted, and delivers to a server that is killed twice."""

from __future__ import annotations

import re
import time
from datetime import datetime
from fractions import Fraction
from typing import Any

import pytest
from playwright.sync_api import expect

from api.operations.verifying import verify
from reports.pdf_text import lines_of
from tests.journeys.conftest import FLAGS, chromium, watched_page
from tests.journeys.field_phone import PHONE, FieldPhone, go_offline
from tests.journeys.test_desk import DESK, open_lot, opened, signed_in, waiting_lots
from tests.photographs import camera_jpeg

pytestmark = pytest.mark.slow

FLOUNDER, HARDYHEAD = "Rhombosolea tapirina", "Atherinosoma microstoma"
CRAB, SHRIMP, MULLET = "Paragrapsus gaimardii", "Palaemon serenus", "Aldrichetta forsteri"
GOBY, SOLDIER, TOADFISH, SMELT = (
    "Favonigobius lateralis",
    "Mictyris platycheles",
    "Tetractenos glaber",
    "Retropinna tasmanica",
)


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


def test_a_whole_day_at_the_creek(phone_at, browser, own_demo, tmp_path, record_property):
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
    check_that_the_core_answers_alike(phone, own_demo)
    the_day_goes_on_at_the_desk(browser, own_demo, tmp_path)
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
    # Twelve hardyheads were allotted to the trip: what is left goes along with each touch.
    expect(phone.zone("kept", HARDYHEAD)).to_contain_text("6 left")
    # A mistake is taken back, and the screen says what.
    phone.count("dead", CRAB)
    phone.sees("dead", CRAB, "1")
    phone.touch(phone.button(f"Undo: 1 dead {CRAB}"))
    phone.page.get_by_text(f"Taken back: 1 dead {CRAB}").wait_for(state="attached")
    phone.sees("dead", CRAB, "0")
    # Nothing is left of the trip's two flounders: it says so, and the truth is still kept.
    stop = phone.zone("kept", FLOUNDER)
    stop.filter(has_text="Stop").wait_for()
    for words in ("Kept", "none left", "2.6", "trip's allotment"):
        expect(stop).to_contain_text(words)
    phone.count("kept", FLOUNDER)
    phone.sees("kept", FLOUNDER, "3")
    # A length run with one below the size.
    phone.lengths(FLOUNDER, "total length", ["85", "55", "120.5"])
    # 3.4 of the permit: from 60 mm on.
    phone.page.locator("article", has_text=FLOUNDER).get_by_text(
        "1 of 3 measured is below 60 mm total length."
    ).wait_for()
    phone.close_haul()


def second_haul(phone: FieldPhone) -> None:
    """Eight kinds again, with an estimate and an animal that nobody knows."""
    phone.open_haul()
    phone.zone("kept", HARDYHEAD).wait_for()
    before = phone.touches
    phone.estimate("released", SHRIMP, 40)
    assert phone.touches - before <= 5
    phone.sees("released", SHRIMP, "~40")
    for name, fate in (
        (HARDYHEAD, "kept"),
        (CRAB, "kept"),
        (MULLET, "released"),
        (GOBY, "dead"),
        (SOLDIER, "released"),
    ):
        phone.count(fate, name, 2)
    phone.find("retro", SMELT, "released")
    # Of what is not to be handled the permit's own words are shown, and putting it back comes first.
    phone.touch(phone.button("Find"))
    phone.page.get_by_label("First letters of a name").fill("hapal mac")
    found = phone.page.get_by_role("dialog").get_by_role("listitem")
    expect(found).to_contain_text("3.9 Blue-ringed octopuses are not to be handled.")
    expect(found.get_by_role("button").first).to_have_text("1 released")
    phone.touch(phone.button("Back"))
    with phone.page.expect_file_chooser() as chooser:
        phone.touch(phone.button("Not sure"))
    chooser.value.set_files({"name": "unknown.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(seed=7)})
    phone.touch(phone.button("Released"))
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
    trip = next(
        one
        for one in kept.values()
        if one["kind"] == "trip" and one["content"]["status"] == "closed" and one["code"] == "K28-10"
    )
    hauls = [one for one in kept.values() if one["parent"] == trip["id"]]
    lines = [one for one in kept.values() if one["parent"] in {haul["id"] for haul in hauls}]
    assert len(hauls) == 3
    assert len(lines) == 16
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


def check_that_the_core_answers_alike(phone: FieldPhone, demo: Any) -> None:
    """What the phone's checks say of each haul is what the core says: condition, outcome and records."""
    pulled = demo.pulled()
    ids = {one["code"]: one["id"] for one in pulled if one["code"]}
    hauls = [one for one in pulled if one["kind"] == "haul" and one["parent"] == ids["K28-10"]]
    with demo.signed_in("inspector") as client:
        findings = client.get("/api/findings", params={"authority": "kelloran-permit-28", "limit": 1000}).json()[
            "findings"
        ]
    for haul in hauls:
        own = {haul["id"], *(one["id"] for one in pulled if one["kind"] == "line" and one["parent"] == haul["id"])}
        said = phone.ask_the_checks(ids["K28-10"], haul["id"])
        kinds = {one["kind"] for one in said}
        assert {"area", "gear", "term"} <= kinds
        assert findings, "the core says nothing of the new permit"
        mine = {answer(one, own, {}) for one in said}
        theirs = {
            answer(one, own, ids)
            for one in findings
            if one["kind"] in JUDGED_BY_THE_PHONE and one["outcome"] != "not used"
        }
        assert mine == {one for one in theirs if one[2]}


JUDGED_BY_THE_PHONE = frozenset(
    {"take limit", "size limit", "stage and sex", "prohibited taxon", "gear", "area", "season", "time of day", "term"}
)


def answer(finding: dict[str, Any], own: set[str], ids: dict[str, str]) -> tuple[str, str, frozenset[str]]:
    """Give condition, outcome, and which of a haul's own records it is about."""
    named = finding["over"] if finding["outcome"] == "broken" else finding["records"]
    return finding["number"], finding["outcome"], frozenset(ids.get(one, one) for one in named) & own


def the_day_goes_on_at_the_desk(browser: Any, demo: Any, tmp_path: Any) -> None:
    """A curator accepts a lot and declines another; the administrator files, and the PDF says what the screen says."""
    with watched_page(browser, **DESK) as page:
        signed_in(page, demo.address, "curator", "gate")
        mine = [one for one in waiting_lots(page, demo.address) if one["trip"] == "K28-10"]
        kept = {one["taxon"]: one for one in mine}
        assert sorted((one["taxon"], one["on_hand"]["best"]) for one in mine) == [
            (HARDYHEAD, 2), (HARDYHEAD, 6), (CRAB, 2), (FLOUNDER, 3),
        ]  # fmt: skip
        hardyheads = next(one for one in mine if one["taxon"] == HARDYHEAD)
        card = open_lot(page, demo.address, hardyheads)
        card.get_by_role("radio", name="Accept").check()
        card.get_by_label("Counted at the door").fill(str(hardyheads["on_hand"]["best"]))
        card.get_by_role("button", name="Accept the lot").click()
        expect(page.get_by_role("status").filter(has_text=f"Lot {hardyheads['line']}")).to_contain_text("accepted as")
        card = open_lot(page, demo.address, kept[FLOUNDER])
        assert "3.4" in card.inner_text(), "the undersize flounder is told at the gate"
        card.get_by_role("radio", name="Decline").check()
        card.get_by_label("Reason").fill("one of them is below the size")
        card.get_by_label("Where it goes").select_option("held apart")
        card.get_by_role("button", name="Decline the lot").click()
        expect(page.get_by_role("status").filter(has_text=f"Lot {kept[FLOUNDER]['line']}")).to_contain_text("declined")
    with watched_page(browser, **DESK) as page:
        signed_in(page, demo.address, "administrator", "balance?authority=kelloran-permit-28")
        table = page.get_by_role("region", name="Limits on what is taken")
        shown = {}
        for body in table.locator("tbody").all():
            cells = {one.get_attribute("data-label"): one.inner_text() for one in body.locator("td[data-label]").all()}
            shown[body.locator("th").inner_text().split()[0]] = cells["Taken"]
        # 6 and 2 hardyheads, and three flounders where two were allotted.
        assert (shown["2.1"], shown["2.2"], shown["2.6"]) == ("8", "8", "3")
        content = filed_report(page, demo.address, tmp_path)
    assert verify(content) == []
    text = " ".join(line for number in range(3) for line in lines_of(content, number))
    for number, limit in (("2.1", 150), ("2.2", 200), ("2.6", 20)):
        words = rf"{re.escape(number)} .{{0,600}}?30 Jun 2029 {limit} (\d+)"
        found = re.search(words, text)
        assert found is not None, text[:3000]
        assert found.group(1) == shown[number]
    assert "Kept alive 13" in text


def filed_report(page: Any, address: str, tmp_path: Any) -> bytes:
    """File the report of the new permit's season so far, and give the PDF as it was downloaded."""
    opened(page, address, "report?authority=kelloran-permit-28", "Report")
    page.get_by_label("Title").fill("Holder of the permit")
    page.get_by_label("I certify that this report is true and complete").check()
    page.get_by_role("button", name="File the report").click()
    page.get_by_role("heading", name="1 filed report").wait_for(timeout=90_000)
    with page.expect_download() as coming:
        page.get_by_role("link", name="Download First report (PDF)").click()
    path = tmp_path / "filed.pdf"
    coming.value.save_as(path)
    content: bytes = path.read_bytes()
    return content


def compared(content: dict[str, Any]) -> dict[str, Any]:
    """Give the content in one way of writing: times as instants, counts as three numbers, defaults left out."""
    found = {name: plain(name, value) for name, value in content.items()}
    found.setdefault("unit", "individuals")
    return {
        name: value
        for name, value in found.items()
        if value not in ("", [], None, False)
        and name not in ("hauls", "lines", "zone", "unit", "may_stand_under", "id")
    }


def plain(name: str, value: Any) -> Any:
    if name in ("start", "end", "depart", "back", "at") and isinstance(value, str):
        return datetime.fromisoformat(value).timestamp()
    if name == "count":
        low, best, high = (
            (value, value, value) if not isinstance(value, dict) else (value["low"], value["best"], value["high"])
        )
        return [Fraction(str(one)) for one in (low, best, high)]
    if name == "values":
        return [Fraction(str(one).split()[0]) for one in value]
    if isinstance(value, dict):
        told = {key: plain(key, one) for key, one in value.items() if one not in ("", None)}
        return {"number": 1, **told} if name == "gear" else told
    if isinstance(value, list):
        return [plain(name, one) for one in value]
    return value
