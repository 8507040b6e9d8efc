"""Notes on what may be a slip of the pen: asked about, never refused (common practice, no source)."""

from datetime import UTC, datetime

import pytest

from api.domain.facts import Facts
from api.domain.slips import slips
from api.exchange.books import read_book, read_season
from tests.builders import authority_file, trips_file, write_season


def notes_of(folder, authority=None, trips=None):
    authority_path, trips_path = write_season(folder, authority, trips)
    book, faults = read_book([authority_path])
    season, season_faults = read_season([trips_path], book)
    assert [*faults, *season_faults] == []
    return slips(Facts.of(book, season, datetime(2027, 8, 2, tzinfo=UTC)))


def line(**changes):
    return {"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 2, **changes}


def test_an_ordinary_season_has_none(tmp_path):
    assert notes_of(tmp_path) == ()


@pytest.mark.parametrize(
    ("count", "told"),
    [(2, True), (3, False), (4, False), ("about 2 (1-3)", False), ("about 2 (1-2)", True)],
)
def test_more_lengths_than_animals_are_noted(tmp_path, count, told):
    lengths = [{"measure": "total length", "values": ["50", "51", "52"]}]
    notes = notes_of(tmp_path, trips=trips_file([line(count=count, measurements=lengths)]))
    said = [note for note in notes if "Line L1 measures 3 animals (total length) where at most 2 are counted" in note]
    assert len(said) == told


def test_a_haul_outside_its_trip_is_noted(tmp_path):
    trips = trips_file()
    trips["trips"][0]["hauls"][0] |= {"start": "2027-08-01T14:00", "end": "2027-08-01T14:10"}
    (note,) = notes_of(tmp_path, trips=trips)
    assert "Haul H1 began" in note
    assert "after its trip was back" in note


def test_a_word_that_permit_and_record_do_not_share_is_noted(tmp_path):
    rule = {
        "kind": "stage and sex",
        "number": "2",
        "text": "No berried females are kept.",
        "taxa": ["Galaxias"],
        "stages": ["berried"],
    }
    authority = authority_file(conditions=[*authority_file()["conditions"], rule])
    (note,) = notes_of(tmp_path, authority, trips_file([line(stage="egg-bearing")]))
    assert "speaks of the stage 'berried', which no record uses; records use 'egg-bearing'" in note
    assert notes_of(tmp_path, authority, trips_file([line(stage="berried")])) == ()
