"""Databases in which nothing is yet."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from api.store.engine import open_engine


@pytest.fixture
def empty_url(request, database_url, tmp_path):
    """Give the address of a database in which nothing is, on the engine that ``store`` runs on, but not its own."""
    if database_url.startswith("sqlite"):
        return f"sqlite:///{tmp_path / 'empty.db'}"
    url = request.getfixturevalue("postgresql_maker")()
    engine = open_engine(url)
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()
    return url


@pytest.fixture
def empty(empty_url):
    engine = open_engine(empty_url)
    yield engine
    engine.dispose()
