"""The desk in a real browser: a curator decides, an administrator follows a figure, files, and enrols a phone."""

from __future__ import annotations

import hashlib
import json
import re
from fractions import Fraction

import httpx2
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from api.operations.demonstration import ACCOUNTS
from api.operations.verifying import verify
from tests.journeys.conftest import watched_page
from tests.journeys.creek_day import PHONE, CreekDay
from tests.photographs import camera_jpeg
from tests.printed import text_of

pytestmark = pytest.mark.slow

SCREENS = {
    "gate": "The gate",
    "balance": "Balance",
    "trips": "Trips",
    "versions": "Two versions",
    "people": "People and phones",
    "report": "Report",
}
PHOTOGRAPHED = (("trip", "trip"), ("haul", "seined"), ("line", "released"))
DESK = {"viewport": {"width": 1200, "height": 900}, "accept_downloads": True}


def credentials(role):
    account = next(one for one in ACCOUNTS if one.role == role)
    return {"login": account.login, "password": account.password}


def name_of(role):
    return {"curator": "Tamsin Oyelaran", "administrator": "Rosalind Achterberg", "inspector": "Odile Marchetti"}[role]


def signed_in(page, address, role, path="", wait=""):
    """Sign in without the page, and open the desk on a screen."""
    answer = page.context.request.post(f"{address}/api/sessions", data=credentials(role))
    assert answer.status == 201, answer.text()
    opened(page, address, path, wait)


def opened(page, address, path, wait=""):
    page.goto(f"{address}/app/desk/{path}")
    page.get_by_role("banner").wait_for()
    here(page, wait or SCREENS[path.partition("?")[0]])


def here(page, heading):
    """Wait until a screen stands with what it shows."""
    page.get_by_role("heading", level=1, name=heading).wait_for()
    page.get_by_text("Loading ").first.wait_for(state="hidden")


def asked(page, address, path):
    answer = page.context.request.get(f"{address}/api{path}")
    assert answer.ok, answer.text()
    return answer.json()


def waiting_lots(page, address, **wanted):
    lots = asked(page, address, "/acquisitions?state=waiting&limit=200")["lots"]
    return [one for one in lots if all(one[name] == value for name, value in wanted.items())]


def lot_named(page, line):
    return page.get_by_role("article", name=f"Lot {line}", exact=True)


def open_lot(page, address, lot):
    opened(page, address, f"gate?lot={lot['id']}")
    card = lot_named(page, lot["line"])
    card.get_by_role("group", name=f"Decision on {lot['line']}").wait_for()
    return card


def lot_now(page, address, lot):
    every = asked(page, address, f"/acquisitions?trip={lot['trip']}&limit=200")["lots"]
    return next(one for one in every if one["id"] == lot["id"])


def no_fault_found(page):
    # Beyond what axe asks by itself: letters stand out from their ground by 7:1 (WCAG 2.2, 1.4.6).
    found = Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    assert found.violations_count == 0, found.generate_report()


def refused_page(browser):
    """Give a page that is refused something: a browser writes every such answer into its console."""
    return watched_page(browser, ("Failed to load resource",), **DESK)


# --- who


def test_signing_in_tells_a_wrong_password_and_signing_out_leaves_nothing(browser, changing_demo):
    with refused_page(browser) as page:
        page.goto(f"{changing_demo}/app/desk")
        page.get_by_label("Login").fill("demo-curator")
        page.get_by_label("Password").fill("not the password")
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("alert")).to_contain_text("password")
        assert page.get_by_label("Login").input_value() == "demo-curator"
        page.get_by_label("Password").fill(credentials("curator")["password"])
        page.get_by_role("button", name="Sign in").click()
        here(page, "The gate")
        assert page.evaluate("document.activeElement.textContent") == "The gate"
        assert name_of("curator") in page.get_by_role("banner").inner_text()
        no_fault_found(page)
        page.get_by_role("button", name="Sign out").click()
        page.get_by_role("heading", name="Creekledger desk").wait_for()
        assert page.get_by_role("navigation").count() == 0
        page.goto(f"{changing_demo}/app/desk/people")
        page.get_by_label("Login").wait_for()
        no_fault_found(page)


def test_the_inspector_reads_everything_and_is_offered_nothing_to_do(page, changing_demo):
    signed_in(page, changing_demo, "inspector", "balance")
    lot = waiting_lots(page, changing_demo)[0]
    opened(page, changing_demo, f"gate?lot={lot['id']}")
    lot_named(page, lot["line"]).get_by_text("A curator decides on lots").wait_for()
    assert page.get_by_role("group", name="Decision on").count() == 0
    opened(page, changing_demo, "people")
    assert page.get_by_role("heading", name="Enrol a phone").count() == 0
    assert page.get_by_role("button", name="Revoke").count() == 0
    opened(page, changing_demo, "report")
    page.get_by_text("An administrator files reports").wait_for()
    assert page.get_by_role("button", name="File the report").count() == 0
    assert page.get_by_role("link", name="Download the draft (PDF)").is_visible()


def test_a_collector_is_not_offered_to_decide_or_file_but_may_enrol_their_own_phone(page, changing_demo):
    signed_in(page, changing_demo, "collector", "people")
    page.get_by_text("For yourself, Ines Calloway").wait_for()
    assert page.get_by_label("For whom").count() == 0
    opened(page, changing_demo, "report")
    assert page.get_by_role("button", name="File the report").count() == 0


# --- the gate


