"""The records of a study of many cases: one sqlite file, safe to kill, to share and to carry away.

    study     name, value                        title, question, want, dimensions, format: once
    plan      place, id, varied                  the cases in order, with the keys that differ between them
    rests     id, stamp                          code, values and versions behind a record: once for all that share them
    laws      id, files                          digests of the laws that a record used, likewise
    records   id, want, rests, laws, found, problem, lasting
    claims    id, want, run, host, pid, until    who solves a case now

A record is written in one transaction, which also ends its claim (write-ahead log, synchronous). A run claims cases
before it solves them: two runs on one study share the work. A claim ends with its process, on this machine at once, on
another when its lease is over. A record counts as long as its stamp and its laws are what they are now; a problem that
is not lasting (out of memory, a killed process) is tried again. A file of another format is refused.
"""

from __future__ import annotations

import errno
import json
import os
import socket
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import time
from typing import Any
from uuid import uuid4

from ..case.toml import CaseError
from .laws import law_changed
from .lock import Busy

FORMAT, MARK = 1, 0x69636543  # of the file; that it is ours
LEASE, PATIENCE = 120.0, 60.0  # s, of a claim; that a write waits for another's
_TABLES = """
CREATE TABLE study (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE plan (place INTEGER PRIMARY KEY, id TEXT NOT NULL, varied TEXT NOT NULL);
CREATE TABLE rests (id INTEGER PRIMARY KEY, stamp TEXT NOT NULL UNIQUE);
CREATE TABLE laws (id INTEGER PRIMARY KEY, files TEXT NOT NULL UNIQUE);
CREATE TABLE records (id TEXT, want TEXT, rests INTEGER NOT NULL, laws INTEGER NOT NULL, found TEXT NOT NULL,
    problem TEXT NOT NULL, lasting INTEGER NOT NULL, PRIMARY KEY (id, want)) WITHOUT ROWID;
CREATE TABLE claims (id TEXT, want TEXT, run TEXT NOT NULL, host TEXT NOT NULL, pid INTEGER NOT NULL,
    until REAL NOT NULL, PRIMARY KEY (id, want)) WITHOUT ROWID;
"""
_ERRORS = {"SQLITE_FULL": errno.ENOSPC, "SQLITE_CANTOPEN": errno.EACCES, "SQLITE_READONLY": errno.EROFS}


@dataclass(frozen=True, slots=True)
class Record:
    """What a case came to. found : columns with their values.  laws : digest of each that it used.

    problem : why there is no answer, "" if there is one; lasting : the same case would come to it again.
    """

    id: str
    found: Mapping[str, Any]
    laws: Mapping[str, str]
    problem: str = ""
    lasting: bool = True


@dataclass(frozen=True, slots=True)
class Kept:
    """All that is kept of a study: about : by name.  cases : id and varied keys in order.  records : by id."""

    about: Mapping[str, Any]
    cases: tuple[tuple[str, Mapping[str, Any]], ...]
    records: Mapping[str, Record]
    stamps: tuple[str, ...]


