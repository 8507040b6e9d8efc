"""How quick the catch screen is on a slow phone that holds a long season, and how large the app is."""

from __future__ import annotations

import gzip
import json

import pytest

from api.routes.phone_app import BUILT
from tests.journeys.field_phone import PHONE, FieldPhone

pytestmark = pytest.mark.slow

RECORDS = 10_000
SLOWED = 4
_FILL = """async (number) => {
  const asked = indexedDB.open("creekledger");
  const db = await new Promise((resolve) => { asked.onsuccess = () => resolve(asked.result); });
  const held = await new Promise((resolve) => {
    const read = db.transaction("records").objectStore("records").getAll();
    read.onsuccess = () => resolve(read.result);
  });
  const of = (kind) => held.filter((one) => one.kind === kind);
  const trips = of("trip").filter((one) => one.content.status === "closed");
  const hauls = of("haul").filter((one) => trips.some((trip) => trip.id === one.parent));
  const lines = of("line").filter((one) => hauls.some((haul) => haul.id === one.parent));
  const writing = db.transaction("records", "readwrite");
  const records = writing.objectStore("records");
  for (let place = 0; place < number; place++) {
    const like = lines[place % lines.length];
    const haul = hauls[place % hauls.length];
    const id = `more-${place}`;
    records.put({ ...like, id, parent: haul.id, content: { ...like.content, id } });
  }
  await new Promise((resolve) => { writing.oncomplete = resolve; });
  db.close();
  return { trips: trips.length, all: held.length + number };
}"""
_WATCH = """
new MutationObserver(() => {
  if (window.usableAt === undefined && document.querySelector("button.zone") !== null) {
    requestAnimationFrame(() => { window.usableAt = performance.now(); });
  }
}).observe(document, { childList: true, subtree: true });
"""
_TOUCH = """(name) => new Promise((resolve) => {
  const zone = [...document.querySelectorAll("button.zone.released")].find((one) => one.ariaLabel.includes(name));
  const number = zone.querySelector("b");
  const before = number.textContent;
  const began = performance.now();
  new MutationObserver((_changes, watching) => {
    if (number.textContent === before) return;
    watching.disconnect();
    requestAnimationFrame(() => resolve(performance.now() - began));
  }).observe(zone, { childList: true, subtree: true, characterData: true });
  zone.click();
})"""


def test_a_catch_screen_is_usable_within_two_seconds_on_a_slow_phone(browser, own_demo, record_property):
    context = browser.new_context(**PHONE)
    phone = FieldPhone(context.new_page(), own_demo.address)
    phone.enrol(own_demo.code_for_the_collector())
    phone.arrive()
    phone.open_haul()
    phone.find("para ga", "Paragrapsus gaimardii", "released")
    phone.wait_until_all_is_sent()
    assert phone.page.evaluate(_FILL, RECORDS)["all"] > RECORDS
    context.set_offline(True)
    phone.page.close()
    starts, first, later = [], [], []
    for _ in range(3):
        page = context.new_page()
        page.add_init_script(_WATCH)
        slow = context.new_cdp_session(page)
        slow.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        # As the app is opened from the home screen: it finds the open haul by itself.
        page.goto(f"{own_demo.address}/app/")
        page.wait_for_function("() => window.usableAt !== undefined")
        starts.append(page.evaluate("window.usableAt"))
        for place in range(10):
            # While the checks still read the season, and once they have.
            (first if place < 5 else later).append(page.evaluate(_TOUCH, "Paragrapsus"))
            page.wait_for_timeout(200)  # five touches a second, as quick as a crew calls them out
        page.close()
    context.close()
    record_property("cold starts in ms", [round(one) for one in starts])
    for name, touches in (("first", first), ("later", later)):
        record_property(f"{name} touches in ms", [round(one) for one in touches])
    assert sorted(starts)[1] < 2000
    assert sorted(first)[len(first) // 2] < 100
    assert sorted(later)[len(later) // 2] < 100


def test_the_app_without_the_map_is_small(record_property):
    worker = (BUILT / "sw.js").read_text("utf-8")
    names = json.loads(worker[worker.index('["') : worker.index('"]') + 2])
    apart = ("drawing-", "MapScreen-", "Desk-", "layers", "marker")
    sizes = {
        name: len(gzip.compress((BUILT / name).read_bytes(), 9))
        for name in names
        if name.endswith((".js", ".css", ".html")) and not name.split("/")[-1].startswith(apart)
    }
    map_size = sum(len(gzip.compress((BUILT / name).read_bytes(), 9)) for name in names if "drawing-" in name)
    record_property("app without map, gzip bytes", sum(sizes.values()))
    record_property("map apart, gzip bytes", map_size)
    assert any("worker-" in name for name in sizes)
    assert sum(sizes.values()) <= 200_000
    assert map_size > 30_000, "the map is no longer a file of its own"
