"""Phones that a test switches off, kills and starts again: browsers on folders of their own."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
from pathlib import Path
from typing import Any, Self

from playwright.sync_api import BrowserContext, Error, Playwright

from tests.journeys.field_phone import PHONE, FieldPhone


class StartedPhones:
    """Starts phones by name; a name is a folder, and what stands in it outlives the browser."""

    def __init__(
        self,
        playwright: Playwright,
        browser: str,
        flags: list[str],
        address: str,
        home: Path,
        begins_as: Path | None = None,
    ) -> None:
        self._playwright, self._browser, self._flags = playwright, browser, flags
        self._address, self._home, self._begins_as = address, home, begins_as
        self._running: dict[str, BrowserContext] = {}
        self.thrown: list[str] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for name in list(self._running):
            self._close(name)

    def folder(self, name: str) -> Path:
        """Give the folder of a phone."""
        return self._home / name

    def start(self, name: str = "phone", *, new: bool = False, script: str = "", **more: Any) -> FieldPhone:
        """Start a phone's browser; ``new`` for one that is enrolled nowhere, ``script`` for what runs before each page."""
        folder = self.folder(name)
        if not folder.exists() and self._begins_as is not None and not new:
            shutil.copytree(self._begins_as, folder, symlinks=True, ignore=shutil.ignore_patterns("Singleton*"))
        context = self._playwright.chromium.launch_persistent_context(
            str(folder), executable_path=self._browser, args=self._flags, **{**PHONE, **more}
        )
        self._running[name] = context
        context.set_default_timeout(15_000)
        if script:
            context.add_init_script(script)
        context.on("weberror", lambda error: self.thrown.append(f"{name}: {error.error}"))
        return FieldPhone(context.pages[0], self._address)

    def switch_off(self, phone: FieldPhone) -> None:
        """Close the browser as a phone that is switched off."""
        self._close(self._name_of(phone))

    def kill(self, phone: FieldPhone) -> None:
        """Kill every process of the browser without a word of warning (SIGKILL)."""
        name = self._name_of(phone)
        for process in self._family(self._first_process(self.folder(name))):
            _kill(process)
        self._close(name)

    def kill_tab(self, phone: FieldPhone) -> None:
        """Kill the processes of the browser's pages alone, as a phone does that wants its memory for something else."""
        family = self._family(self._first_process(self.folder(self._name_of(phone))))
        pages = [one for one in family if "--type=renderer" in _command(one)]
        assert pages
        with phone.page.expect_event("crash"):
            for process in pages:
                _kill(process)

    def _name_of(self, phone: FieldPhone) -> str:
        return next(name for name, context in self._running.items() if context is phone.page.context)

    def _close(self, name: str) -> None:
        try:
            self._running.pop(name).close()
        except Error as error:
            if "closed" not in str(error):
                raise

    def _first_process(self, folder: Path) -> int:
        """Find the browser that was started on a folder: the one that is no part of another."""
        own = [one for one in _processes() if f"--user-data-dir={folder}" in _command(one)]
        return next(one for one in own if not any(word.startswith("--type=") for word in _command(one)))

    def _family(self, first: int) -> list[int]:
        """Give a process and all that it started, and those started."""
        family, known = [first], {one: _parent(one) for one in _processes()}
        for one in family:
            family += [child for child, parent in known.items() if parent == one]
        return family


def _processes() -> list[int]:
    return [int(one.name) for one in Path("/proc").iterdir() if one.name.isdigit()]


def _command(process: int) -> list[str]:
    try:
        # A process that writes its command itself parts the words by blanks.
        return Path(f"/proc/{process}/cmdline").read_text("utf-8", "replace").replace("\0", " ").split()
    except OSError:
        return []


def _parent(process: int) -> int:
    try:
        return int(Path(f"/proc/{process}/stat").read_text("utf-8").rpartition(")")[2].split()[1])
    except OSError:
        return 0


def _kill(process: int) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.kill(process, signal.SIGKILL)
