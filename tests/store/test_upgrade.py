"""A database made by the first step, with the sample season in it, comes through to the last one."""

from __future__ import annotations

from sqlalchemy import text

from api.operations.importing import import_files
from api.store.audit import first_broken
from api.store.engine import open_engine
from api.store.migrating import migrate, newest_step, step_of
from api.store.seasons import season_from
from api.store.unit_of_work import Actor, Store
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES

FIRST = "20261125_first"


def test_the_sample_season_comes_through_every_step(empty_url, tmp_path, clock):
    engine = open_engine(empty_url)
    migrate(engine, FIRST)
    store = Store(engine, clock)
    import_files(store, tmp_path / "files", SAMPLE_AUTHORITIES, [SAMPLE], Actor())
    with store.reading() as session:
        before, stood = season_from(session), first_broken(session)
    assert step_of(engine) == FIRST
    assert stood[1] is None
    assert migrate(engine) == FIRST
    assert step_of(engine) == newest_step() != FIRST
    with store.reading() as session:
        assert season_from(session) == before
        assert first_broken(session) == stood
        # What later steps brought is there, and empty.
        assert session.connection().execute(text("SELECT count(*) FROM acquisition")).scalar_one() == 0
    engine.dispose()
