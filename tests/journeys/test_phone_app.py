"""The phone app in a real browser: kept after one visit, and open without signal on every address of its own."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe


def test_after_one_visit_the_app_opens_with_the_radio_off(phone, demo_server):
    phone.goto(f"{demo_server}/app/")
    phone.get_by_role("status").filter(has_text="This phone keeps the app").wait_for()
    phone.context.set_offline(True)
    for path in ("/app/", "/app/trips/0193/hauls"):
        phone.goto(f"{demo_server}{path}")
        phone.get_by_role("heading", name="Creekledger").wait_for()
        phone.get_by_role("status").filter(has_text="This phone keeps the app").wait_for()


def test_the_first_screen_has_no_fault_that_axe_finds_and_does_not_scroll_sideways(phone, demo_server):
    phone.goto(f"{demo_server}/app/")
    phone.get_by_role("status").wait_for()
    found = Axe().run(phone)
    assert found.violations_count == 0, found.generate_report()
    phone.set_viewport_size({"width": 320, "height": 640})
    assert phone.evaluate("document.documentElement.scrollWidth") <= 320