def test_a_curator_accepts_one_lot_and_declines_another(page, changing_demo):
    signed_in(page, changing_demo, "curator", "gate")
    first, second = waiting_lots(page, changing_demo, unit="individuals")[:2]

    card = open_lot(page, changing_demo, first)
    there = str(first["on_hand"]["best"])
    card.get_by_role("radio", name="Accept").check()
    card.get_by_label("Counted at the door").fill(there)
    card.get_by_role("button", name="Accept the lot").click()
    expect(page.get_by_role("status").filter(has_text=f"Lot {first['line']}")).to_contain_text("accepted as 2028-")
    now = lot_now(page, changing_demo, first)
    assert (now["state"], str(now["door_count"])) == ("accepted", there)
    assert f"Accepted as {now['accession']}" in card.inner_text()
    assert name_of("curator") in card.inner_text()

    card = open_lot(page, changing_demo, second)
    card.get_by_role("radio", name="Decline").check()
    card.get_by_role("button", name="Decline the lot").click()
    expect(card.get_by_role("alert")).to_contain_text("Say why the lot is declined.")
    card.get_by_label("Reason").fill("fin rot on arrival")
    card.get_by_role("button", name="Decline the lot").click()
    expect(card.get_by_role("alert")).to_contain_text("Say where the declined lot goes.")
    assert lot_now(page, changing_demo, second)["state"] == "waiting"
    assert [one.inner_text() for one in card.get_by_label("Where it goes").get_by_role("option").all()] == [
        "Choose", "Held apart", "Transferred", "Veterinarian's matter",
    ]  # fmt: skip
    card.get_by_label("Where it goes").select_option("veterinarian's matter")
    card.get_by_role("button", name="Decline the lot").click()
    expect(page.get_by_role("status").filter(has_text=f"Lot {second['line']}")).to_contain_text("declined")
    now = lot_now(page, changing_demo, second)
    assert (now["state"], now["reason"], now["onward"]) == ("declined", "fin rot on arrival", "veterinarian's matter")
    page.get_by_role("group", name="Lots that are").get_by_role("radio", name="Declined").check(force=True)
    expect(lot_named(page, second["line"])).to_be_visible()
    expect(lot_named(page, first["line"])).to_have_count(0)


def test_one_decision_is_made_by_keyboard_alone(page, changing_demo):
    signed_in(page, changing_demo, "curator", "gate")
    lot = waiting_lots(page, changing_demo, unit="individuals")[0]
    seen = []
    for _ in range(40):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.closest('article')?.getAttribute('aria-label') ?? ''"))
        if seen[-1]:
            break
    assert seen[-1] == f"Lot {lot['line']}", seen
    page.keyboard.press("Enter")
    card = lot_named(page, lot["line"])
    card.get_by_role("group", name=f"Decision on {lot['line']}").wait_for()
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.type") == "radio":
            break
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.value") == "hold"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "TEXTAREA"
    page.keyboard.type("second look tomorrow")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").filter(has_text=f"Lot {lot['line']}")).to_contain_text("put on hold")
    assert lot_now(page, changing_demo, lot)["state"] == "on hold"
    # The focus stands where the decision was made, not at the top of the page.
    assert page.evaluate("document.activeElement.closest('article').getAttribute('aria-label')") == f"Lot {lot['line']}"


def test_what_a_server_refuses_is_told_beside_the_lot_and_nothing_typed_is_lost(browser, changing_demo):
    with refused_page(browser) as page:
        signed_in(page, changing_demo, "curator", "gate")
        lot = waiting_lots(page, changing_demo, unit="individuals")[0]
        card = open_lot(page, changing_demo, lot)
        card.get_by_role("radio", name="Accept").check()
        card.get_by_label("Reason").fill("counted twice, by two people")
        # Somebody else decides meanwhile.
        page.context.request.post(
            f"{changing_demo}/api/acquisitions/{lot['id']}/hold",
            data={"expected_version": lot["version"], "reason": "in the other window"},
        )
        card.get_by_role("button", name="Accept the lot").click()
        expect(card.get_by_role("alert")).to_contain_text("has decided on this lot meanwhile")
        assert card.get_by_label("Reason").input_value() == "counted twice, by two people"
        # Closing the lot and coming back loses nothing either.
        card.locator("button.opens").first.click()
        card.locator("button.opens").first.click()
        assert card.get_by_label("Reason").input_value() == "counted twice, by two people"
        card.get_by_role("button", name="Accept the lot").click()
        # A look that fails can be tried again.
        again = card.get_by_role("button", name="Look at it again")
        page.route(re.compile("/api/acquisitions"), lambda route: route.abort())
        again.click()
        expect(card.get_by_role("alert")).to_contain_text("The server was not reached.")
        page.unroute(re.compile("/api/acquisitions"))
        again.click()
        card.get_by_text("in the other window").wait_for()
        expect(again).to_have_count(0)
        card.get_by_role("button", name="Accept the lot").click()
        expect(page.get_by_role("status").filter(has_text=f"Lot {lot['line']}")).to_contain_text("accepted as 2028-")


def test_a_session_that_ends_asks_to_sign_in_again_over_what_is_typed(browser, changing_demo):
    with refused_page(browser) as page:
        signed_in(page, changing_demo, "curator", "gate")
        lot = waiting_lots(page, changing_demo, unit="individuals")[0]
        card = open_lot(page, changing_demo, lot)
        card.get_by_role("radio", name="Put on hold").check()
        card.get_by_label("Reason").fill("waits for the veterinarian")
        page.context.clear_cookies()
        card.get_by_role("button", name="Put the lot on hold").click()
        dialog = page.get_by_role("dialog", name="Sign in again")
        dialog.get_by_label("Password").fill(credentials("curator")["password"])
        dialog.get_by_role("button", name="Sign in").click()
        dialog.wait_for(state="hidden")
        assert card.get_by_label("Reason").input_value() == "waits for the veterinarian"
        card.get_by_role("button", name="Put the lot on hold").click()
        expect(page.get_by_role("status").filter(has_text=f"Lot {lot['line']}")).to_contain_text("put on hold")