class Records:
    """An open file of records. Raises CaseError for a file that is none of ours, OSError if it cannot be written."""

    def __init__(self, path: Path, want: Sequence[str] = ()) -> None:
        self.path, self.want, self.run = path, ",".join(want), uuid4().hex
        self._claims = False
        with _named(path):
            self._file = sqlite3.connect(path, timeout=PATIENCE, isolation_level=None)
            try:
                self._begin()
            except BaseException:
                self._file.close()
                raise

    def _begin(self) -> None:
        """Make the tables of a new file; see that an old one is of this format, before anything is changed."""
        if not self._mark()[0] and not self._ask("SELECT name FROM sqlite_master"):
            with self._transaction():
                if not self._ask("SELECT name FROM sqlite_master"):
                    for statement in _TABLES.strip().split(";\n"):
                        self._ask(statement.rstrip(";"))
                    self._ask(f"PRAGMA application_id = {MARK}")
                    self._ask(f"PRAGMA user_version = {FORMAT}")
        mark, version = self._mark()
        if mark != MARK:
            raise CaseError(f"{self.path}: not the records of a study: move it away, or name another folder")
        if version != FORMAT:
            raise CaseError(f"{self.path}: format = {version}: must be {FORMAT}: move it away and run the study again")
        self._ask("PRAGMA journal_mode = WAL")
        self._ask("PRAGMA synchronous = FULL")

    def _mark(self) -> tuple[int, int]:
        mark, version = (self._ask(f"PRAGMA {name}")[0][0] for name in ("application_id", "user_version"))
        return mark, version

    def _ask(self, statement: str, values: Sequence[Any] = ()) -> list[Any]:
        return self._file.execute(statement, values).fetchall()

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """All or nothing, and nobody else meanwhile."""
        with _named(self.path):
            self._ask("BEGIN IMMEDIATE")
            try:
                yield
                self._ask("COMMIT")
            except BaseException:
                if self._file.in_transaction:
                    self._ask("ROLLBACK")
                raise

    def plan(self, about: Mapping[str, Any], cases: Iterable[tuple[str, Mapping[str, Any]]]) -> None:
        """Say which study this is. Raises Busy if a run is at work on another one here."""
        rows = [(place, name, _json(varied)) for place, (name, varied) in enumerate(cases)]
        said = {name: _json(value) for name, value in about.items()}
        with self._transaction():
            same = dict(self._ask("SELECT name, value FROM study")) == said
            if same and self._ask("SELECT place, id, varied FROM plan ORDER BY place") == rows:
                return
            if any(not self._is_over(*of) for of in self._ask("SELECT host, pid, until FROM claims")):
                raise Busy(f"{self.path}: a run is at work on another study there: wait for it, or name another folder")
            for table in ("study", "plan", "claims"):
                self._ask(f"DELETE FROM {table}")
            self._file.executemany("INSERT INTO study VALUES (?, ?)", said.items())
            self._file.executemany("INSERT INTO plan VALUES (?, ?, ?)", rows)

    def finished(self, stamp: str, among: Collection[str] | None = None) -> set[str]:
        """Cases that need not be solved again; of some, or of all."""
        question = (
            "SELECT records.id, files, problem, lasting FROM records JOIN rests ON rests = rests.id "
            "JOIN laws ON laws = laws.id WHERE want = ? AND stamp = ?"
        )
        with _named(self.path):
            rows = [] if among is not None else self._ask(question, (self.want, stamp))
            for name in among or ():
                rows += self._ask(f"{question} AND records.id = ?", (self.want, stamp, name))
        changed = {files: bool(law_changed(json.loads(files))) for files in {row[1] for row in rows}}
        return {name for name, files, problem, lasting in rows if not changed[files] and (not problem or lasting)}

    def claim(self, cases: Sequence[str]) -> set[str]:
        """Those of the cases that this run may solve from now on, as no other does."""
        now, granted, self._claims = time(), set(), True
        with self._transaction():
            for name in cases:
                held = self._ask(
                    "SELECT run, host, pid, until FROM claims WHERE id = ? AND want = ?", (name, self.want)
                )
                if not held or held[0][0] == self.run or self._is_over(*held[0][1:]):
                    own = (name, self.want, self.run, socket.gethostname(), os.getpid(), now + LEASE)
                    self._ask("INSERT OR REPLACE INTO claims VALUES (?, ?, ?, ?, ?, ?)", own)
                    granted.add(name)
        return granted

    def let_go(self, cases: Collection[str]) -> None:
        """End the claims of cases that are not solved after all."""
        with self._transaction():
            for name in cases:
                self._ask("DELETE FROM claims WHERE id = ? AND want = ? AND run = ?", (name, self.want, self.run))

    @staticmethod
    def _is_over(host: str, pid: int, until: float) -> bool:
        if until < time():
            return True
        if host != socket.gethostname() or os.name != "posix":
            return False
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return True
        except PermissionError:
            pass
        return False

    def go_on(self) -> None:
        """Renew the claims of this run."""
        with self._transaction():
            self._ask("UPDATE claims SET until = ? WHERE run = ?", (time() + LEASE, self.run))

    def keep(self, records: Iterable[Record], stamp: str) -> None:
        """Write records, and end their claims."""
        with self._transaction():
            for each in records:
                rests, laws = self._once("rests", "stamp", stamp), self._once("laws", "files", _json(each.laws))
                row = (each.id, self.want, rests, laws, _json(each.found), each.problem, int(each.lasting))
                self._ask("INSERT OR REPLACE INTO records VALUES (?, ?, ?, ?, ?, ?, ?)", row)
                self._ask("DELETE FROM claims WHERE id = ? AND want = ?", (each.id, self.want))

    def _once(self, table: str, column: str, value: str) -> int:
        self._ask(f"INSERT OR IGNORE INTO {table} ({column}) VALUES (?)", (value,))
        found: int = self._ask(f"SELECT id FROM {table} WHERE {column} = ?", (value,))[0][0]
        return found

    def take(self, other: Records, stamp: str) -> int:
        """Take over the records of another file that count now and are missing here; how many."""
        wanted = other.finished(stamp) - self.finished(stamp)
        found = [record for name, record in other.kept().records.items() if name in wanted]
        self.keep(found, stamp)
        return len(found)

    def kept(self) -> Kept:
        """All that is kept of what is wanted."""
        with _named(self.path):
            about = {name: json.loads(value) for name, value in self._ask("SELECT name, value FROM study")}
            want = self.want or ",".join(about.get("want", ()))
            cases = self._ask("SELECT id, varied FROM plan ORDER BY place")
            laws = {number: json.loads(files) for number, files in self._ask("SELECT id, files FROM laws")}
            stamps = dict(self._ask("SELECT id, stamp FROM rests"))
            rows = self._ask("SELECT id, rests, laws, found, problem, lasting FROM records WHERE want = ?", (want,))
        records = {
            name: Record(name, json.loads(found), laws[of], problem, bool(lasting))
            for name, _, of, found, problem, lasting in rows
        }
        used = tuple(sorted({stamps[row[1]] for row in rows}))
        return Kept(about, tuple((name, json.loads(varied)) for name, varied in cases), records, used)

    def close(self) -> None:
        """End this run's claims and close the file."""
        try:
            if self._claims:
                with self._transaction():
                    self._ask("DELETE FROM claims WHERE run = ?", (self.run,))
        finally:
            self._file.close()

    def __enter__(self) -> Records:
        return self

    def __exit__(self, *of: object) -> None:
        self.close()


def _json(value: Any) -> str:
    return json.dumps(dict(value) if isinstance(value, Mapping) else value, sort_keys=False, allow_nan=False)


@contextmanager
def _named(path: Path) -> Iterator[None]:
    """What sqlite says, as what the file is or cannot be."""
    try:
        yield
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", "")
        if name.startswith(("SQLITE_NOTADB", "SQLITE_CORRUPT")):
            raise CaseError(f"{path}: not the records of a study, or damaged: move it away") from None
        if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            raise Busy(f"{path}: another run is writing there: wait for it, or name another folder") from None
        code = next((code for start, code in _ERRORS.items() if name.startswith(start)), errno.EIO)
        raise OSError(code, f"{os.strerror(code)} ({error})", str(path)) from None
