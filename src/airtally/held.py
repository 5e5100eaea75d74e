"""What was used last, held so that it is made once: for servers, whose pages ask for the same thing again and again."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Held(Generic[K, V]):
    """Holds the values used last, so many at most; each is made by one thread while others wait."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[K, V] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, key: K, make: Callable[[], V]) -> V:
        """Return the value of a key, made now if it is not held; None is given back and not held."""
        with self._lock:
            value = self._values[key] if key in self._values else make()
            if value is not None:
                self._values[key] = value
                self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
            return value