def test_a_lot_shows_its_findings_with_the_clause_as_issued_and_its_photos(page, changing_demo):
    signed_in(page, changing_demo, "curator", "gate")
    lot = next(
        one
        for one in waiting_lots(page, changing_demo)
        if one["line"] == "K27-05-2-b"  # four fry named to the family only: the sample's story, 7
    )
    with httpx2.Client(base_url=changing_demo) as collector:
        collector.post("/api/sessions", json=credentials("collector"))
        picture = camera_jpeg(seed=3)
        mark = hashlib.sha256(picture).hexdigest()
        told = {
            "sha256": mark,
            "size": len(picture),
            "media_type": "image/jpeg",
            "of_kind": "line",
            "of_record": lot["line"],
        }
        assert collector.post("/api/photos", json=told).status_code == 200
        part = {"Content-Type": "application/octet-stream"}
        sent = collector.patch(f"/api/photos/{mark}?offset=0", content=picture, headers=part)
        assert sent.json()["whole"] is True
    card = open_lot(page, changing_demo, lot)
    photo = card.get_by_role("img", name="Photo of line K27-05-2-b")
    photo.scroll_into_view_if_needed()
    page.wait_for_function("mark => document.querySelector(`img[src*='${mark}']`)?.naturalWidth > 0", arg=mark)
    permit = json.loads(page.context.request.get(f"{changing_demo}/api/sync/pull?limit=1000").text())
    terms = next(one["record"] for one in permit["changes"] if one["id"] == "kelloran-permit")
    clause = next(one["text"] for one in terms["conditions"] if one["number"] == "2.5")
    open_findings = [one for one in lot["findings"] if one["outcome"] == "open"]
    assert open_findings
    for one in open_findings:
        assert one["sentence"] in card.inner_text()
    assert clause in card.locator("blockquote").first.inner_text()
    assert "4" in card.inner_text()
    assert "Gobiidae" in card.inner_text()
    # A family stands upright, a species in italics.
    assert card.locator("h3 i").count() == 0


def all_shown(page):
    """Open the list of lots to its end; gives their lines in order."""
    for _ in range(20):
        page.get_by_text("Looking …").first.wait_for(state="hidden")
        more = page.get_by_role("button", name="Show more lots")
        if not more.is_visible():
            break
        more.click()
    return [one.get_attribute("aria-label").removeprefix("Lot ") for one in page.get_by_role("article").all()]


def is_grave(findings):
    return any(one["outcome"] in ("broken", "open") for one in findings)


def test_only_lots_with_something_broken_or_open_are_shown_when_asked(page, changing_demo):
    signed_in(page, changing_demo, "curator", "gate")
    page.get_by_label("Only with something broken or open").check()
    waiting = waiting_lots(page, changing_demo)
    grave = [one["line"] for one in waiting if is_grave([*one["findings"], *one["of_haul"]])]
    expect(page.get_by_role("article")).to_have_count(min(len(grave), 40))
    assert all_shown(page) == grave
    assert 5 < len(grave) < len(waiting)


def test_what_is_open_of_the_haul_or_the_trip_of_a_lot_is_told_apart(page, changing_demo):
    signed_in(page, changing_demo, "curator", "gate")
    # The sample's story, 3: the traps of K27-09-1 stood 68 hours; nothing is wrong with its lots themselves.
    lot = next(
        one for one in waiting_lots(page, changing_demo) if one["haul"] == "K27-09-1" and not is_grave(one["findings"])
    )
    card = open_lot(page, changing_demo, lot)
    assert "its haul broken" in card.locator("h3").inner_text()
    assert "Nothing broken or open of this lot." in card.inner_text()
    assert "Broken or open: of its haul K27-09-1" in card.inner_text()
    for one in lot["of_haul"]:
        assert (one["outcome"] == "broken") == (one["number"] == "4.1")
        assert (one["sentence"] in card.inner_text()) == (one["outcome"] in ("broken", "open"))


def test_the_newest_trip_is_found_by_the_order_and_lots_come_page_by_page(page, changing_demo):
    signed_in(page, changing_demo, "curator", "gate")
    waiting = waiting_lots(page, changing_demo)
    assert len(waiting) > 40
    order = page.get_by_role("group", name="Trips in the order")
    assert order.get_by_role("radio", name="Longest waiting first").is_checked()
    assert page.get_by_role("article").count() == 40
    assert all_shown(page) == [one["line"] for one in waiting]
    order.get_by_role("radio", name="Newest first").check(force=True)
    newest = waiting[-1]["trip"]
    first = page.get_by_role("heading", level=2).first
    expect(first).to_contain_text(f"Trip {newest}")
    own = sum(one["trip"] == newest for one in waiting)
    assert f"{own} lot" in first.inner_text()


def test_what_died_on_the_way_is_entered_with_the_decision(browser, changing_demo):
    with refused_page(browser) as page:
        signed_in(page, changing_demo, "curator", "gate")
        lot = next(
            one
            for one in waiting_lots(page, changing_demo, unit="individuals")
            if one["on_hand"]["low"] == one["on_hand"]["high"] > 3
        )
        there = lot["on_hand"]["best"]
        card = open_lot(page, changing_demo, lot)
        card.get_by_role("radio", name="Accept").check()
        card.get_by_label("Died on the way").fill(str(there + 1))
        card.get_by_role("button", name="Accept the lot").click()
        expect(card.get_by_role("alert")).to_contain_text("cannot have died where")
        card.get_by_label("Died on the way").fill("2")
        card.get_by_label("Counted at the door").fill(str(there - 2))
        expect(card).to_contain_text(f"so {there - 2} beside the dead")
        card.get_by_role("button", name="Accept the lot").click()
        expect(page.get_by_role("status").filter(has_text=f"Lot {lot['line']}")).to_contain_text("accepted as 2028-")
        now = lot_now(page, changing_demo, lot)
        assert (now["field_count"], now["on_hand"]["best"]) == (lot["field_count"], there - 2)
        opened(page, changing_demo, f"gate?lot={lot['id']}")
        expect(lot_named(page, lot["line"])).to_contain_text("2 died, 14 Jul 2028")


# --- the balance


def figure(value):
    """Write an amount as people read it, by Python's own fractions."""
    if value == "unknown":
        return "unknown"
    exact = Fraction(value)
    return str(exact.numerator) if exact.denominator == 1 else f"{float(exact):.2f}".rstrip("0")


