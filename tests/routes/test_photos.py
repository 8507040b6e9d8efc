"""Photos over HTTP: announced, delivered in parts, shown bare to every reader; the original to administrators."""

from __future__ import annotations

import hashlib

import pytest
from fastapi.testclient import TestClient
from structlog.testing import capture_logs

from api.main import build_app
from api.settings import Settings
from tests.photographs import PLANTED, camera_jpeg
from tests.served import HOST, token_for

PICTURE = camera_jpeg()
MARK = hashlib.sha256(PICTURE).hexdigest()
PART = {"Content-Type": "application/octet-stream"}


@pytest.fixture
def line(client):
    """Give the id of the line that the season came with."""
    changes = client("inspector").get("/api/sync/pull").json()["changes"]
    return next(one["id"] for one in changes if one["kind"] == "line")


def announced(client, line, **changes):
    body = {"sha256": MARK, "size": len(PICTURE), "media_type": "image/jpeg", "of_kind": "line", "of_record": line}
    return client.post("/api/photos", json={**body, **changes})


def part(client, offset, content, headers=PART):
    return client.patch(f"/api/photos/{MARK}", params={"offset": offset}, content=content, headers=headers)


def delivered(client, line):
    announced(client, line)
    return part(client, 0, PICTURE)


def test_a_phone_announces_delivers_in_parts_and_is_told_how_much_is_here(client, line):
    phone = client("collector")
    asked = announced(phone, line, made_at="2027-08-01T08:05:00+10:00")
    assert asked.status_code == 200
    assert asked.json() == {
        "sha256": MARK,
        "size": len(PICTURE),
        "offset": 0,
        "whole": False,
        "part_bytes": 1_000_000,
    }
    assert part(phone, 0, PICTURE[:1000]).json()["offset"] == 1000
    assert announced(phone, line).json()["offset"] == 1000
    assert part(phone, 1000, PICTURE[1000:]).json()["whole"] is True
    assert announced(phone, line).json()["whole"] is True


def test_a_part_behind_a_gap_is_a_problem_with_the_offset_to_go_on_from(client, line):
    # RFC 9457, 3.2: extension members.
    phone = client("collector")
    announced(phone, line)
    part(phone, 0, PICTURE[:1000])
    response = part(phone, 1500, PICTURE[1500:])
    assert response.status_code == 409
    assert response.headers["content-type"] == "application/problem+json"
    problem = response.json()
    assert problem["offset"] == 1000
    assert {"type", "title", "status", "detail"} < set(problem)
    assert "go on from 1000" in problem["detail"]


def test_another_hash_is_a_problem_that_begins_anew_and_no_picture_is_final(client, line):
    phone = client("collector")
    announced(phone, line)
    response = part(phone, 0, PICTURE[:-1] + b"?")
    assert (response.status_code, response.json()["offset"]) == (409, 0)
    assert "SHA-256" in response.json()["detail"]
    words = b"a photo of a crab"
    mark = hashlib.sha256(words).hexdigest()
    announced(phone, line, sha256=mark, size=len(words))
    response = phone.patch(f"/api/photos/{mark}", params={"offset": 0}, content=words, headers=PART)
    assert response.status_code == 422
    assert "offset" not in response.json()
    assert "no picture that can be read" in response.json()["detail"]


def test_every_reader_is_shown_the_picture_and_administrators_alone_the_original(client, line):
    delivered(client("collector"), line)
    for role in ("collector", "curator", "administrator", "inspector"):
        response = client(role).get(f"/api/photos/{MARK}")
        assert (response.status_code, response.headers["content-type"]) == (200, "image/jpeg")
        assert [one for one in PLANTED if one in response.content] == []
        original = client(role).get(f"/api/photos/{MARK}/original")
        assert original.status_code == (200 if role == "administrator" else 403)
    original = client("administrator").get(f"/api/photos/{MARK}/original")
    assert original.content == PICTURE
    assert original.headers["content-disposition"] == f'attachment; filename="{MARK}.jpeg"'
    assert original.headers["content-type"] == "application/octet-stream"
    assert original.headers["x-content-type-options"] == "nosniff"
    assert client().get(f"/api/photos/{MARK}").status_code == 401


