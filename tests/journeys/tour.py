"""The pictures of the README's tour, taken from a demo by a real browser: `python -m tests.journeys.tour`; no test."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from tests.journeys.conftest import FLAGS, chromium
from tests.journeys.demo_process import DemoProcess
from tests.journeys.field_phone import PHONE, FieldPhone
from tests.journeys.test_desk import DESK, signed_in
from tests.photographs import camera_jpeg

FOLDER = Path(__file__).resolve().parents[2] / ".readme"
FLOUNDER, HARDYHEAD, CRAB = "Rhombosolea tapirina", "Atherinosoma microstoma", "Paragrapsus gaimardii"


def main() -> None:
    """Take the five pictures."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        demo = DemoProcess(Path(folder))
        demo.start()
        try:
            browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
            at_the_creek(browser, demo)
            at_the_desk(browser, demo)
        finally:
            demo.stop()


def at_the_creek(browser: Browser, demo: DemoProcess) -> None:
    """A haul in hand, a length below the size, and the map."""
    context = browser.new_context(**{**PHONE, "device_scale_factor": 1.5})
    phone = FieldPhone(context.new_page(), demo.address)
    phone.enrol(demo.code_for_the_collector())
    phone.arrive()
    phone.open_haul()
    phone.page.get_by_text("inside the edge").first.wait_for()
    phone.find("gre fl", FLOUNDER, "kept")
    phone.count("kept", FLOUNDER)
    phone.count("kept", HARDYHEAD, 7)
    phone.count("released", CRAB, 4)
    phone.zone("kept", FLOUNDER).filter(has_text="Stop").wait_for()
    phone.zone("kept", HARDYHEAD).filter(has_text="5 left").wait_for()
    phone.page.evaluate("scrollTo(0, 0)")
    phone.page.wait_for_timeout(1500)
    keep(phone.page, "phone-haul")
    phone.touch(phone.page.get_by_role("button", name=f"Number, lengths or kind of {FLOUNDER}"))
    phone.touch(phone.button("Lengths"))
    for value in ("85", "55"):
        for key in value:
            phone.touch(phone.page.locator("dialog").get_by_role("button", name=key, exact=True))
        phone.touch(phone.page.locator("dialog").get_by_role("button", name="next"))
    phone.page.locator("dialog").get_by_text("3.4:").wait_for()
    keep(phone.page, "phone-lengths")
    phone.touch(phone.page.locator("dialog").get_by_role("button", name="Done", exact=True))
    with phone.page.expect_file_chooser() as chooser:
        phone.touch(phone.button("Not sure"))
    chooser.value.set_files({"name": "unknown.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(seed=7)})
    phone.touch(phone.button("Released"))
    phone.sees("released", "unknown 1", "1")
    phone.close_haul()
    phone.touch(phone.button("Map"))
    phone.touch(phone.button("Where am I?"))
    phone.page.get_by_role("heading", name="To the edges").wait_for()
    keep(phone.page, "phone-map")
    phone.open("trips")
    phone.touch(phone.button("Go on").first)
    phone.touch(phone.button("Close the trip"))
    phone.touch(phone.button("Close the trip now"))
    phone.wait_until_all_is_sent()
    context.close()


def at_the_desk(browser: Browser, demo: DemoProcess) -> None:
    """The gate with the lot that is below the size, and the balance down to the catch lines."""
    context = browser.new_context(**DESK)
    page = context.new_page()
    signed_in(page, demo.address, "curator", "gate")
    lots = page.context.request.get(f"{demo.address}/api/acquisitions?trip=K28-10&limit=200").json()["lots"]
    lot = next(one for one in lots if one["taxon"] == FLOUNDER)
    page.goto(f"{demo.address}/app/desk/gate?lot={lot['id']}")
    card = page.get_by_role("article", name=f"Lot {lot['line']}", exact=True)
    card.get_by_role("group", name="Decision on").wait_for()
    card.scroll_into_view_if_needed()
    page.evaluate("one => scrollBy(0, one - 80)", card.bounding_box()["y"])  # type: ignore[index]
    keep(page, "desk-gate")
    signed_in(page, demo.address, "administrator", "balance?authority=kelloran-permit")
    page.get_by_role("region", name="Limits on what is taken").get_by_role("button", name="2.3 Silversides").click()
    keep(page, "desk-balance")
    context.close()


def keep(page: Page, name: str) -> None:
    """Take a picture and keep it small: a screen has few colours."""
    page.evaluate("document.activeElement?.blur()")
    page.wait_for_timeout(400)
    picture: Any = Image.open(io.BytesIO(page.screenshot()))
    picture.convert("RGB").quantize(96).save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