def range_of(count, unit):
    mark = "" if unit == "individuals" else f" {unit}"
    if count["low"] == count["high"]:
        return f"{figure(count['low'])}{mark}"
    return f"{figure(count['low'])}–{figure(count['high'])}{mark}"  # noqa: RUF001 - as ranges are set


def plain(text):
    """Give a text with plain spaces where those stand that do not break."""
    return text.replace("\N{NO-BREAK SPACE}", " ").strip()


@pytest.mark.parametrize("authority", ["kelloran-permit", "recreational-licence"])
def test_the_figures_of_every_limit_are_those_of_the_balance(page, changing_demo, authority):
    signed_in(page, changing_demo, "administrator", f"balance?authority={authority}")
    told = asked(page, changing_demo, f"/authorities/{authority}/balance")
    bodies = page.get_by_role("region", name="Limits on what is taken").locator("tbody")
    assert bodies.count() == len(told)
    for place, limit in enumerate(told):
        body = bodies.nth(place)
        cells = {
            one.get_attribute("data-label"): plain(one.inner_text()) for one in body.locator("td[data-label]").all()
        }
        assert body.locator("th").inner_text().startswith(f"{limit['number']} ")
        assert cells["Standing"] == limit["outcome"]
        assert (cells["Pending"], cells["Allotted"]) == ("none", "none")
        # The row shows the tally that the report shows, whole, with the report's per cents.
        shown = limit["tallies"][limit["fullest"][0]]
        tally = shown["tally"]
        allowed = range_of(dict.fromkeys(("low", "high"), tally["limit"]), tally["unit"])
        assert cells["Limit"] == ("under " if tally["operator"] == "fewer than" else "") + allowed
        assert cells["Taken"] == range_of(tally["after"], tally["unit"])
        assert cells["Left"] == range_of(tally["left"], tally["unit"])
        low, high = tally["used_low"], tally["used_high"]
        assert cells["How full"].startswith(f"{low} % full" if low == high else f"{low}–{high} % full")  # noqa: RUF001
        assert shown["about"][1:] in body.locator("tr.figures td").first.inner_text()


def test_the_balance_and_the_report_show_the_same_period_of_a_limit(page, changing_demo):
    # In the sample season 2.4 is fullest in the week up to 18 November, 62 of 150, though an amendment began in December.
    signed_in(page, changing_demo, "inspector", "balance?authority=kelloran-permit&condition=2.4")
    limits = page.get_by_role("region", name="Limits on what is taken")
    row = limits.locator("tbody.open")
    first = row.locator("tr.figures td").first.inner_text()
    assert first.startswith("7 days up to 18 Nov 2027 (by the words before an amendment); 14 more tallies")
    assert "41 % full" in row.locator("tr.figures").inner_text()
    # Days stand as days: of one set of words the 8 September before the 2 October.
    told = [one.inner_text() for one in row.locator(".tally strong").all()]
    assert told[:2] == ["7 days up to 11 Jan 2028", "7 days up to 10 Feb 2028"]
    limits.get_by_role("button", name="2.12").click()
    assert "Ines Calloway: day 2 Oct 2027" in limits.locator("tbody.open tr.figures td").first.inner_text()
    draft = page.context.request.get(f"{changing_demo}/api/authorities/kelloran-permit/report.pdf")
    text = text_of(draft.body())
    assert "7 days up to 18 Nov 2027" in text
    assert "Ines Calloway: day 2 Oct 2027" in text


def test_of_an_untouched_permit_every_limit_is_whole_and_what_trips_were_given_stands_beside(page, changing_demo):
    signed_in(page, changing_demo, "administrator", "balance?authority=kelloran-permit-28")
    bodies = page.get_by_role("region", name="Limits on what is taken").locator("tbody")
    given = {
        one["number"]: one["amount"]
        for one in asked(page, changing_demo, "/allotments?state=open")
        if one["authority"] == "kelloran-permit-28"
    }
    assert given == {"2.1": 12, "2.6": 2, "2.7": 6}  # as the sample's story tells
    found = {}
    for body in bodies.all():
        cells = {one.get_attribute("data-label"): one.inner_text() for one in body.locator("td[data-label]").all()}
        number = body.locator("th").inner_text().split()[0]
        found[number] = cells["Allotted"]
        assert cells["Taken"] == "0"
        # Of the quota that all holders share nobody knows what is left before a total is published.
        assert cells["Left"] == ("unknown" if number == "2.17" else "whole")
    assert {number: float(words) for number, words in found.items() if words != "none"} == given
    opened(page, changing_demo, "trips?trip=K28-10")
    told = page.get_by_role("region", name="Allotted to this trip").inner_text()
    for number, amount in given.items():
        assert f"{amount:g} of condition {number}" in told
    assert told.count("0 used") == len(given)


def test_a_figure_opens_down_to_the_catch_lines_that_make_it(page, changing_demo):
    signed_in(page, changing_demo, "administrator", "balance?authority=kelloran-permit")
    limits = page.get_by_role("region", name="Limits on what is taken")
    limits.get_by_role("button", name="2.3 Silversides").click()
    # The sample's story: 62 silversides on 18 November, where 60 a day are allowed.
    told = asked(page, changing_demo, "/authorities/kelloran-permit/balance")
    broken = next(
        one for one in next(one for one in told if one["number"] == "2.3")["tallies"] if one["outcome"] == "broken"
    )
    assert (
        "Silversides (family Atherinidae) of every kind: not more than 60 in one day"
        in limits.locator("blockquote").inner_text()
    )
    tally = limits.get_by_role("listitem").filter(has_text="Day 18 Nov 2027").first
    tally.get_by_role("button", name="behind this figure").click()
    lines = {
        one.get_attribute("data-line"): int(one.locator(".figure").inner_text())
        for one in tally.locator("[data-line]").all()
    }
    assert sorted(lines) == sorted(broken["records"])
    assert sum(lines.values()) == broken["tally"]["after"]["best"] == 62
    assert "Trip K27-10" in tally.inner_text()
    tally.get_by_role("link", name="Trip K27-10").click()
    here(page, "Trips")
    page.get_by_role("heading", name="Trip K27-10").wait_for()