def test_the_original_is_no_paper_that_readers_may_fetch(client, line):
    delivered(client("collector"), line)
    assert client("inspector").get(f"/api/documents/{MARK}").status_code == 404


def test_what_is_not_whole_is_not_shown(client, line):
    phone = client("collector")
    announced(phone, line)
    part(phone, 0, PICTURE[:1000])
    assert phone.get(f"/api/photos/{MARK}").status_code == 404
    assert client("administrator").get(f"/api/photos/{MARK}/original").status_code == 404


def test_the_photos_of_a_trip_are_listed_with_what_they_show(client, line):
    phone = client("collector")
    delivered(phone, line)
    changes = phone.get("/api/sync/pull").json()["changes"]
    trip = next(one["id"] for one in changes if one["kind"] == "trip")
    (pulled,) = [one for one in changes if one["kind"] == "photo"]
    (told,) = client("inspector").get(f"/api/trips/{trip}/photos").json()
    assert (told["sha256"], told["of_kind"], told["of_record"], told["received"]) == (MARK, "line", line, len(PICTURE))
    assert told["whole_at"] is not None
    assert (pulled["id"], pulled["trip"], pulled["parent"]) == (told["id"], trip, line)
    assert phone.get("/api/trips/none/photos").status_code == 404
    assert phone.get("/api/trips/T1/photos").json() == [told]


def test_a_part_says_what_it_is_and_how_long(client, line):
    phone = client("collector")
    announced(phone, line)
    assert part(phone, 0, PICTURE, {"Content-Type": "application/json"}).status_code == 415
    assert part(phone, 0, PICTURE, {}).status_code == 415
    assert part(phone, 0, iter([PICTURE])).status_code == 411
    assert part(phone, 0, PICTURE + b"!").status_code == 422
    assert announced(phone, line).json()["offset"] == 0


@pytest.mark.parametrize(
    "changes",
    [
        {"sha256": MARK.upper()},
        {"sha256": "../" * 21 + "a"},
        {"size": 0},
        {"size": 2**31},
        {"media_type": "image/svg+xml"},
        {"of_kind": "person"},
        {"of_record": ""},
        {"made_at": "2027-08-01T08:05:00"},
        {"place": "Reed Ford"},
    ],
    ids=str,
)
def test_an_announcement_that_cannot_be_is_told(client, line, changes):
    response = announced(client("collector"), line, **changes)
    assert response.status_code == 422
    assert response.json()["faults"]


def test_bounds_of_photo_and_part_are_told(served, store, tmp_path, line):
    token = {"Authorization": f"Bearer {token_for(store, 'collector')}"}
    bounds = {"most_photo_bytes": 10_000, "most_part_bytes": 1000, "requests_a_minute": 1000}
    with TestClient(build_app(Settings(data=tmp_path, **bounds), store), base_url=HOST, headers=token) as phone:
        large = announced(phone, line, size=10_001)
        asked = announced(phone, line)
        part_too_large = part(phone, 0, PICTURE[:1001])
        fits = part(phone, 0, PICTURE[:1000])
    assert large.status_code == 413
    assert "at most 10000 bytes" in large.json()["detail"]
    assert asked.json()["part_bytes"] == 1000
    assert part_too_large.status_code == 413
    assert "at most 1000 bytes" in part_too_large.json()["detail"]
    assert fits.json()["offset"] == 1000


def test_a_part_is_never_larger_than_a_request_may_be():
    assert Settings(most_body_bytes=10_000).part_bytes == 10_000
    assert Settings(most_body_bytes=8_000_000, most_part_bytes=500_000).part_bytes == 500_000


def test_nothing_that_stands_in_a_photo_comes_into_the_log(client, line):
    with capture_logs() as log:
        delivered(client("collector"), line)
        client("administrator").get(f"/api/photos/{MARK}/original")
    told = repr(log)
    assert f"/api/photos/{MARK}" in told
    assert not any(one.decode() in told for one in PLANTED)
