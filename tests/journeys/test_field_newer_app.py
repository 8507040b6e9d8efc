"""A newer build of the app comes while a haul is open: offered, not taken by itself, and nothing is lost in taking it."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.builders import SAMPLE
from tests.journeys.conftest import FLAGS, chromium
from tests.journeys.demo_process import DemoProcess
from tests.journeys.field_phone import FieldPhone, go_offline, until
from tests.journeys.started_phones import StartedPhones

pytestmark = pytest.mark.slow

SHRIMP = "Palaemon serenus"


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """Give a copy of the package, whose build may be replaced without touching the one that other tests run."""
    folder = tmp_path_factory.mktemp("package")
    for part in ("api", "reports", SAMPLE.name):
        shutil.copytree(SAMPLE.parent / part, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.fixture
def demo(home, tmp_path):
    server = DemoProcess(tmp_path / "data", home)
    server.start()
    yield server
    server.stop()


def build_anew(built: Path) -> None:
    """Put a second build in the place of the first: other names for what changed, and another version, as a build does."""
    worker = built / "sw.js"
    (version,) = set(re.findall(r'"?version"?:\s*[`"]([0-9a-f]{16})[`"]', worker.read_text("utf-8")))
    (main,) = [one.name for one in (built / "assets").glob("app-*.js")]
    texts = [one for one in built.rglob("*") if one.suffix in (".js", ".html", ".css")]
    for file in texts:
        text = file.read_text("utf-8").replace(version, "0123456789abcdef").replace(main, "app-second.js")
        if file.name == "index.html":
            text = text.replace("</head>", '<meta name="build" content="second" /></head>')
        file.write_text(text, "utf-8")
    (built / "assets" / main).rename(built / "assets" / "app-second.js")


def runs_the_second(page: Page) -> bool:
    return page.locator("meta[name=build][content=second]").count() == 1


def caches(page: Page) -> list[str]:
    found: list[str] = page.evaluate("caches.keys()")
    return [name for name in found if name.startswith("creekledger-app-")]


def test_a_newer_app_waits_until_it_is_taken_and_takes_nothing_away(playwright, demo, home, tmp_path):
    with StartedPhones(playwright, chromium(), FLAGS, demo.address, tmp_path) as phones:
        phone = phones.start()
        phone.enrol(demo.code_for_the_collector())
        phone.begin_trip()
        phone.open_haul()
        haul = phone.page.url
        phone.find("pala se", SHRIMP, "released")
        phone.wait_until_all_is_sent()
        first = caches(phone.page)
        build_anew(home / "api" / "routes" / "built")

        # Opened again in signal, the phone fetches the newer one and goes on in the old.
        phone.page.reload()
        phone.sees("released", SHRIMP, "1")
        until(phone.page, "navigator.serviceWorker.getRegistration('/app/').then((one) => one.waiting !== null)")
        go_offline(phone.page.context)
        phone.page.reload()
        assert not runs_the_second(phone.page)
        phone.count("released", SHRIMP)
        phone.sees("released", SHRIMP, "2")
        other = FieldPhone(phone.page.context.new_page(), demo.address)
        other.open()
        other.sees("released", SHRIMP, "2")

        phone.page.bring_to_front()
        phone.open("trips")
        phone.page.get_by_text("A newer version of the app is on this phone. It waits until you take it").wait_for(
            timeout=60_000
        )
        unsent = phone.outbox()
        assert unsent != []
        phone.touch(phone.button("Take it now"))
        phone.page.locator("meta[name=build][content=second]").wait_for(state="attached")
        phone.page.get_by_role("heading", name="Trips").wait_for()
        expect(phone.button("Take it now")).to_have_count(0)
        assert caches(phone.page) == ["creekledger-app-0123456789abcdef"]
        assert first != caches(phone.page)
        assert {one["id"] for one in unsent} <= {one["id"] for one in phone.outbox()}

        # The tab beside it goes on with its haul, and is renewed between two screens.
        other.page.bring_to_front()
        other.count("released", SHRIMP)
        other.sees("released", SHRIMP, "3")
        assert other.page.url == haul
        assert not runs_the_second(other.page)
        other.touch(other.button("Trip"))
        other.button("Open a haul").wait_for()
        other.page.locator("meta[name=build][content=second]").wait_for(state="attached")

        phone.open()
        phone.sees("released", SHRIMP, "3")
        assert phone.page.url == haul
        go_offline(phone.page.context, False)
        phone.page.evaluate("dispatchEvent(new Event('online'))")
        phone.wait_until_all_is_sent()
        line = next(
            one["record"] for one in demo.pulled() if one["kind"] == "line" and one["parent"] == haul.rpartition("/")[2]
        )
        assert line["count"] in (3, {"low": 3, "best": 3, "high": 3})
    assert phones.thrown == []