@pytest.mark.parametrize("outcome", ["broken", "open", "met", "not used"])
def test_conditions_are_narrowed_by_outcome(page, changing_demo, outcome):
    signed_in(page, changing_demo, "administrator", "balance?authority=kelloran-permit")
    chips = page.get_by_role("group", name="Conditions that are")
    chips.get_by_role("radio", name=outcome.capitalize()).check(force=True)
    # The answers expected for every condition stand in the sample's story.
    expected = {
        "broken": {"2.3", "3.4", "4.1", "5.1", "5.4"},
        "open": {"2.5", "3.1", "4.2", "4.3", "4.8", "6.1", "6.3", "6.6"},
        "not used": {"3.9", "6.4"},
    }
    shown = {one.inner_text().split()[0] for one in page.locator("main tbody th button").all()}
    if outcome == "met":
        assert shown.isdisjoint(set.union(*expected.values()))
        assert {"Term", "2.1", "6.7"} <= shown
    else:
        assert shown == expected[outcome]


# --- trips


def test_the_map_shows_every_haul_and_a_trip_is_chosen_by_keyboard(page, changing_demo):
    signed_in(page, changing_demo, "inspector", "trips")
    page.locator(".map-spot").first.wait_for()
    pulled = asked(page, changing_demo, "/sync/pull?limit=1000")["changes"]
    fixes = {one["code"]: len(one["record"].get("fixes", [])) for one in pulled if one["kind"] == "haul"}
    assert page.locator(".map-spot").count() == sum(fixes.values()) > 70
    assert page.locator(".map-spot.map-square").count() == 3  # sets of traps: K27-03, K27-09, K28-07
    assert page.locator(".map-chosen").count() == 0
    # Areas as the permit's conditions make them, and the shore.
    areas = {one["id"]: one["kind"] for one in next(one for one in pulled if one["kind"] == "areas")["record"]["areas"]}
    assert page.locator("path.map-land").count() == list(areas.values()).count("shoreline")
    assert page.locator("path.map-permitted").count() >= 4
    assert page.locator("path.map-closed").count() == 2
    assert page.locator(".leaflet-control-scale-line").inner_text().endswith("m")
    legend = page.get_by_role("list", name="What the map shows").inner_text()
    for words in ("Permitted area", "Closed area", "Haul", "Set, as a trap", "Circle within which it lies (95 %)"):
        assert words in legend
    row = page.get_by_role("button", name="K28-06")
    row.focus()
    page.keyboard.press("Enter")
    assert row.get_attribute("aria-pressed") == "true"
    page.get_by_role("heading", name="Trip K28-06").wait_for()
    own = sum(number for code, number in fixes.items() if code.startswith("K28-06-"))
    expect(page.locator(".map-spot.map-chosen")).to_have_count(own)
    expect(page.locator("path.map-doubt.map-chosen")).to_have_count(own)
    # The sample's story, 6: the fix of K28-06-1 lies 6 m outside the eelgrass closure, good to 12 m.
    page.get_by_text("6 m outside the edge of Tiller Bay eelgrass closure").wait_for()
    page.get_by_role("button", name="Show everything").click()
    expect(page.locator(".map-chosen")).to_have_count(0)


def test_a_haul_on_the_map_chooses_its_trip(page, changing_demo):
    signed_in(page, changing_demo, "inspector", "trips?trip=K28-01")
    page.locator(".map-spot.map-chosen").first.wait_for()
    page.get_by_role("button", name="Show everything").click()
    expect(page.locator(".map-chosen")).to_have_count(0)
    # Trip K27-09 alone worked where its trap stood; the trap is a square.
    page.locator(".map-spot.map-square").first.dispatch_event("click")
    page.get_by_role("heading", level=2, name="Trip K2").wait_for()
    assert page.locator(".map-spot.map-chosen.map-square").count() == 1


def test_the_map_comes_in_a_file_of_its_own(page, changing_demo):
    asked_for = []
    page.on("request", lambda request: asked_for.append(request.url))
    signed_in(page, changing_demo, "inspector", "balance")
    assert not any("drawing" in one for one in asked_for)
    page.get_by_role("link", name="Trips").click()
    page.locator(".map-spot").first.wait_for()
    assert any("/assets/drawing-" in one and one.endswith(".js") for one in asked_for)
    assert {one.split("/")[2] for one in asked_for if one.startswith("http")} == {changing_demo.removeprefix("http://")}


def test_a_trip_shows_all_that_the_phone_wrote_and_what_is_still_out_or_lost(page, changing_demo):
    with CreekDay(changing_demo) as day:
        marks = [day.photograph(kind, name, seed) for seed, (kind, name) in enumerate(PHOTOGRAPHED, 20)]
    signed_in(page, changing_demo, "inspector", f"trips?trip={day.codes['trip']}")
    card = page.get_by_role("region", name=f"Trip {day.codes['trip']}")
    assert "Wind from the west." in card.inner_text()
    out, lost, seined = (card.locator(f"details[data-haul='{day.codes[name]}']") for name in ("out", "lost", "seined"))
    assert "Still out since 14 Jul 2028 08:50, last looked in 14 Jul 2028 08:59" in out.locator("summary").inner_text()
    assert "Lost, no report of it is in the record" in lost.locator("summary").inner_text()
    assert "3 lines; 2 photos" in seined.locator("summary").inner_text()
    for haul, said in (
        (out, ("number 3", "opening 60 mm", "tag KA-7", "has not been lifted")),
        (lost, ("is not known",)),
    ):
        haul.locator("summary").click()
        for words in said:
            assert words in haul.inner_text()
        assert "Nothing caught" not in haul.inner_text()
    seined.locator("summary").click()
    told = seined.inner_text()
    for words in (
        "Net snagged once on an oyster stake.", "salinity 27.5 psu", "length 12 m", "mesh 6 mm",
        "One with a scar.", "total length 236.0 mm, 210.0 mm, 63.5 mm", "by eye", "juvenile", "female",
        f"Entered by Ines Calloway on {PHONE}, 14 Jul 2028 08:45 by the phone, received 14 Jul 2028",
    ):  # fmt: skip
        assert words in told, words
    # Photos of the trip, the haul and the released animals, small with words, each opening larger.
    for mark, (kind, name) in zip(marks, PHOTOGRAPHED, strict=True):
        small = card.get_by_role("button", name=f"Photo of {kind} {day.codes[name]}, 14 Jul 2028 08:45")
        small.scroll_into_view_if_needed()
        page.wait_for_function("mark => document.querySelector(`img[src*='${mark}']`)?.naturalWidth > 0", arg=mark)
    small.click()
    dialog = page.get_by_role("dialog", name=f"Photo of line {day.codes['released']}")
    dialog.get_by_role("img").wait_for()
    assert dialog.get_by_role("link").count() == 0  # the original, with its place, is the administrators'
    no_fault_found(page)
    dialog.get_by_role("button", name="Close").click()
    assert card.get_by_role("button", name="Name it").count() == 0  # an inspector changes nothing


