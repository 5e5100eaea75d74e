"""A post is answered once: a device that sends it again, because the connection dropped, gets the first answer."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime
from hashlib import sha256
from typing import Any

from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.store.models import Post
from airtally.store.texts import in_json


def once(
    session: Session,
    job: uuid.UUID,
    post: str,
    request: list[Any],
    now: datetime,
    act: Callable[[], dict[str, Any]],
) -> dict[str, Any]:
    """Return the answer to a post: the first one if it came before, else what ``act`` answers.

    Parameters
    ----------
    session : Session
        One that writes; the answer is kept with what was done, or neither is.
    post : str
        Key that the device made.
    request : list
        What is asked, as far as JSON can say it.

    Raises
    ------
    InputError
        If the key is empty or too long, or came before with another wish.
    """
    if not 0 < len(post) <= 200:
        raise InputError(f"a post needs a key of 1 to 200 characters; got {len(post)}")
    asked = sha256(in_json([str(job), *request]).encode()).hexdigest()
    known = session.get(Post, post)
    if known is None:
        answer = act()
        session.add(Post(key=post, job_id=job, request=asked, answer=answer, made_at=now))
        return answer
    if known.request != asked:
        raise InputError(f"the key {post!r} was used for another post; nothing was changed. Send it with a new key")
    return known.answer
