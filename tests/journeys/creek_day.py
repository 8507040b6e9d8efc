"""A day at the creek as a phone would deliver it: hauls with notes and readings, sets out and lost, lengths, photos."""

from __future__ import annotations

import hashlib
from typing import Any, Self

import httpx2

from api.operations.demonstration import ACCOUNTS, NEXT_PERMIT
from api.store.ids import new_id
from tests.photographs import camera_jpeg

PHONE = "creek phone 9"
LEADER, CREW = "i-calloway", "m-tanabe"
BEGAN = "2028-07-13T22"
"""The hour of UTC in which the day begins: eight in the morning where the season plays."""


class CreekDay:
    """What was delivered: the trip's id and code, and the codes of its hauls and lines by what they are called here."""

    def __init__(self, address: str, *, status: str = "open") -> None:
        self._phone = _enrolled(address)
        self.ids: dict[str, str] = {}
        self.codes: dict[str, str] = {}
        back = {"back": f"{BEGAN[:-2]}23:50:00Z"} if status == "closed" else {}
        crew = [{"person": LEADER, "role": "deputy"}, {"person": CREW, "role": "named"}]
        self._send(
            ("trip", "trip", "", {"zone": "Australia/Hobart", "leader": LEADER, "authority": NEXT_PERMIT, "status": "open",
             "depart": f"{BEGAN}:00:00Z", "crew": crew, "papers": ["permit"], "note": "Wind from the west."}),
            ("haul", "seined", "trip", {"start": f"{BEGAN}:30:00Z", "end": f"{BEGAN}:42:00Z", "person": LEADER,
             "gear": {"gear": "seine", "length_mm": "12 m", "mesh_mm": "6 mm"}, "site": "gannet-flat",
             "waterbody": "Kelloran Inlet", "readings": [{"quantity": "salinity", "value": "27.5", "unit": "psu"}],
             "note": "Net snagged once on an oyster stake."}),
            ("haul", "out", "trip", {"kind": "set", "start": f"{BEGAN}:50:00Z", "person": LEADER,
             "gear": {"gear": "trap", "number": 3, "opening_mm": "60 mm", "tag": "KA-7"},
             "checks": [f"{BEGAN}:59:00Z"]}),
            ("haul", "lost", "trip", {"kind": "set", "start": f"{BEGAN}:55:00Z", "gear": {"gear": "trap"}, "lost": True}),
            ("line", "kept", "seined", {"taxon": "Atherinosoma microstoma", "fate": "kept", "count": 7}),
            ("line", "released", "seined", {"taxon": "Rhombosolea tapirina", "fate": "released", "count": 3,
             "measurements": [{"measure": "total length", "values": ["236", "210", "63.5"]}], "note": "One with a scar."}),
            ("line", "fry", "seined", {"taxon": "Gobiidae", "doubt": "?", "fate": "kept", "count": "about 20 (16-25)",
             "method": "by eye", "stage": "juvenile", "sex": "female"}),
        )  # fmt: skip
        if status == "closed":
            self.amend("trip", "trip", {"status": "closed", **back})

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._phone.close()

    def _send(self, *told: tuple[str, str, str, dict[str, Any]]) -> None:
        operations = []
        for kind, name, parent, record in told:
            self.ids[name] = new_id()
            operations.append(_operation(kind, {"id": self.ids[name], **record}, self.ids.get(parent, "")))
        for (_, name, _, _), answer in zip(told, self._push(operations), strict=True):
            self.codes[name] = answer["code"]

    def amend(self, kind: str, name: str, changes: dict[str, Any]) -> None:
        """Change a record, as a phone does."""
        pulled = self._phone.get("/api/sync/pull", params={"limit": 1000}).json()["changes"]
        stands = next(one for one in pulled if one["id"] == self.ids[name])
        operation = _operation(kind, {**stands["record"], **changes}, stands["parent"])
        self._push([{**operation, "based_on": stands["version"]}])

    def _push(self, operations: list[dict[str, Any]]) -> list[dict[str, Any]]:
        answer = self._phone.post("/api/sync/push", json={"protocol": 2, "operations": operations})
        answers: list[dict[str, Any]] = answer.raise_for_status().json()["answers"]
        assert {one["answer"] for one in answers} == {"stored"}, answers
        return answers

    def photograph(self, kind: str, name: str, seed: int) -> str:
        """Deliver a photo of a record; gives its mark."""
        picture = camera_jpeg(seed=seed)
        mark = hashlib.sha256(picture).hexdigest()
        told = {"sha256": mark, "size": len(picture), "media_type": "image/jpeg", "of_kind": kind}
        told |= {"of_record": self.ids[name], "made_at": f"{BEGAN}:45:00Z"}
        self._phone.post("/api/photos", json=told).raise_for_status()
        part = {"Content-Type": "application/octet-stream"}
        sent = self._phone.patch(f"/api/photos/{mark}?offset=0", content=picture, headers=part)
        assert sent.json()["whole"] is True
        return mark


def _operation(kind: str, record: dict[str, Any], parent: str) -> dict[str, Any]:
    clock = {"at": f"{BEGAN}:45:00Z", "ahead_s": 3, "known_at": f"{BEGAN}:00:00Z"}
    told = {"id": new_id(), "kind": kind, "record": record, "parent": parent, "based_on": None, "why": ""}
    return {**told, "device_clock": clock, "entered_from": "screen"}


def _enrolled(address: str) -> httpx2.Client:
    """Enrol a phone of the demo's collector; gives a client that speaks as it."""
    account = next(one for one in ACCOUNTS if one.role == "collector")
    with httpx2.Client(base_url=address, headers={"Origin": address}) as office:
        told = {"login": account.login, "password": account.password}
        office.post("/api/sessions", json=told).raise_for_status()
        code = office.post("/api/enrolments", json={"account": account.login}).json()["code"]
    phone = httpx2.Client(base_url=address, timeout=60)
    token = phone.post("/api/devices", json={"code": code, "name": PHONE}).raise_for_status().json()["token"]
    phone.headers["Authorization"] = f"Bearer {token}"
    return phone