def test_a_condition_is_stated_and_an_animal_named_at_the_desk(page, changing_demo):
    with CreekDay(changing_demo, status="closed") as day:
        code = day.codes["trip"]
    signed_in(page, changing_demo, "administrator", f"trips?trip={code}")
    card = page.get_by_role("region", name=f"Trip {code}")
    asked_of = f"No person has stated whether this was kept (trip {code})."
    assert asked_of in card.inner_text()
    card.get_by_role("button", name="State it for this trip").click()
    form = card.get_by_role("form", name="Statement on condition 6.6")
    form.get_by_role("button", name="Enter the statement").click()
    expect(form.get_by_role("alert")).to_contain_text("Choose what is stated.")
    form.get_by_role("radio", name="Kept", exact=True).check()
    form.get_by_role("button", name="Enter the statement").click()
    expect(form.get_by_role("alert")).to_contain_text("Choose whose word it is.")
    form.get_by_label("Whose word it is").select_option(label="Ines Calloway")
    form.get_by_role("button", name="Enter the statement").click()
    expect(page.get_by_role("status").filter(has_text="Condition 6.6")).to_contain_text("kept, Ines Calloway")
    expect(card.get_by_role("region", name="Statements")).to_contain_text("kept Ines Calloway")
    expect(card).not_to_contain_text(asked_of)
    found = asked(page, changing_demo, f"/findings?trip={code}&condition=6.6")["findings"]
    assert [one["outcome"] for one in found] == ["met"]

    haul = card.locator(f"details[data-haul='{day.codes['seined']}']")
    haul.locator("summary").click()
    line = haul.locator(f"[data-line='{day.codes['fry']}']")
    line.get_by_role("button", name="Name it").click()
    form = line.get_by_role("form", name=f"Name line {day.codes['fry']}")
    form.get_by_label("Find the name").fill("scary")
    form.get_by_role("radio", name="Tasmanogobius lasti").check()
    form.get_by_label("Named by").fill("Dr Oriel Vance")
    form.get_by_role("button", name="Put this name in its place").click()
    expect(form.get_by_role("alert")).to_contain_text("Say what the name rests on.")
    form.get_by_label("What it rests on").fill("grown out in tank 4, fin rays counted")
    form.get_by_role("button", name="Put this name in its place").click()
    expect(line).to_contain_text("Tasmanogobius lasti, scary goby kept")
    expect(line).to_contain_text("Taxon was Gobiidae, is Tasmanogobius lasti: Rosalind Achterberg")
    expect(line).to_contain_text("named by Dr Oriel Vance: grown out in tank 4, fin rays counted")
    expect(line).to_contain_text("Amended by Rosalind Achterberg")

    card.get_by_role("button", name="Enter a cleaning").click()
    form = card.get_by_role("form", name=f"Cleaning on {code}")
    form.get_by_label("When").fill("2028-07-14T09:40")
    form.get_by_label("How", exact=True).fill("hot water")
    form.get_by_label("Minutes").fill("20")
    form.get_by_label("Who did it").select_option(label="Mei Tanabe")
    form.get_by_label("How you know of it").fill("told by Mei Tanabe on the way home")
    form.get_by_role("button", name="Enter the cleaning").click()
    expect(card.get_by_role("region", name="Cleaning")).to_contain_text("hot water, 14 Jul 2028 09:40, Mei Tanabe")

    out = card.locator(f"details[data-haul='{day.codes['out']}']")
    out.locator("summary").click()
    out.get_by_role("button", name="Enter that it was looked into").click()
    form = out.get_by_role("form", name=f"Looked into {day.codes['out']}")
    form.get_by_label("When").fill("2028-07-14T08:10")
    form.get_by_label("How you know of it").fill("seen from the jetty")
    form.get_by_role("button", name="Enter the look").click()
    expect(form.get_by_role("alert")).to_contain_text("It was set later, 14 Jul 2028 08:50.")
    form.get_by_label("When").fill("2028-07-14T11:10")
    form.get_by_role("button", name="Enter the look").click()
    expect(out.locator("summary")).to_contain_text("last looked in 14 Jul 2028 11:10")


def test_what_holds_for_the_whole_term_is_stated_once(page, changing_demo):
    with CreekDay(changing_demo, status="closed") as day, CreekDay(changing_demo, status="closed") as other:
        codes = [day.codes["trip"], other.codes["trip"]]
    signed_in(page, changing_demo, "curator", f"trips?trip={codes[0]}")
    statements = page.get_by_role("region", name="Statements")
    expect(statements).to_contain_text("Nobody has stated it in this term.")
    statements.get_by_role("button", name=re.compile("State it for the term.*6\\.7")).click()
    form = statements.get_by_role("form", name="Statement on condition 6.7")
    expect(form).to_contain_text(f"The statement holds for the whole term and is kept with trip {codes[0]}.")
    form.get_by_role("radio", name="Not kept", exact=True).check()
    form.get_by_label("Whose word it is").select_option(label="Tamsin Oyelaran")
    form.get_by_role("button", name="Enter the statement").click()
    expect(form.get_by_role("alert")).to_be_visible()
    form.get_by_label("What it rests on").fill("two tanks had lost their labels")
    form.get_by_role("button", name="Enter the statement").click()
    expect(statements).to_contain_text("not kept: two tanks had lost their labels")
    # Another trip of the term asks no more, and the condition is broken for the term.
    opened(page, changing_demo, f"trips?trip={codes[1]}")
    expect(page.get_by_role("region", name="Statements")).to_contain_text("not kept: two tanks had lost their labels")
    found = asked(page, changing_demo, "/findings?authority=kelloran-permit-28&condition=6.7")["findings"]
    assert [one["outcome"] for one in found] == ["broken"]


