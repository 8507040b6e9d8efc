"""Wrong clocks and strange zones: noticed and shown, never quietly mended, and no instant moves."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from playwright.sync_api import Locator, expect

from tests.journeys.field_phone import FieldPhone, go_offline

pytestmark = pytest.mark.slow

SHRIMP = "Palaemon serenus"
HOUR = 3600
# A phone whose clock is off by `off` milliseconds; what runs beside it, the clock of a started app, is not.
CLOCK = """
  globalThis.off = %d;
  const Right = Date;
  globalThis.Date = class extends Right {
    constructor(...given) { given.length === 0 ? super(Right.now() + globalThis.off) : super(...given); }
    static now() { return Right.now() + globalThis.off; }
  };
"""


def instant(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def server_time(demo) -> float:
    with demo.signed_in("inspector") as client:
        return instant(client.get("/api/organisation").json()["server_time"])


def warning(phone: FieldPhone, words: str) -> Locator:
    return phone.page.get_by_role("status").filter(has_text=words)


def test_a_clock_three_hours_fast_is_shown_and_times_stay_as_the_phone_showed_them(phones, field_demo):
    phone = phones.start(script=CLOCK % (3 * HOUR * 1000))
    phone.open("trips")
    expect(warning(phone, "This phone's clock is")).to_have_count(0)
    phone.begin_trip()
    phone.open_haul()
    # The first answer of the server tells it.
    warning(phone, "This phone's clock is 3 h fast against the server's. Times are kept as it shows them").wait_for()
    phone.find("pala se", SHRIMP, "released")
    phone.wait_until_all_is_sent()
    haul = phone.page.url.rpartition("/")[2]
    now = server_time(field_demo)
    stored = next(one for one in field_demo.pulled() if one["id"] == haul)
    assert instant(stored["record"]["start"]) - now == pytest.approx(3 * HOUR, abs=60)
    with field_demo.signed_in("administrator") as office:
        newest = max(office.get("/api/devices").json(), key=lambda one: one["last_seen_at"] or "")
    assert newest["clock_fast_s"] == pytest.approx(3 * HOUR, abs=5)
    # From then on each entry carries what was known of the clock beside the time that it showed.
    go_offline(phone.page.context)
    phone.count("released", SHRIMP)
    phone.sees("released", SHRIMP, "2")
    (entry,) = phone.outbox()
    clock = entry["device_clock"]
    assert instant(clock["at"]) - now == pytest.approx(3 * HOUR, abs=60)
    assert clock["ahead_s"] == pytest.approx(3 * HOUR, abs=5)
    assert instant(clock["known_at"]) == pytest.approx(now, abs=60)


def test_a_clock_that_is_set_while_the_app_is_open_is_shown_until_the_server_was_asked(phones):
    phone = phones.start(script=CLOCK % 0)
    phone.begin_trip()
    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    phone.wait_until_all_is_sent()
    go_offline(phone.page.context)
    phone.page.evaluate("off = -2 * 3600 * 1000; document.dispatchEvent(new Event('visibilitychange'))")
    jumped = warning(phone, "clock was set while the app was open; it jumped and is now 2 h slow against before")
    jumped.wait_for()
    phone.count("released", SHRIMP)
    phone.sees("released", SHRIMP, "2")
    go_offline(phone.page.context, False)
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    warning(phone, "This phone's clock is 2 h slow against the server's.").wait_for()
    expect(jumped).to_have_count(0)


def test_a_phone_set_to_another_zone_shows_the_times_of_the_place(phones, field_demo):
    phone = phones.start()
    trip = phone.begin_trip()
    phone.open_haul()
    phone.find("pala se", SHRIMP, "released")
    title = phone.page.get_by_role("heading", level=1).inner_text()
    written = phone.stored()
    phones.switch_off(phone)

    # Honolulu is a day behind Hobart for most of the day (IANA: Pacific/Honolulu -10 h, Australia/Hobart +10 h in July).
    phone = phones.start(timezone_id="Pacific/Honolulu")
    phone.open()
    phone.sees("released", SHRIMP, "1")
    assert phone.page.get_by_role("heading", level=1).inner_text() == title
    assert {one: record["content"] for one, record in phone.stored().items()} == {
        one: record["content"] for one, record in written.items()
    }
    phone.count("released", SHRIMP)
    phone.touch(phone.button("Nothing caught").or_(phone.page.locator("footer").get_by_role("button", name="Close")))
    phone.touch(phone.button("Close the haul"))
    phone.open_haul()
    phone.wait_until_all_is_sent()
    now = server_time(field_demo)
    local = datetime.fromtimestamp(now, UTC).astimezone(datetime.strptime("+1000", "%z").tzinfo)
    hauls = [one["record"] for one in field_demo.pulled() if one["kind"] == "haul" and one["parent"] == trip]
    assert len(hauls) == 2
    for haul in hauls:
        assert now - instant(haul["start"]) == pytest.approx(30, abs=60)
    phone.open("papers")
    day = f"{local.day} {local:%B %Y}"
    phone.page.get_by_role("heading", name=f"Taken today, {day}").wait_for()
    expect(phone.page.get_by_role("row").filter(has_text=SHRIMP)).to_have_count(1)
    expect(phone.page.get_by_text(f"the clock shows {day}, {local:%H}:")).to_have_count(1)
