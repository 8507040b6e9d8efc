"""A real server and a real browser: the demo as a newcomer starts it, and Chromium."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from contextlib import contextmanager

import pytest
from playwright.sync_api import sync_playwright

from tests.builders import SAMPLE
from tests.journeys.demo_process import DemoProcess, wait_until_it_answers
from tests.journeys.ports import free_port
from tests.journeys.started_phones import StartedPhones

# The flags that a browser needs in a machine without a screen and without the outer world.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def running_demo():
    """Start `creekledger demo` as the README says, on a free port; give its address."""
    port = free_port()
    command = [sys.executable, "-m", "api.cli", "demo", "--port", str(port)]
    server = subprocess.Popen(command, cwd=SAMPLE.parent, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    address = f"http://127.0.0.1:{port}"
    try:
        wait_until_it_answers(server, address)
        yield address
    finally:
        server.terminate()
        told, _ = server.communicate(timeout=30)
        assert re.search(r"Open http://127\.0\.0\.1:\d+/ in a browser", told)


@pytest.fixture(scope="session")
def demo_server():
    """Give the address of the demo that tests share: they leave it as they found it."""
    with running_demo() as address:
        yield address


@pytest.fixture(scope="module")
def changing_demo():
    """Give the address of a demo for one file of tests, which may change what is in it."""
    with running_demo() as address:
        yield address


@pytest.fixture(scope="module")
def playwright():
    """Give what drives browsers, for one file of tests: while it runs, so does an event loop, and no test has its own."""
    with sync_playwright() as opened:
        yield opened


def chromium() -> str:
    """Give the path of the Chromium to use."""
    path = os.environ.get("CREEKLEDGER_BROWSER") or shutil.which("chromium")
    assert path, "no Chromium: run the tests through .ci/bootstrap.py, or name one in CREEKLEDGER_BROWSER"
    return path


@pytest.fixture(scope="module")
def browser(playwright):
    """Give a Chromium."""
    opened = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def own_demo(tmp_path_factory):
    """Give a demo server of the file's own, which may be changed, killed and started again."""
    with DemoProcess(tmp_path_factory.mktemp("demo")) as demo:
        yield demo


@pytest.fixture(scope="session")
def field_demo(tmp_path_factory):
    """Give the demo server that the files of field tests share: nobody kills it, and trips of other tests stand on it."""
    with DemoProcess(tmp_path_factory.mktemp("field")) as demo:
        yield demo


@pytest.fixture(scope="session")
def enrolled_home(tmp_path_factory):
    """Give where the phone stands that is enrolled once for all files of field tests."""
    return tmp_path_factory.mktemp("enrolled")


@pytest.fixture(scope="module")
def enrolled(playwright, field_demo, enrolled_home):
    """Give the folder of a phone's browser that is enrolled with the demo and ready to leave signal."""
    home = StartedPhones(playwright, chromium(), FLAGS, field_demo.address, enrolled_home)
    if not home.folder("phone").exists():
        with home:
            home.start("phone").enrol(field_demo.code_for_the_collector())
    return home.folder("phone")


@pytest.fixture
def phones(playwright, field_demo, enrolled, tmp_path):
    """Give phones to start, switch off and kill, each on a folder of its own that begins as the enrolled one.

    What a page throws without catching it fails the test.
    """
    started = StartedPhones(playwright, chromium(), FLAGS, field_demo.address, tmp_path, begins_as=enrolled)
    with started:
        yield started
    assert started.thrown == []


PHONE = {"viewport": {"width": 412, "height": 839}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2.625}


@contextmanager
def watched_page(browser, expected=(), **context_of):
    """Give a page of a browser context of its own; what the page complains of, but for what is expected, fails the test."""
    context = browser.new_context(**context_of)
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    yield opened
    context.close()
    assert [one for one in complaints if not one.startswith(tuple(expected))] == []


@pytest.fixture
def page(browser):
    """Give a page at desk size."""
    with watched_page(browser, viewport={"width": 1200, "height": 900}, accept_downloads=True) as opened:
        yield opened


@pytest.fixture
def phone(browser):
    """Give a page on a phone."""
    with watched_page(browser, **PHONE) as opened:
        yield opened
