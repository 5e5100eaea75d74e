"""Long work: asked for, claimed by a worker for a while, told of, cancelled, finished; it survives its worker's death."""

from __future__ import annotations

import uuid
from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.store.engine import Store
from airtally.store.listing import find_job
from airtally.store.models import Work

LEASE = timedelta(seconds=60)
"""How long a worker may be silent before another takes its work up."""
MOST_TRIES = 3
"""Workers that may die over a work before it is given up."""
OPEN = ("waiting", "running")


def ask(store: Store, job: uuid.UUID, kind: str, seed: int) -> Work:
    """Ask for work on a job as it stands now; the same work that still waits or runs is returned, not doubled."""
    with store.write() as session:
        revision = find_job(session, job).revision
        same = session.scalars(
            select(Work).where(
                Work.job_id == job,
                Work.kind == kind,
                Work.seed == seed,
                Work.revision == revision,
                Work.state.in_(OPEN),
                Work.is_cancel_asked.is_(False),
            )
        ).first()
        if same is not None:
            return same
        work = Work(
            id=uuid.uuid4(), job_id=job, kind=kind, seed=seed, revision=revision, state="waiting", asked_at=store.now()
        )
        session.add(work)
        session.flush()
        return work


def claim(store: Store, worker: str) -> Work | None:
    """Take up the oldest work that waits, or whose worker fell silent; None where there is none."""
    with store.write() as session:
        due = select(Work).where(
            (Work.state == "waiting") | ((Work.state == "running") & (Work.lease_until < store.now()))
        )
        for work in session.scalars(due.order_by(Work.asked_at, Work.id).with_for_update()):
            if work.is_cancel_asked:
                _end(store, work, "cancelled", "cancelled")
            elif work.tries >= MOST_TRIES:
                _end(store, work, "failed", f"its worker stopped {work.tries} times; ask again, or look at the inputs")
            else:
                work.state, work.worker, work.tries = "running", worker, work.tries + 1
                work.lease_until = store.now() + LEASE
                return work
    return None


def tell(store: Store, work: uuid.UUID, worker: str, words: str | None = None) -> bool:
    """Say that a worker is still at its work, and what it is doing; return whether it is to go on.

    It is not, where the work was cancelled or another worker has it.
    """
    with store.write() as session:
        found = _find(session, work)
        if not _holds(found, worker) or found.is_cancel_asked:
            return False
        found.lease_until = store.now() + LEASE
        if words is not None:
            found.words = words
        return True


def cancel(store: Store, work: uuid.UUID) -> Work:
    """Cancel a work: one that waits ends at once, one that runs when its worker next tells of it."""
    with store.write() as session:
        found = _find(session, work)
        if found.state in OPEN:
            found.is_cancel_asked = True
        if found.state == "waiting":
            _end(store, found, "cancelled", "cancelled")
        return found


def finish(store: Store, work: uuid.UUID, worker: str, failure: str = "") -> bool:
    """End a work, as failed if a reason is given, as cancelled if that was asked; False where another worker has it."""
    with store.write() as session:
        found = _find(session, work)
        if not _holds(found, worker):
            return False
        if found.is_cancel_asked:
            _end(store, found, "cancelled", "cancelled")
        else:
            _end(store, found, "failed" if failure else "done", failure)
        return True


def work_of(store: Store, work: uuid.UUID) -> Work:
    """Return a work as it stands; raises InputError if there is none."""
    with store.read() as session:
        return _find(session, work)


def works_of(store: Store, job: uuid.UUID) -> tuple[Work, ...]:
    """Return a job's works, the newest first."""
    with store.read() as session:
        return tuple(session.scalars(select(Work).where(Work.job_id == job).order_by(Work.asked_at.desc(), Work.id)))


def _holds(work: Work, worker: str) -> bool:
    return work.state == "running" and work.worker == worker


def _end(store: Store, work: Work, state: str, words: str) -> None:
    work.state, work.words, work.ended_at, work.lease_until = state, words, store.now(), None


def _find(session: Session, work: uuid.UUID) -> Work:
    found = session.get(Work, work)
    if found is None:
        raise InputError(f"no work has the id {work}; ask for it again")
    return found
