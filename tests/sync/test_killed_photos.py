"""A real server, killed with SIGKILL while two phones deliver the same photos to it, and started again on its store.

It kills itself at drawn places of its work (the n-th statement, right before a commit, right after one) and is
killed from outside in between. What an answer said to be here is here afterwards; in the end every photo is kept
byte for byte, once, and the audit chain stands.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import random
import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from sqlmodel import select

from api.entities.authorities import Document
from api.entities.photos import Photo
from api.entities.sync import Change
from api.operations import photos
from api.operations.syncing import push
from api.store import parts
from api.store.audit import first_broken
from api.store.unit_of_work import Actor, Store
from tests import phones
from tests.photographs import PLANTED, camera_jpeg
from tests.sync.grounds import BEGIN
from tests.sync.killed_server import KilledServer
from tests.sync.power import AFTER_COMMIT, BEFORE_COMMIT, STATEMENT

pytestmark = pytest.mark.slow

PATIENCE_S = 30.0
OUTSIDE = "from outside"
STEP = 400


class CutOffError(Exception):
    """No answer came."""


class Phone:
    """A phone that delivers photos, and minds what it was told to be here."""

    def __init__(self, server, token, line, trouble):
        self.server, self.token, self.line, self.trouble = server, token, line, trouble
        self.told = Counter()
        """How many bytes of each photo an answer has said to be here."""
        self.lost = []

    def ask(self, method, path, body, media_type):
        connection = http.client.HTTPConnection("127.0.0.1", self.server._port, timeout=PATIENCE_S)
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": media_type}
        try:
            connection.request(method, path, body, headers)
            response = connection.getresponse()
            return response.status, json.loads(response.read())
        except (OSError, http.client.HTTPException):
            raise CutOffError from None
        finally:
            connection.close()

    def announce(self, content):
        mark = hashlib.sha256(content).hexdigest()
        body = {"sha256": mark, "size": len(content), "media_type": "image/jpeg"}
        body |= {"of_kind": "line", "of_record": self.line}
        status, told = self.ask("POST", "/api/photos", json.dumps(body), "application/json")
        assert status == 200, told
        return told

    def deliver(self, content):
        """Deliver a photo whatever happens to the server."""
        while True:
            try:
                standing = self.announce(content)
                self.mind(standing)
                while not standing["whole"]:
                    offset = standing["offset"]
                    path = f"/api/photos/{standing['sha256']}?offset={offset}"
                    part = content[offset : offset + STEP]
                    status, told = self.ask("PATCH", path, part, "application/octet-stream")
                    # Whatever the other phone does: what was told to be here is here, so there is never a gap.
                    assert status == 200, told
                    standing = told
                    self.mind(standing)
            except CutOffError:
                self.trouble()
            else:
                return

    def mind(self, standing):
        mark, offset = standing["sha256"], standing["offset"]
        if offset < self.told[mark]:
            self.lost.append((mark, self.told[mark], offset))
        self.told[mark] = max(self.told[mark], offset)


class Storm:
    """Kills the server at one place after another, and starts it again."""

    def __init__(self, server, dice, places):
        self.server, self.dice, self.places = server, dice, places
        self.deaths = Counter()
        self.guard = threading.Lock()
        self.place = ""
        self.next()

    def next(self):
        self.place = self.places.pop() if self.places else ""
        own = self.place if self.place != OUTSIDE else ""
        most = {STATEMENT: 60, BEFORE_COMMIT: 6, AFTER_COMMIT: 6}.get(own, 1)
        self.server.start(own, self.dice.randint(1, most))
        if self.place == OUTSIDE:
            threading.Timer(self.dice.uniform(0.02, 0.3), self.server.kill).start()

    def passed(self):
        """Start the next server, unless the other phone did; called by every phone that was cut off."""
        with self.guard:
            if not self.server.alive():
                self.deaths[self.place] += 1
                self.next()


def storm(ground, launcher, seed):
    ground.renew()
    dice = random.Random(f"{seed} photos")
    ahead = BEGIN - datetime.now(UTC)

    def clock():
        return datetime.now(UTC) + ahead

    store = Store(ground.engine, clock)
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    told = push(store, [trip, haul, line], Actor("ann"))
    assert [one.answer for one in told] == ["stored"] * 3
    ground.engine.dispose()
    places = [STATEMENT, BEFORE_COMMIT, AFTER_COMMIT] * 3 + [OUTSIDE] * 4
    dice.shuffle(places)
    server = KilledServer(launcher, ground, ahead.total_seconds())
    started = Storm(server, dice, places)
    both = [Phone(server, one.token, str(line.record["id"]), started.passed) for one in ground.enrolled[:2]]
    delivered = []
    try:
        with ThreadPoolExecutor(2) as pool:
            while places or started.place:
                delivered.append(camera_jpeg(seed * 1000 + len(delivered), width=96, height=72))
                list(pool.map(lambda one: one.deliver(delivered[-1]), both))
                assert len(delivered) < 200, "the server does not die"
    finally:
        server.kill()
    return store, ground.folder / "files", delivered, both, started.deaths


def check(ground, launcher, seed):
    store, folder, delivered, both, deaths = storm(ground, launcher, seed)
    assert deaths == {STATEMENT: 3, BEFORE_COMMIT: 3, AFTER_COMMIT: 3, OUTSIDE: 4}
    assert [one.lost for one in both] == [[], []]
    for content in delivered:
        mark = hashlib.sha256(content).hexdigest()
        assert photos.original(store, folder, mark) == ("image/jpeg", content)
        shown = photos.shown(store, folder, mark)
        assert not any(one in shown for one in PLANTED)
    with store.reading() as session:
        rows = session.exec(select(Photo)).all()
        assert len(rows) == len(delivered)
        assert all(one.whole_at and one.received == one.size for one in rows)
        assert len(session.exec(select(Change).where(Change.kind == "photo")).all()) == len(delivered)
        marks = {hashlib.sha256(one).hexdigest() for one in delivered}
        assert marks <= {one.sha256 for one in session.exec(select(Document))}
        assert first_broken(session)[1] is None
    # A part that was left by a death right after the commit is let go of when the next photo is announced.
    assert len(parts.names(folder)) <= 1
    store.engine.dispose()


@pytest.mark.parametrize("seed", range(3))
def test_no_byte_that_was_answered_is_lost_when_the_server_is_killed(seed, sqlite, launcher):
    check(sqlite, launcher, seed)


@pytest.mark.parametrize("seed", range(3, 5))
def test_no_byte_that_was_answered_is_lost_when_the_server_is_killed_on_postgresql(seed, postgresql, launcher):
    check(postgresql, launcher, seed)