def test_an_administrator_takes_the_original_of_a_photo_with_its_place(page, changing_demo):
    with CreekDay(changing_demo) as day:
        mark = day.photograph("line", "released", 31)
    signed_in(page, changing_demo, "administrator", f"trips?trip={day.codes['trip']}")
    card = page.get_by_role("region", name=f"Trip {day.codes['trip']}")
    card.locator(f"details[data-haul='{day.codes['seined']}'] summary").click()
    card.get_by_role("button", name=f"Photo of line {day.codes['released']}").click()
    dialog = page.get_by_role("dialog", name=f"Photo of line {day.codes['released']}")
    with page.expect_download() as fetched:
        dialog.get_by_role("link", name="Original, with its place").click()
    assert hashlib.sha256(fetched.value.path().read_bytes()).hexdigest() == mark


def test_a_consent_is_entered_where_it_was_missing_and_the_condition_is_met(page, changing_demo):
    # The sample's story, 8: four mussels went to Cape Lorne without a letter of consent.
    signed_in(page, changing_demo, "curator", "gate")
    (missing,) = asked(page, changing_demo, "/findings?authority=kelloran-permit&condition=6.1&outcome=open")[
        "findings"
    ]
    line = next(one for one in missing["records"] if one.startswith("K2"))
    trip = line.rsplit("-", 2)[0]
    opened(page, changing_demo, f"trips?trip={trip}")
    papers = page.get_by_role("region", name="Notices, reports and movements")
    entry = papers.get_by_role("listitem").filter(has_text="Cape Lorne")
    entry.get_by_role("button", name="Enter a consent").click()
    form = entry.get_by_role("form", name="Consent")
    form.get_by_role("button", name="Enter the consent").click()
    expect(form.get_by_role("alert")).to_contain_text("Give what the letter of consent bears")
    form.get_by_label("Reference of the consent").fill("Letter 44 of the Office")
    form.get_by_role("button", name="Enter the consent").click()
    expect(entry).to_contain_text("Consent: Letter 44 of the Office")
    told = asked(page, changing_demo, "/findings?authority=kelloran-permit&condition=6.1&outcome=open")
    assert told["total"] == 0


# --- people and phones


def test_a_phone_is_enrolled_by_the_code_shown_and_revoked(page, changing_demo):
    signed_in(page, changing_demo, "administrator", "people")
    assert page.get_by_label("For whom").input_value() == ""  # nobody is chosen beforehand
    page.get_by_role("button", name="Make a code").click()
    expect(page.get_by_role("alert")).to_contain_text("Choose for whom the phone is.")
    page.get_by_label("For whom").select_option(label="Ines Calloway")
    page.get_by_role("button", name="Make a code").click()
    picture = page.get_by_role("img", name="as a picture for the phone's camera")
    picture.wait_for()
    code = picture.get_attribute("alt").split()[2]
    assert page.get_by_text(code, exact=True).is_visible()
    assert picture.evaluate("one => one.naturalWidth") > 50
    with httpx2.Client(base_url=changing_demo) as phone:
        enrolled = phone.post("/api/devices", json={"code": code, "name": "creek phone 2"})
        assert enrolled.status_code == 201
        bearer = {"Authorization": f"Bearer {enrolled.json()['token']}"}
        assert phone.get("/api/me", headers=bearer).json()["name"] == "Ines Calloway"
        page.get_by_role("button", name="Look whether the phone is here").click()
        row = page.get_by_role("row").filter(has_text="creek phone 2")
        row.wait_for()
        assert "Ines Calloway" in row.inner_text()
        assert "never compared" in row.inner_text()
        assert "may deliver" in row.inner_text()
        row.get_by_role("button", name="Revoke creek phone 2").click()
        dialog = page.get_by_role("dialog", name="Revoke creek phone 2 of Ines Calloway?")
        assert "not yet delivered stays on the phone" in dialog.inner_text()
        no_fault_found(page)
        dialog.get_by_role("button", name="Leave it as it is").click()
        assert phone.get("/api/me", headers=bearer).status_code == 200
        row.get_by_role("button", name="Revoke creek phone 2").click()
        dialog.get_by_role("button", name="Revoke this phone").click()
        expect(page.get_by_role("status").filter(has_text="creek phone 2")).to_contain_text("is revoked")
        assert phone.get("/api/me", headers=bearer).status_code == 401
    expect(row).to_have_count(0)
    page.get_by_role("button", name="Show 1 revoked phone").click()
    assert "revoked" in page.get_by_role("row").filter(has_text="creek phone 2").inner_text()


def test_everybody_is_listed_with_what_they_are(page, changing_demo):
    signed_in(page, changing_demo, "inspector", "people")
    everybody = asked(page, changing_demo, "/people")
    table = page.get_by_role("region", name=f"{len(everybody)} people")
    rows = table.get_by_role("row").all()[1:]
    assert [one.get_by_role("rowheader").inner_text() for one in rows] == [one["name"] for one in everybody]
    fenwick = table.get_by_role("row").filter(has_text="Dougal Fenwick").inner_text()
    assert "Named under AM/CP 27-118, from 15 Dec 2027" in fenwick


# --- the report


