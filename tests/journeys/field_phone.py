"""The phone in a crew's hand: its screens as a person touches them, with every touch counted."""

from __future__ import annotations

import re
import time
from typing import Any

from playwright.sync_api import BrowserContext, Locator, Page, expect

from api.routes.phone_app import BUILT

PHONE: dict[str, Any] = {
    "viewport": {"width": 412, "height": 839},
    "is_mobile": True,
    "has_touch": True,
    "device_scale_factor": 2.625,
    "timezone_id": "Australia/Hobart",
    "geolocation": {"latitude": -42.302562, "longitude": 153.627205, "accuracy": 8},
    "permissions": ["geolocation"],
}
"""A phone of usual size that stands within the demo's permitted area, good to eight metres."""


class FieldPhone:
    """A page of the app; ``touches`` counts what a finger did, letters typed apart."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.touches = 0

    def touch(self, what: Locator) -> None:
        """Touch a thing."""
        what.tap()
        self.touches += 1

    def button(self, name: str) -> Locator:
        """Give the button of this very name."""
        return self.page.get_by_role("button", name=name, exact=True)

    def open(self, path: str = "") -> None:
        """Open the app at an address of its own."""
        self.page.goto(f"{self.address}/app/{path}")

    def enrol(self, code: str) -> None:
        """Enrol with a code from the office, and wait until the phone is ready."""
        self.open()
        self.page.get_by_label("Code from the office").fill(code)
        self.page.get_by_label("What this phone is called").fill("Blue phone")
        self.touch(self.button("Enrol this phone"))
        self.page.get_by_text("This phone is ready to leave signal.").wait_for(timeout=60_000)
        # Kept by the worker as well, and under its control.
        self.page.wait_for_function("() => navigator.serviceWorker.controller !== null")

    def arrive(self) -> None:
        """Begin the planned trip with the crew as planned."""
        self.open("trips")
        self.touch(self.button("Arrive").first)
        for paper in ("permit and amendments", "list of named persons", "notice"):
            self.touch(self.page.get_by_label(paper, exact=True))
        self.touch(self.page.get_by_label("Talked through with the crew"))
        self.touch(self.button("Start the trip"))
        self.button("Open a haul").wait_for()

    def begin_trip(self) -> str:
        """Begin a trip that nobody planned, under the permit that is offered; gives its id."""
        self.open("begin/new")
        # One person alone has nobody to talk it through with.
        self.touch(self.page.get_by_label(re.compile("Talked through with the crew|Thought through; somebody ashore")))
        self.touch(self.button("Start the trip"))
        self.button("Open a haul").wait_for()
        return self.page.url.rpartition("/")[2]

    def open_haul(self) -> None:
        """Open a haul; the position comes by itself."""
        self.touch(self.button("Open a haul"))
        self.button("Find").wait_for()

    def zone(self, fate: str, name: str) -> Locator:
        """Give the zone of a row that counts one more."""
        label = _with(f"{fate.capitalize()} one more {name};")
        return self.page.locator(f"button.zone.{fate}").and_(self.page.get_by_role("button", name=label))

    def count(self, fate: str, name: str, times: int = 1) -> None:
        """Count so many of a kind that has its row, one touch each."""
        for _ in range(times):
            self.touch(self.zone(fate, name))

    def find(self, letters: str, name: str, fate: str) -> None:
        """Count one of a kind that has no row yet, found by its first letters."""
        self.touch(self.button("Find"))
        self.page.get_by_label("First letters of a name").fill(letters)
        self.touch(self.button(f"One {name} {fate}"))
        self.zone(fate, name).wait_for()

    def estimate(self, fate: str, name: str, number: int) -> None:
        """Hold a zone, type a number, say "about"."""
        self.hold(self.zone(fate, name))
        for digit in str(number):
            self.touch(self.page.locator("dialog").get_by_role("button", name=digit, exact=True))
        self.touch(self.button(f"About {number}"))

    def hold(self, what: Locator) -> None:
        """Hold a finger on a thing until its keypad opens: one touch."""
        what.scroll_into_view_if_needed()
        what.dispatch_event("pointerdown", {"pointerType": "touch", "isPrimary": True})
        self.page.locator("dialog").wait_for()
        self.touches += 1

    def lengths(self, name: str, measure: str, values: list[str]) -> None:
        """Measure a run of one kind that is kept, without leaving the keypad."""
        self.touch(self.page.get_by_role("button", name=f"Number, lengths or kind of {name}"))
        self.touch(self.button("Lengths"))
        self.page.get_by_label("Measure").select_option(measure)
        for value in values:
            for key in value:
                self.touch(
                    self.page.locator("dialog").get_by_role("button", name="Point" if key == "." else key, exact=True)
                )
            self.touch(self.page.locator("dialog").get_by_role("button", name=_with(value, "next")))
            expect(self.page.locator("dialog .run")).to_contain_text(f"{value} ")
        self.touch(self.page.locator("dialog").get_by_role("button", name="Done", exact=True))

    def sees(self, fate: str, name: str, number: str) -> None:
        """Wait until this number stands on a zone."""
        expect(self.zone(fate, name).locator("b")).to_have_text(number)

    def unsent(self) -> str:
        """Give what the screen says of what is only on this phone."""
        return self.page.locator("a.unsent").inner_text().strip()

    def wait_until_all_is_sent(self, seconds: float = 60) -> None:
        """Wait until nothing is only on this phone; fails with what still is."""
        deadline = time.monotonic() + seconds
        while waiting := [*self.outbox(), *self.page.evaluate(f"({_READ})('pictures')")]:
            told = [(one.get("kind", "photo"), one["state"], one.get("problems")) for one in waiting]
            assert time.monotonic() < deadline, f"{self.unsent()}: {told}"
            time.sleep(0.2)
        self.page.locator("a.unsent", has_text="All sent").wait_for()

    def close_haul(self) -> None:
        """Close the haul in hand."""
        self.touch(self.page.locator("footer").get_by_role("button", name="Close", exact=True))
        self.touch(self.button("Close the haul"))
        self.button("Open a haul").wait_for()

    def stored(self) -> dict[str, dict[str, Any]]:
        """Give what the phone holds of trips, hauls and lines, by id, with kind and parent."""
        found = self.page.evaluate(_READ_ALL)
        return {one["id"]: one for one in found if one["kind"] in ("trip", "haul", "line")}

    def ask_the_checks(self, trip: str, haul: str) -> list[dict[str, Any]]:
        """Ask the checks' own thread, as the catch screen does, what they say of a haul."""
        name = next(one.name for one in (BUILT / "assets").iterdir() if one.name.startswith("worker-"))
        told: list[dict[str, Any]] = self.page.evaluate(_ASK, [f"/app/assets/{name}", trip, haul])
        return told

    def count_without_a_reason(self, fate: str, name: str) -> None:
        """Count one more in a closed trip as an older app did: the reason is taken off what waits, and it is refused."""
        go_offline(self.page.context)
        self.count(fate, name)
        self.give_the_reason("Counted anew")
        self.undo(f"1 {fate} {name}").wait_for()
        self.page.evaluate(_FORGET_REASONS)
        go_offline(self.page.context, False)
        self.page.evaluate("dispatchEvent(new Event('online'))")
        self.page.locator("a.unsent", has_text="refused").wait_for()

    def give_the_reason(self, why: str) -> None:
        """Say why something in a closed trip is changed, where it is asked."""
        sheet = self.page.get_by_role("dialog", name="This trip is closed")
        sheet.get_by_label("Why is it changed?").fill(why)
        self.touch(sheet.get_by_role("button", name="with this reason"))
        sheet.wait_for(state="detached")

    def undo(self, words: str) -> Locator:
        """Give the button that takes the last touch back."""
        return self.button(f"Undo: {words}")

    def outbox(self) -> list[dict[str, Any]]:
        """Give the entries that wait to be sent."""
        found: list[dict[str, Any]] = self.page.evaluate(_READ_OUTBOX)
        return found

    def wait_until_typed(self, digits: str) -> None:
        """Wait until these digits, typed and not entered, are on the disk."""
        deadline = time.monotonic() + 10
        while digits not in [one["value"].get("digits") for one in self._notes() if "typed in" in one["name"]]:
            assert time.monotonic() < deadline, self._notes()
            time.sleep(0.05)

    def _notes(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.page.evaluate(f"({_READ})('notes')")
        return found

    def photos(self) -> list[dict[str, Any]]:
        """Give the photos that are on this phone."""
        found: list[dict[str, Any]] = self.page.evaluate(f"({_READ})('pictures')")
        return found


def until(page: Page, promise: str, arg: Any = None, seconds: float = 30) -> None:
    """Wait until a promise made anew each time is kept with something true.

    The page's own ``wait_for_function`` takes the promise itself for true, and waits for nothing.
    """
    end = time.monotonic() + seconds
    while not page.evaluate(promise, arg):
        assert time.monotonic() < end, f"not within {seconds} s: {promise}"
        page.wait_for_timeout(100)


def go_offline(context: BrowserContext, offline: bool = True) -> None:
    """Turn the radio off or on."""
    context.set_offline(offline)


def _with(*parts: str) -> re.Pattern[str]:
    """Give a pattern for a name in which these stand one behind the other."""
    return re.compile(".*".join(map(re.escape, parts)))


_ASK = """([script, trip, haul]) => new Promise((resolve, reject) => {
  const worker = new Worker(script, { type: "module" });
  worker.onmessage = (event) => { worker.terminate(); resolve(event.data.answer.told); };
  worker.onerror = () => reject(new Error("the checks did not start"));
  worker.postMessage({ ask: 1, question: { trip, haul, names: {}, at: Date.parse('2028-07-15T00:00:00Z') } });
})"""
_READ = """(table) => new Promise((resolve, reject) => {
  const asked = indexedDB.open("creekledger");
  asked.onerror = () => reject(asked.error);
  asked.onsuccess = () => {
    const read = asked.result.transaction(table).objectStore(table).getAll();
    read.onsuccess = () => { asked.result.close(); resolve(read.result); };
    read.onerror = () => reject(read.error);
  };
})"""
_FORGET_REASONS = """new Promise((resolve, reject) => {
  const asked = indexedDB.open("creekledger");
  asked.onsuccess = () => {
    const writing = asked.result.transaction("outbox", "readwrite");
    const walk = writing.objectStore("outbox").openCursor();
    walk.onsuccess = () => {
      if (walk.result === null) return;
      walk.result.update({ ...walk.result.value, why: "" });
      walk.result.continue();
    };
    writing.oncomplete = () => { asked.result.close(); resolve(); };
    writing.onerror = () => reject(writing.error);
  };
})"""
_READ_ALL = f"({_READ})('records')"
_READ_OUTBOX = f"({_READ})('outbox')"
