"""Two versions of one record in a real browser: offered by two pushes, shown side by side, settled at the desk."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from api.exchange.protocols import NEWEST
from api.store.ids import new_id
from tests.journeys.conftest import watched_page
from tests.journeys.test_desk import asked, here, name_of, no_fault_found, opened, plain, signed_in

pytestmark = pytest.mark.slow

HEADING = "Two versions"
WIDE = {"viewport": {"width": 1200, "height": 900}}


@dataclass(frozen=True)
class Clash:
    """A record of which two versions wait: its conflict, kind and code."""

    conflict: str
    kind: str
    code: str


def pushed(phone, one: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """Amend a pulled record by the version in which it was pulled; gives the answer."""
    operation = {
        "id": new_id(),
        "kind": one["kind"],
        "record": {**one["record"], "id": one["id"], **changes},
        "parent": one["parent"],
        "based_on": one["version"],
        "why": "counted again on the landing",
        "device_clock": None,
        "entered_from": "screen",
    }
    answer = phone.post("/api/sync/push", json={"protocol": NEWEST, "operations": [operation]})
    answer.raise_for_status()
    return answer.json()["answers"][0]


def clash(phone, one: dict[str, Any], first: dict[str, Any], second: dict[str, Any]) -> Clash:
    """Let two phones change one record without knowing of each other."""
    assert pushed(phone, one, **first)["answer"] == "stored"
    told = pushed(phone, one, **second)
    assert told["answer"] == "conflict", told
    return Clash(told["conflict"], one["kind"], one["code"])


@pytest.fixture(scope="module")
def clashes(own_demo) -> dict[str, Clash]:
    """Make one of a line to be taken as offered, of a haul to be kept, of a line that somebody else settles, and of one
    that two phones counted on to the same number.
    """
    records = own_demo.pulled()
    hauls = {one["id"]: one for one in records if one["kind"] == "haul"}
    lines = [
        one
        for one in records
        if one["kind"] == "line"
        and one["code"].startswith("K28-06-")
        and (one["record"]["fate"], one["record"]["unit"]) == ("kept", "individuals")
    ]
    haul = hauls[lines[0]["parent"]]
    end = datetime.fromisoformat(haul["record"]["end"]) + timedelta(minutes=1)
    with own_demo.signed_in("collector") as phone:
        return {
            "line": clash(phone, lines[0], {"count": 7}, {"count": {"low": 8, "best": 9, "high": 11}}),
            "haul": clash(phone, haul, {"note": "from the boat"}, {"note": "from the bank", "end": end.isoformat()}),
            "other": clash(phone, lines[1], {"count": 3}, {"count": 4}),
            "alike": clash(phone, lines[2], *[{"count": count_of(lines[2]) + 1}] * 2),
        }


def count_of(line: dict[str, Any]) -> int:
    count = line["record"]["count"]
    assert count["low"] == count["high"], line
    return count["best"]


def card(page, one: Clash):
    return page.get_by_role("article", name=f"{one.kind.capitalize()} {one.code}", exact=True)


def rows(shown) -> list[list[str]]:
    """Give the rows of a card: field, what stands, what the phone offered."""
    return [
        [plain(cell.inner_text()) for cell in row.locator("th, td").all()] for row in shown.locator("tbody tr").all()
    ]


def pending(page, address) -> list[str]:
    """Give the conflicts that the balance's limits name as pending."""
    told = asked(page, address, "/authorities/kelloran-permit/balance")
    return [one["conflict"] for limit in told for one in limit["pending"]]


@pytest.mark.parametrize("role", ["inspector", "collector"])
def test_who_may_not_settle_reads_both_versions_side_by_side(page, own_demo, clashes, role):
    signed_in(page, own_demo.address, role, "versions", HEADING)
    assert page.get_by_role("heading", name="4 records to settle").is_visible()
    link = page.get_by_role("navigation", name="Screens").get_by_role("link", name=HEADING)
    expect(link).to_have_text("Two versions 4 waiting")
    shown = card(page, clashes["line"])
    assert rows(shown)[0] == ["Count", "7", "8–11, best 9"]  # noqa: RUF001 - as ranges are set
    told = {name: values for name, *values in rows(card(page, clashes["haul"]))}
    assert list(told) == ["End", "Note"]
    assert told["Note"] == ["from the boat", "from the bank"]
    assert told["End"] == ["29 Mar 2028 09:43", "29 Mar 2028 09:44"]  # in the trip's zone
    assert "with the reason: counted again on the landing" in shown.inner_text()
    assert page.get_by_text("changed once more").count() == 0
    shown.get_by_text("A curator or an administrator settles").wait_for()
    assert page.get_by_role("button", name="Keep what stands").count() == 0
    assert page.locator("textarea").count() == 0


