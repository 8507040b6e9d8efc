"""Two at once: two tabs of one phone, two phones on one haul, a copy that two phones send; and what was refused."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.field_phone import FieldPhone, go_offline

pytestmark = pytest.mark.slow

SHRIMP, CRAB, MULLET = "Palaemon serenus", "Paragrapsus gaimardii", "Aldrichetta forsteri"


class Pushes:
    """How many deliveries a page had under way at once."""

    def __init__(self) -> None:
        self.now = self.most = self.number = 0

    def watch(self, page: Page) -> None:
        page.on("request", lambda one: self._count(one.url, 1))
        page.on("requestfinished", lambda one: self._count(one.url, -1))
        page.on("requestfailed", lambda one: self._count(one.url, -1))

    def _count(self, address: str, more: int) -> None:
        if address.endswith("/api/sync/push"):
            self.now += more
            self.number += more > 0
            self.most = max(self.most, self.now)


def lines_of(demo, haul: str) -> dict[tuple[str, str], Any]:
    """Give what stands on the server of a haul, by kind and fate; fails where a line stands there twice."""
    lines = [one["record"] for one in demo.pulled() if one["kind"] == "line" and one["parent"] == haul]
    found = {(one["taxon"], one["fate"]): whole(one["count"]) for one in lines}
    assert len(found) == len(lines)
    return found


def whole(count: Any) -> Any:
    """Give a count that was not estimated as one number, however it is written."""
    if isinstance(count, dict):
        assert len(set(count.values())) == 1
        return count["best"]
    return count


def haul_of(phone: FieldPhone) -> str:
    return phone.page.url.rpartition("/")[2]


def back_in_signal(phone: FieldPhone) -> None:
    go_offline(phone.page.context, False)
    phone.page.evaluate("dispatchEvent(new Event('online'))")


def test_two_tabs_count_every_touch_once_and_one_sends_at_a_time(phones, field_demo):
    one = phones.start()
    one.begin_trip()
    one.open_haul()
    one.find("pala se", SHRIMP, "released")
    one.wait_until_all_is_sent()
    go_offline(one.page.context)
    other = FieldPhone(one.page.context.new_page(), one.address)
    other.open()
    other.sees("released", SHRIMP, "1")
    assert haul_of(other) == haul_of(one)
    pushes = Pushes()
    for tab in (one, other):
        pushes.watch(tab.page)
    for _ in range(5):
        for tab in (one, other):
            # A tab must be in front to be touched; what was shown in it is brought up to date meanwhile.
            tab.page.bring_to_front()
            tab.count("released", SHRIMP)
    for tab in (one, other):
        tab.sees("released", SHRIMP, "11")
    go_offline(one.page.context, False)
    for tab in (one, other):
        tab.page.evaluate("dispatchEvent(new Event('online'))")
    one.wait_until_all_is_sent()
    assert pushes.most == 1
    assert pushes.number >= 1
    assert lines_of(field_demo, haul_of(one)) == {(SHRIMP, "released"): 11}
    # Taken back in one, gone in both.
    other.touch(other.button(f"Undo: 1 released {SHRIMP}"))
    for tab in (one, other):
        tab.sees("released", SHRIMP, "10")


def test_two_phones_on_one_haul_add_and_what_both_changed_is_kept_twice(phones, field_demo):
    one = phones.start()
    one.begin_trip()
    one.open_haul()
    one.find("pala se", SHRIMP, "released")
    one.wait_until_all_is_sent()
    other = phones.start("another", new=True)
    other.enrol(field_demo.code_for_the_collector())
    other.open(f"haul/{haul_of(one)}")
    other.sees("released", SHRIMP, "1")
    for phone in (one, other):
        go_offline(phone.page.context)
    one.count("released", SHRIMP, 3)
    one.find("para ga", CRAB, "released")
    other.count("released", SHRIMP, 2)
    other.find("ald", MULLET, "released")
    other.sees("released", SHRIMP, "3")
    back_in_signal(one)
    one.wait_until_all_is_sent()
    back_in_signal(other)
    other.wait_until_all_is_sent()
    assert lines_of(field_demo, haul_of(one)) == {
        (SHRIMP, "released"): 4,
        (CRAB, "released"): 1,
        (MULLET, "released"): 1,
    }
    lines = {line: told for line, told in other.stored().items() if told["parent"] == haul_of(one)}
    shrimp = next(line for line, told in lines.items() if told["content"]["taxon"] == SHRIMP)
    with field_demo.signed_in("curator") as desk:
        kept = [told for told in desk.get("/api/conflicts").json() if told["record"] == shrimp]
        assert {whole(told["stands"]["count"]) for told in kept} == {4}
        assert whole(kept[-1]["offered"]["count"]) == 3
        # It is shown, also after this phone has pulled the version that stands, until somebody has settled it.
        other.touch(other.page.locator("a.unsent"))
        two_versions = other.page.get_by_role("heading", name="Two versions")
        two_versions.wait_for()
        beside = other.page.locator("dl.pair")
        for _ in range(2):
            expect(other.page.get_by_text(f"{SHRIMP}, 3 released")).to_have_count(1)
            expect(beside).to_have_text("This phone 3 What stands 4")
            get_ready(other)
            other.open("unsent")
            two_versions.wait_for()
        # Without signal it is this phone's own version that is shown, though the one that stands was pulled.
        go_offline(other.page.context)
        other.open("unsent")
        expect(other.page.get_by_text("The server's comes with signal.")).to_have_count(1)
        expect(other.page.get_by_text(f"{SHRIMP}, 3 released")).to_have_count(1)
        expect(beside).to_have_count(0)
        go_offline(other.page.context, False)
        expect(beside).to_have_text("This phone 3 What stands 4")
        for told in kept:
            take = "offered" if told is kept[-1] else "stands"
            settled = {"take": take, "why": "Both had counted one and the same animal."}
            desk.post(f"/api/conflicts/{told['id']}/settlement", json=settled).raise_for_status()
    for phone in (one, other):
        get_ready(phone)
        phone.open(f"haul/{phone.stored()[shrimp]['parent']}")
        phone.sees("released", SHRIMP, "3")
        phone.sees("released", CRAB, "1")
        phone.sees("released", MULLET, "1")
    other.open("unsent")
    other.page.get_by_text("Nothing is only on this phone.").wait_for()
    expect(two_versions).to_have_count(0)


def get_ready(phone: FieldPhone) -> None:
    """Pull what is new."""
    phone.open("ready")
    phone.touch(phone.button("Get ready now"))
    phone.page.get_by_text("As of less than a minute ago.").wait_for()
    expect(phone.button("Get ready now")).to_be_enabled()


def test_a_copy_that_two_phones_send_arrives_once_and_what_was_added_later_too(phones, field_demo, tmp_path):
    one = phones.start(accept_downloads=True)
    one.open("trips")
    go_offline(one.page.context)
    one.begin_trip()
    one.open_haul()
    one.find("pala se", SHRIMP, "released")
    one.sees("released", SHRIMP, "1")
    haul = haul_of(one)
    one.touch(one.page.locator("a.unsent"))
    with one.page.expect_download() as saving:
        one.touch(one.button("Save a copy to a file"))
    file = tmp_path / saving.value.suggested_filename
    saving.value.save_as(file)
    one.page.get_by_text(f"Saved as {file.name}. It holds names and places").wait_for()
    # Work goes on behind the copy.
    one.open(f"haul/{haul}")
    one.count("released", SHRIMP)
    one.sees("released", SHRIMP, "2")

    other = phones.start("another", new=True)
    other.enrol(field_demo.code_for_the_collector())
    other.open("unsent")
    other.page.locator("input[type=file]").set_input_files(file)
    other.page.get_by_text("records came from the copy").wait_for()
    other.wait_until_all_is_sent()
    assert lines_of(field_demo, haul) == {(SHRIMP, "released"): 1}
    back_in_signal(one)
    one.wait_until_all_is_sent()
    assert lines_of(field_demo, haul) == {(SHRIMP, "released"): 2}
    trip = next(told["parent"] for told in field_demo.pulled() if told["id"] == haul)
    assert [told["id"] for told in field_demo.pulled() if told["parent"] == trip] == [haul]
    # Taken once more, long after: it is already there, and nothing goes back to what it was.
    other.page.locator("input[type=file]").set_input_files(file)
    other.page.get_by_text("records came from the copy").wait_for()
    other.wait_until_all_is_sent()
    assert lines_of(field_demo, haul) == {(SHRIMP, "released"): 2}
    with field_demo.signed_in("curator") as desk:
        lines = {told["id"] for told in field_demo.pulled() if told["parent"] == haul}
        assert lines.isdisjoint(told["record"] for told in desk.get("/api/conflicts").json())


def test_what_was_refused_is_told_mended_or_thrown_away(phones, field_demo):
    phone = phones.start()
    phone.begin_trip()
    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    haul = haul_of(phone)
    phone.close_haul()
    phone.touch(phone.button("Close the trip"))
    phone.touch(phone.button("Close the trip now"))
    phone.page.get_by_role("heading", name="Trips").wait_for()
    phone.wait_until_all_is_sent()

    # In a closed trip the reason is asked once, and goes with each touch and with its taking back.
    phone.open(f"haul/{haul}")
    phone.page.get_by_text("This trip is closed. A change needs a reason; you are asked once.").wait_for()
    phone.count("released", SHRIMP)
    sheet = phone.page.get_by_role("dialog", name="This trip is closed")
    expect(sheet.get_by_label("Why is it changed?")).to_be_focused()
    phone.touch(sheet.get_by_role("button", name="Leave it"))
    phone.sees("released", SHRIMP, "1")
    phone.count("released", SHRIMP)
    phone.give_the_reason("Two more in the seam of the net")
    phone.sees("released", SHRIMP, "2")
    phone.count("released", SHRIMP, 2)
    phone.sees("released", SHRIMP, "4")
    phone.wait_until_all_is_sent()
    phone.touch(phone.undo(f"1 released {SHRIMP}"))
    phone.sees("released", SHRIMP, "3")
    phone.wait_until_all_is_sent()
    assert lines_of(field_demo, haul) == {(SHRIMP, "released"): 3}
    lines = {told["id"] for told in field_demo.pulled() if told["parent"] == haul}
    assert field_demo.reasons_of(lines) == {"Two more in the seam of the net"}
    # Once left, it is asked anew.
    phone.open("trips")
    phone.open(f"haul/{haul}")
    phone.page.get_by_text("This trip is closed. A change needs a reason; you are asked once.").wait_for()

    # What was refused for want of a reason gets it where it is told, and goes again.
    phone.count_without_a_reason("released", SHRIMP)
    refused = phone.page.locator("a.unsent", has_text="1 refused")
    phone.touch(refused)
    told = phone.page.get_by_role("listitem").filter(has_text=f"{SHRIMP}, 4 released")
    expect(told).to_contain_text("The trip is closed; a change needs its reason.")
    expect(told).to_contain_text("Say why it is changed.")
    phone.touch(told.get_by_role("button", name="Open and mend"))
    phone.give_the_reason("Counted anew at the jetty")
    phone.wait_until_all_is_sent()
    assert lines_of(field_demo, haul) == {(SHRIMP, "released"): 4}
    # Likewise in the haul itself.
    phone.open(f"haul/{haul}")
    phone.count_without_a_reason("released", SHRIMP)
    phone.page.reload()
    phone.page.get_by_text("A change was refused for want of a reason.").wait_for()
    phone.touch(phone.button("Give the reason and send again"))
    phone.give_the_reason("One more in the bucket")
    phone.wait_until_all_is_sent()
    assert lines_of(field_demo, haul) == {(SHRIMP, "released"): 5}
    assert field_demo.reasons_of(lines) == {
        "Two more in the seam of the net",
        "Counted anew at the jetty",
        "One more in the bucket",
    }

    # Thrown away after one question; the version that stands comes back.
    phone.open(f"haul/{haul}")
    phone.count_without_a_reason("released", SHRIMP)
    phone.touch(refused)
    phone.touch(phone.button("Throw away"))
    expect(phone.page.get_by_role("button", name="Open and mend")).to_have_count(1)
    phone.touch(phone.button("Throw this away for good"))
    phone.page.get_by_text("Nothing is only on this phone.").wait_for()
    get_ready(phone)
    phone.open(f"haul/{haul}")
    phone.sees("released", SHRIMP, "5")
    assert lines_of(field_demo, haul) == {(SHRIMP, "released"): 5}
