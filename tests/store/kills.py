"""Kills a process at random moments of its edits, log files, photos, imports and migrations, and looks what is left.

``python -m tests.store.kills 200`` kills 200 times and says what was found. What the process had acknowledged must be
there; what it had not must be there whole or not at all. A killed process is not a power cut: nothing here tests
the disk.
"""

from __future__ import annotations

import multiprocessing
import random
import shutil
import sqlite3
import sys
import tempfile
import time
import uuid
from collections import Counter
from contextlib import closing
from hashlib import sha256
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from tests.store.conftest import SURVEY
from tests.store.first_schema import write_old_store

from airtally.store.edits import Edited, edit, history, text_of
from airtally.store.engine import Store, open_store
from airtally.store.folder import export_folder, import_folder
from airtally.store.listing import add_job, jobs
from airtally.store.logs import add_log, log_bytes, logs_of
from airtally.store.photos import add_photo
from airtally.store.texts import Change, tables_of, value_at

PHOTO = b"\xff\xd8\xff\xe0"
LONGEST = 0.6
"""Latest moment of a kill after the process began to work. [s]"""
MIGRATIONS = 10
"""One kill in so many hits the migration of an old store."""

RECENT = 60
"""Acknowledged deeds looked for after each kill; all of them after the last. [-]"""

Acknowledged = tuple[str, Any]


def work(path: Path, folder: Path, seed: int, tell: Connection) -> None:
    """Work on a store without end, telling of what is done as soon as it is."""
    rng = random.Random(seed)
    store = open_store(path)
    job = jobs(store)[-1].id if jobs(store) else add_job(store, SURVEY, "technician")
    tell.send(("started", None))
    while True:
        key = uuid.uuid4().hex
        deed = rng.choice(("edit", "log", "photo", "import", "import"))
        if deed == "edit":
            change = Change(path=("zone", rng.randrange(2), "volume"), value=f"{rng.randrange(10**9)} m3")
            done = edit(store, job, "survey", [change], text_of(store, job, "survey")[1], "technician", key)
            assert isinstance(done, Edited)
            tell.send((deed, (job, done.revision, change.value)))
        elif deed == "log":
            log = add_log(store, job, f"{key[:3]}.csv", rng.randbytes(60_000), "technician", key)
            tell.send((deed, (log.id, log.digest)))
        elif deed == "photo":
            photo = add_photo(store, job, "a.jpg", PHOTO + rng.randbytes(30_000), "zone/living", "", "technician", key)
            tell.send((deed, (photo.id, photo.digest)))
        else:
            _write_folder(folder / key, rng)
            tell.send((deed, (import_folder(store, folder / key, "technician"), folder / key)))


def migrate(path: Path, _folder: Path, _seed: int, tell: Connection) -> None:
    """Open an old store."""
    tell.send(("started", None))
    open_store(path).close()
    tell.send(("migrated", None))


def _write_folder(folder: Path, rng: random.Random) -> None:
    (folder / "logs").mkdir(parents=True)
    (folder / "photos").mkdir()
    (folder / "survey.toml").write_text(SURVEY.replace("Invented Lane", f"Lane {rng.randrange(10**9)}"))
    (folder / "visits.toml").write_text("schema = 1\n")
    for number in range(4):
        (folder / "logs" / f"{number}.csv").write_bytes(rng.randbytes(40_000))
    (folder / "photos" / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + rng.randbytes(20_000))


