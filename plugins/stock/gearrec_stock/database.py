"""Reads the shop's database: never writes, binds every parameter, and waits for a limited time.

No driver can be trusted to keep a time limit in every state of a network, so each reading has a
thread of its own, which is left alone when its time is over.
"""

from __future__ import annotations

import logging
import sqlite3
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import and_, create_engine, event, or_, select
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from gearrec_stock import tables
from gearrec_stock.entries import RING_GEAR_TOLERANCE_MM, Row, stock_of
from gearrec_stock.shelf import AxleKey, Stock, StockError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from sqlalchemy.sql import ColumnElement, Select
    from sqlalchemy.sql.schema import Table

CONNECT_SECONDS = 2.0
QUERY_SECONDS = 3.0
REST_SECONDS = 5.0
"""How long a database that failed is left alone, so that a batch of jobs does not wait for each."""

_MOST_ROWS = 2_000
_log = logging.getLogger("gearrec_stock")
_log.addHandler(logging.NullHandler())  # an application that wants the log asks for it

# Each session is told to read only; SQLite is opened read-only instead.
_SESSION: Mapping[str, tuple[str, ...]] = {
    "postgresql": (
        "SET SESSION CHARACTERISTICS AS TRANSACTION READ ONLY",
        "SET statement_timeout = {milliseconds:d}",
    ),
    "mysql": (
        "SET SESSION TRANSACTION READ ONLY",
        "SET SESSION max_execution_time = {milliseconds:d}",
    ),
    "mariadb": (
        "SET SESSION TRANSACTION READ ONLY",
        "SET SESSION max_statement_time = {seconds:g}",
    ),
}
_CONNECT_ARGUMENT: Mapping[str, str] = {
    "mysqldb": "connect_timeout",
    "pg8000": "timeout",
    "psycopg": "connect_timeout",
    "psycopg2": "connect_timeout",
    "pymysql": "connect_timeout",
}
_OF_AXLES = (tables.gear_set, tables.carrier, tables.install_kit, tables.labor)


