"""Fixtures for tests of the log: an empty place on SQLite, and one on PostgreSQL where a server is named.

TUNING_TEST_POSTGRESQL holds the URL of a database in which schemas may be made; `.ci/postgresql` prints one.
"""

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import sqlalchemy as sa


def server() -> sa.URL:
    """The PostgreSQL database to test on; without one the test is skipped, or fails where CI promised one."""
    named = os.environ.get("TUNING_TEST_POSTGRESQL")
    if named:
        return sa.make_url(named).set(drivername="postgresql+psycopg")
    reason = 'no PostgreSQL named in TUNING_TEST_POSTGRESQL; try: eval "$(.ci/postgresql)"'
    if os.environ.get("TUNING_CI") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


@contextmanager
def own_schema() -> Iterator[str]:
    """URL of an empty schema on the server, dropped at the end."""
    url, schema = server(), f"test_{uuid.uuid4().hex}"
    engine = sa.create_engine(url, poolclass=sa.NullPool)
    with engine.begin() as conn:
        conn.exec_driver_sql(f"CREATE SCHEMA {schema}")
    yield url.update_query_dict({"options": f"-csearch_path={schema}"}).render_as_string(hide_password=False)
    with engine.begin() as conn:
        conn.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")


@pytest.fixture
def postgresql_url() -> Iterator[str]:
    """URL of an empty schema of its own."""
    with own_schema() as url:
        yield url


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """URL of a SQLite file that isn't there yet."""
    return f"sqlite:///{tmp_path / 'shop.db'}"


@pytest.fixture(params=["sqlite", "postgresql"])
def log_url(request: pytest.FixtureRequest) -> str:
    """An empty place for a log, on each database in turn."""
    return str(request.getfixturevalue(f"{request.param}_url"))


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shared_url(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """One place for many quick tests, each with a truck of its own."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path_factory.mktemp('shared') / 'shop.db'}"
    else:
        with own_schema() as url:
            yield url