def kill_often(times: int, seed: int, home: Path) -> Counter[str]:
    """Kill that many times and return what was counted; raises AssertionError for anything lost or half there."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    rng = random.Random(seed)
    counts: Counter[str] = Counter()
    known: list[Acknowledged] = []
    for turn in range(times):
        is_migration = turn % MIGRATIONS == MIGRATIONS - 1
        path = home / ("old.sqlite" if is_migration else "company.sqlite")
        if is_migration:
            for old in home.glob("old.sqlite*"):
                old.unlink()
            write_old_store(path)
        listen, tell = context.Pipe(duplex=False)
        target = migrate if is_migration else work
        process = context.Process(target=target, args=(path, home / "folders", rng.randrange(10**9), tell))
        process.start()
        tell.close()
        assert listen.recv() == ("started", None)
        time.sleep(rng.uniform(0.0, LONGEST))
        process.kill()
        process.join()
        acknowledged = _drain(listen)
        counts.update(["kills", *(deed for deed, _ in acknowledged)])
        if is_migration:
            check_migration(path)
        else:
            known += acknowledged
            check(path, known[-RECENT:], home, counts)
    check(home / "company.sqlite", known, home, counts)
    return counts


def _drain(listen: Connection) -> list[Acknowledged]:
    found = []
    while True:
        try:
            found.append(listen.recv())
        except (EOFError, OSError):  # the last message may be cut off: it was not acknowledged
            return found


def check(path: Path, known: list[Acknowledged], home: Path, counts: Counter[str]) -> None:
    """Check a store against what was acknowledged."""
    if path.exists():
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    store = open_store(path)
    try:
        listed = jobs(store)
        files = {log.id: log.digest for line in listed for log in logs_of(store, line.id)}
        lines = {line.id: {row.number: row.after for row in history(store, line.id)} for line in listed}
        for deed, what in known:
            if deed == "edit":
                job, revision, value = what
                assert lines[job][revision] == value
            elif deed == "log":
                log, digest = what
                assert files[log] == digest
                assert sha256(log_bytes(store, digest)).hexdigest() == digest
            elif deed == "photo":
                assert (store.photos / what[1][:2] / what[1]).is_file()
            elif deed == "import":
                assert what[0] in lines
        for line in listed:
            assert sorted(lines[line.id]) == list(range(1, line.revision + 1))
            first = text_of(store, line.id, "survey", revision=1)[0]
            assert first.startswith(SURVEY[:30])  # through every cut since
        _check_imports(store, known, home, counts)
        for photo in store.photos.glob("*/*"):
            assert photo.suffix == ".draft" or sha256(photo.read_bytes()).hexdigest() == photo.name
    finally:
        store.close()


def _check_imports(store: Store, known: list[Acknowledged], home: Path, counts: Counter[str]) -> None:
    """Check that each folder is a job byte for byte or no job at all."""
    acknowledged = {what[1].name: what[0] for deed, what in known if deed == "import"}
    listed = {line.name: line.id for line in jobs(store)}
    for folder in (home / "folders").glob("*"):
        survey = folder / "survey.toml"
        name = value_at(tables_of(survey.read_text()), ("home", "name")) if survey.exists() else None
        job = listed.get(str(name))
        assert job is not None or folder.name not in acknowledged
        if job is not None:
            counts["imported, not acknowledged"] += folder.name not in acknowledged
            out = home / "out"
            export_folder(store, job, out)
            assert files_of(out) == files_of(folder)
            shutil.rmtree(out)
        shutil.rmtree(folder)  # looked at once: the next turn brings its own


def check_migration(path: Path) -> None:
    """Check that an old store is whole, migrated or not yet."""
    store = open_store(path)
    (line,) = jobs(store)
    assert text_of(store, line.id, "survey", revision=1)[0] == SURVEY
    assert [row.number for row in history(store, line.id)] == [3, 2, 1]
    assert len(logs_of(store, line.id)) == 1
    assert len(jobs(store, are_set_aside=True)) == 1
    store.close()


def files_of(folder: Path) -> dict[str, bytes]:
    """Return the bytes of a folder's files by name."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def main() -> None:
    """Kill as often as the first argument says, from the seed of the second."""
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as scratch:
        counts = kill_often(int(sys.argv[1]), seed=int(sys.argv[2]) if len(sys.argv) > 2 else 1, home=Path(scratch))
    print(f"nothing lost, nothing half there; {dict(counts)}; {time.monotonic() - begun:.0f} s")  # noqa: T201 - a verb


if __name__ == "__main__":
    sys.modules["__main__"].__spec__ = None  # the children take their work from the module by its name
    from tests.store.kills import main as run

    run()