@pytest.mark.parametrize("width", [320, 1200])
def test_the_screen_has_no_fault_that_a_machine_finds(page, own_demo, clashes, width):
    page.set_viewport_size({"width": width, "height": 900})
    signed_in(page, own_demo.address, "curator", f"versions?conflict={clashes['haul'].conflict}", HEADING)
    card(page, clashes["haul"]).wait_for()
    no_fault_found(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    first, second = (card(page, clashes["line"]).locator("tbody td").nth(place).bounding_box() for place in (0, 1))
    beside = first["y"] == second["y"]
    assert beside if width == 1200 else (not beside and first["x"] == second["x"])


def test_a_curator_comes_from_the_balance_and_settles_one_each_way(page, own_demo, clashes):
    signed_in(page, own_demo.address, "curator", "balance?authority=kelloran-permit", "Balance")
    line, haul = clashes["line"], clashes["haul"]
    number = next(
        limit["number"]
        for limit in asked(page, own_demo.address, "/authorities/kelloran-permit/balance")
        if line.conflict in [one["conflict"] for one in limit["pending"]]
    )
    opened(page, own_demo.address, f"balance?authority=kelloran-permit&condition={number}", "Balance")
    page.get_by_role("link", name=f"see both versions of {line.code}").click()
    here(page, HEADING)
    shown = card(page, line)
    expect(shown.get_by_role("heading")).to_be_focused()

    shown.get_by_role("button", name="Take what the phone offered").click()
    expect(shown.get_by_role("alert")).to_contain_text("Say how you know which version is right.")
    expect(shown.get_by_label("Reason")).to_be_focused()
    shown.get_by_label("Reason").fill("the phone's crew counted in the tub")
    # Looking elsewhere loses nothing that was typed.
    page.get_by_role("link", name="Trips", exact=True).click()
    page.get_by_role("link", name=HEADING).click()
    here(page, HEADING)
    expect(shown.get_by_label("Reason")).to_have_value("the phone's crew counted in the tub")
    shown.get_by_role("button", name="Take what the phone offered").click()
    expect(page.get_by_role("status").filter(has_text=f"Line {line.code}")).to_contain_text("offered was taken")
    expect(shown).to_have_count(0)

    shown = card(page, haul)
    shown.get_by_label("Reason").fill("the boat's note was written on the spot")
    shown.get_by_role("button", name="Keep what stands").click()
    expect(page.get_by_role("status").filter(has_text=f"Haul {haul.code}")).to_contain_text("what stands was kept")
    expect(page.get_by_role("navigation", name="Screens").get_by_role("link", name=HEADING)).to_contain_text(
        "2 waiting"
    )
    page.get_by_role("button", name="Settled: 2 records").click()
    folded = card(page, line)
    assert rows(folded)[0] == ["Count", "7", "8–11, best 9"]  # noqa: RUF001 - as ranges are set
    assert f"What the phone offered was taken by {name_of('curator')}" in folded.inner_text()
    assert "Reason: the phone's crew counted in the tub" in folded.inner_text()
    no_fault_found(page)

    assert {line.conflict, haul.conflict}.isdisjoint(pending(page, own_demo.address))
    stands = {one["code"]: one["record"] for one in own_demo.pulled() if one["kind"] in ("line", "haul")}
    assert stands[line.code]["count"] == {"low": 8, "best": 9, "high": 11}
    assert stands[haul.code]["note"] == "from the boat"


def test_what_somebody_else_settled_is_told_and_what_was_typed_stays(browser, own_demo, clashes):
    other = clashes["other"]
    with watched_page(browser, ("Failed to load resource",), **WIDE) as page:
        signed_in(page, own_demo.address, "administrator", "versions", HEADING)
        shown = card(page, other)
        shown.get_by_label("Reason").fill("asked both crews")
        with own_demo.signed_in("curator") as office:
            sent = {"take": "stands", "why": "in the other window"}
            office.post(f"/api/conflicts/{other.conflict}/settlement", json=sent).raise_for_status()
        shown.get_by_role("button", name="Take what the phone offered").click()
        expect(shown.get_by_role("alert")).to_contain_text("somebody may have settled it already")
        expect(shown.get_by_label("Reason")).to_have_value("asked both crews")
        shown.get_by_role("button", name="Look again").click()
        expect(shown).to_have_count(0)
        page.get_by_role("button", name="Settled:").click()
        assert "in the other window" in shown.inner_text()
        assert set(pending(page, own_demo.address)) == {clashes["alike"].conflict}


def test_animals_of_two_phones_that_came_to_one_number_are_counted_both(page, own_demo, clashes):
    signed_in(page, own_demo.address, "curator", "versions", HEADING)
    alike = clashes["alike"]
    shown = card(page, alike)
    (stood,) = [one for one in own_demo.pulled() if one["code"] == alike.code]
    began = count_of(stood) - 1
    expect(shown).to_contain_text(f"Both began from {began}, and neither knew of the other.")
    expect(shown).to_contain_text("Both versions read alike.")
    with own_demo.signed_in("collector") as office:
        mine = office.get("/api/me").raise_for_status().json()
    expect(shown).to_contain_text(f"from {mine['name']}")
    no_fault_found(page)
    shown.get_by_label("Reason").fill("each of the two had a bucket of its own")
    shown.get_by_role("button", name=f"Count both: {began + 2}").click()
    expect(page.get_by_role("status").filter(has_text=f"Line {alike.code}")).to_contain_text(
        "both were counted together"
    )
    (stands,) = [one for one in own_demo.pulled() if one["code"] == alike.code]
    assert count_of(stands) == began + 2