class Database:
    """One database, read for one job after the other. Safe to share between threads."""

    def __init__(
        self,
        url: str,
        *,
        connect_seconds: float = CONNECT_SECONDS,
        query_seconds: float = QUERY_SECONDS,
        rest_seconds: float = REST_SECONDS,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._connect_seconds = connect_seconds
        self._query_seconds = query_seconds
        self._rest_seconds = rest_seconds
        self._clock = clock
        self._lock = threading.Lock()
        self._failure: tuple[float, str] | None = None
        self._url = url
        self._engine: Engine | None = None

    def read(self, axles: Sequence[AxleKey], *, fuel: str) -> Stock:
        """What the stock holds for the axles of one job and its fuel.

        Raises: StockError, whatever goes wrong: no database, no answer in time, other tables, an
        entry that cannot be used. After a fault of the connection the next readings fail at once,
        for `rest_seconds`.
        """
        with self._lock:
            if self._failure is not None and self._clock() < self._failure[0]:
                raise StockError(self._failure[1])
            self._failure = None
        try:
            rows = self._in_time(axles, fuel)
        except StockError as error:
            with self._lock:
                self._failure = (self._clock() + self._rest_seconds, str(error))
            said = error.__cause__
            told = _one_line(_cause(said)) if isinstance(said, DBAPIError) else ""
            _log.warning(
                "the stock at %s cannot be read: %s %s", _shown(self._url), str(error), told
            )
            raise
        try:
            return stock_of(rows, axles=axles)
        except StockError as error:
            _log.warning("the stock at %s has unusable entries: %s", _shown(self._url), str(error))
            raise

    def _in_time(self, axles: Sequence[AxleKey], fuel: str) -> dict[str, list[Row]]:
        outcome: list[dict[str, list[Row]] | Exception] = []

        def work() -> None:
            try:
                with self._made().connect() as connection:
                    outcome.append(_rows(connection, axles, fuel))
            except Exception as error:  # drivers raise what they like; all of it is one fault
                outcome.append(error)

        thread = threading.Thread(target=work, name="gearrec-stock", daemon=True)
        thread.start()
        limit = self._connect_seconds + self._query_seconds
        thread.join(limit)
        if not outcome:
            raise StockError(f"no answer within {limit:g} s")
        if isinstance(outcome[0], Exception):
            raise StockError(_words(outcome[0])) from outcome[0]
        return outcome[0]

    def _made(self) -> Engine:
        with self._lock:
            if self._engine is None:
                self._engine = _engine(
                    make_url(self._url),
                    connect_seconds=self._connect_seconds,
                    query_seconds=self._query_seconds,
                )
            return self._engine


def session_statements(dialect: str, *, query_seconds: float) -> tuple[str, ...]:
    """What a new session of a kind of database is told: to read only, and for how long."""
    return tuple(
        statement.format(seconds=query_seconds, milliseconds=round(query_seconds * 1000))
        for statement in _SESSION.get(dialect, ())
    )


def _engine(url: URL, *, connect_seconds: float, query_seconds: float) -> Engine:
    if url.drivername in ("sqlite", "sqlite+pysqlite"):
        if url.database in (None, "", ":memory:"):
            raise StockError("the address names no SQLite file, such as sqlite:////shop/stock.db")
        return create_engine(
            "sqlite://",
            creator=_read_only(Path(url.database), connect_seconds, query_seconds),
            poolclass=NullPool,
        )
    driver = url.get_driver_name()
    named = _CONNECT_ARGUMENT.get(driver)
    limits = {named: max(1, round(connect_seconds))} if named else {}
    engine = create_engine(
        url, connect_args=limits, pool_pre_ping=True, pool_timeout=connect_seconds
    )
    statements = session_statements(engine.dialect.name, query_seconds=query_seconds)

    @event.listens_for(engine, "connect")
    def _limit(connection: Any, _record: Any) -> None:
        cursor = connection.cursor()
        for statement in statements:
            cursor.execute(statement)
        cursor.close()
        # A rollback would take the settings back.
        connection.commit()

    return engine


def _read_only(
    path: Path, connect_seconds: float, query_seconds: float
) -> Callable[[], sqlite3.Connection]:
    address = path.absolute().as_uri() + "?mode=ro"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(
            address, uri=True, timeout=connect_seconds, check_same_thread=False
        )
        end = time.monotonic() + query_seconds
        connection.set_progress_handler(lambda: time.monotonic() > end, 10_000)
        return connection

    return connect


def _rows(connection: Connection, axles: Sequence[AxleKey], fuel: str) -> dict[str, list[Row]]:
    fuels = tables.fuel_price
    statements = {table.name: _statement(table, axles) for table in _OF_AXLES}
    statements["terms"] = select(tables.terms)
    statements["fuel_price"] = select(fuels).where(fuels.c.fuel == fuel)
    found: dict[str, list[Row]] = {}
    for name, statement in statements.items():
        result = connection.execute(statement.limit(_MOST_ROWS + 1))
        found[name] = [dict(row) for row in result.mappings()]
        if len(found[name]) > _MOST_ROWS:
            raise StockError(f"table {name}: more than {_MOST_ROWS} rows for one vehicle")
    return found


def _statement(table: Table, axles: Sequence[AxleKey]) -> Select[Any]:
    return select(table).where(or_(*(_belongs(table, axle) for axle in axles))).order_by(table.c.id)


def _belongs(table: Table, axle: AxleKey) -> ColumnElement[bool]:
    low, high = (axle.ring_gear_mm + side * RING_GEAR_TOLERANCE_MM for side in (-1, 1))
    like = and_(
        table.c.axle.is_(None),
        table.c.position == axle.position,
        table.c.ring_gear_mm.between(low, high),
    )
    return or_(table.c.axle.in_(axle.ids), like) if axle.ids else like


def _words(error: Exception) -> str:
    """What went wrong, on one line, fit for a report that leaves the shop.

    Drivers of servers name hosts and users, and SQLAlchemy repeats an address that it cannot read,
    password and all: of those only the kind of the error is told.
    """
    if isinstance(error, StockError):
        return str(error)
    cause = _cause(error)
    kind = type(cause).__name__
    return f"{kind}: {_one_line(cause)}" if isinstance(cause, sqlite3.Error) else kind


def _cause(error: BaseException) -> BaseException:
    """What the driver said, without the statement that SQLAlchemy adds."""
    return error.orig if isinstance(error, DBAPIError) and error.orig is not None else error


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split())[:200]


def _shown(url: str) -> str:
    try:
        return make_url(url).render_as_string(hide_password=True)
    except (SQLAlchemyError, ValueError):
        return "an address that is no database URL"