def test_a_report_is_filed_downloaded_and_replaced(page, changing_demo, tmp_path):
    signed_in(page, changing_demo, "administrator", "report?authority=kelloran-permit")
    draft = asked(page, changing_demo, "/authorities/kelloran-permit/reports/draft")
    checks = page.get_by_role("region", name="The draft").inner_text()
    broken = sum(one["outcome"] == "broken" for one in draft["unresolved"])
    assert f"{broken} findings are broken" in checks
    assert f"{len(draft['unresolved']) - broken} findings are open" in checks
    assert "Every trip is closed" in checks
    assert "Totals tie" in checks
    for one in draft["unresolved"]:
        assert one["sentence"] in page.locator("main").inner_text()

    page.get_by_label("Title").fill("Holder of the permit")
    page.get_by_role("button", name="File the report").click()
    expect(page.get_by_role("alert")).to_contain_text("Tick the statement")
    assert asked(page, changing_demo, "/authorities/kelloran-permit/reports")["total"] == 0
    page.get_by_label("I certify that this report is true and complete").check()
    page.get_by_role("button", name="File the report").click()
    page.get_by_role("heading", name="1 filed report").wait_for(timeout=90_000)
    (filed,) = asked(page, changing_demo, "/authorities/kelloran-permit/reports")["reports"]
    assert (filed["certified_name"], filed["certified_title"]) == ("Rosalind Achterberg", "Holder of the permit")
    with page.expect_download() as coming:
        page.get_by_role("link", name="Download First report (PDF)").click()
    path = tmp_path / "filed.pdf"
    coming.value.save_as(path)
    content = path.read_bytes()
    assert hashlib.sha256(content).hexdigest() == filed["pdf_sha256"]
    assert verify(content) == []
    assert filed["pdf_sha256"] in page.get_by_role("region", name="1 filed report").locator("dd").first.text_content()

    page.get_by_label("Title").fill("Holder of the permit")
    page.get_by_label("I certify that this report is true and complete").check()
    page.get_by_role("button", name="File revision 1").click()
    page.get_by_role("heading", name="2 filed reports").wait_for(timeout=90_000)
    listed = page.get_by_role("region", name="2 filed reports")
    assert listed.get_by_role("heading", name="First report, replaced").is_visible()
    reports = asked(page, changing_demo, "/authorities/kelloran-permit/reports")["reports"]
    assert [one["revision"] for one in reports] == [1, 0]
    assert reports[0]["replaces"] == filed["id"]


# --- every screen


@pytest.mark.parametrize("width", [320, 768, 1200])
def test_screens_have_no_fault_that_a_machine_finds_and_do_not_scroll_sideways(page, changing_demo, width):
    page.set_viewport_size({"width": width, "height": 900})
    signed_in(page, changing_demo, "curator", "gate")
    lot = waiting_lots(page, changing_demo)[-1]
    page.context.request.post(f"{changing_demo}/api/sessions", data=credentials("administrator"))
    paths = [
        *SCREENS,
        f"gate?lot={lot['id']}",
        "balance?condition=2.5",
        "balance?condition=4.3&outcome=open",
        "balance?authority=kelloran-permit-28",
        "trips?trip=K28-06",
        "report?authority=recreational-licence",
    ]
    for path in paths:
        opened(page, changing_demo, path)
        if path.startswith("trips"):
            page.locator(".map-spot").first.wait_for()
        if width != 768:  # between the narrow and the wide form there is no other
            no_fault_found(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path


def test_on_a_narrow_screen_the_list_of_screens_folds_away(page, changing_demo):
    page.set_viewport_size({"width": 320, "height": 640})
    signed_in(page, changing_demo, "curator", "gate")
    screens = page.get_by_role("navigation", name="Screens")
    expect(screens).to_be_hidden()
    assert page.get_by_role("banner").bounding_box()["height"] < 90
    page.get_by_role("button", name="Menu").click()
    expect(screens).to_be_visible()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    no_fault_found(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    page.get_by_role("link", name="Trips").click()
    here(page, "Trips")
    expect(screens).to_be_hidden()


def test_on_a_narrow_screen_a_lot_is_named_in_words_whatever_is_told_beside_it(page, changing_demo):
    with CreekDay(changing_demo, status="closed") as day:
        page.set_viewport_size({"width": 320, "height": 640})
        signed_in(page, changing_demo, "curator", "gate?order=newest")
        button = lot_named(page, day.codes["kept"]).locator("button.opens")
        expect(button).to_contain_text("its trip broken")
        # Of 320 px a name of two long words needs some hundred, or it is broken letter by letter.
        assert button.locator(".what").bounding_box()["width"] > 110
        assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("screen", SCREENS)
def test_a_request_that_fails_is_told_and_can_be_tried_again(browser, changing_demo, screen):
    with refused_page(browser) as page:
        signed_in(page, changing_demo, "administrator", "people" if screen != "people" else "trips")
        page.route("**/api/sync/pull*", lambda route: route.abort())
        page.get_by_role("link", name=SCREENS[screen]).click()
        expect(page.get_by_role("alert")).to_contain_text("The server was not reached.")
        page.unroute("**/api/sync/pull*")
        page.get_by_role("button", name="Try again").click()
        expect(page.get_by_role("alert")).to_have_count(0)
        here(page, SCREENS[screen])
        assert page.locator("main .card").count() > 0


def test_going_back_shows_the_screen_before(page, changing_demo):
    signed_in(page, changing_demo, "inspector", "people")
    page.get_by_role("link", name="Report").click()
    here(page, "Report")
    assert page.title() == "Report – Creekledger desk"  # noqa: RUF001 - as titles are set
    assert page.get_by_role("link", name="Report", exact=True).get_attribute("aria-current") == "page"
    page.go_back()
    here(page, "People and phones")
    assert page.url.endswith("/app/desk/people")


def test_dusk_turns_the_light_and_stays_readable(page, changing_demo):
    signed_in(page, changing_demo, "inspector", "balance")
    page.get_by_role("button", name="Dusk").click()
    assert page.evaluate("getComputedStyle(document.querySelector('main .card')).backgroundColor") == "rgb(10, 20, 19)"
    no_fault_found(page)
