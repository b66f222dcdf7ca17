"""For tests that measure the same photograph again, where measuring isn't the point: each step is worked out once.

The steps from a photograph to its pieces take no more than what they are given, so the same gives the same; that they do is
tested where they are (test_same_photograph_same_answer and its like). What lies around them runs as ever: reading, the
telling, the camera, the record.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from salvage import job
from salvage.cloth import inside
from salvage.cloth.outline import find
from salvage.photo.photo import Photo

STEPS = ((job, "find_squares"), (find, "find_outline"), (inside, "find_pieces"))
_KNOWN: dict[bytes, Any] = {}


def _once(step: Callable[..., Any]) -> Callable[..., Any]:
    def known(photo: Photo, *rest: Any, **more: Any) -> Any:
        seen: tuple[Any, ...] = (photo.focal_35mm, photo.cropped, photo.reduced_by, photo.pixels.shape)
        seen += (photo.name,) if step.__name__ == "find_pieces" else ()  # marks of a piece are named by it
        told = pickle.dumps((step.__name__, seen, rest, sorted(more.items())))
        key = hashlib.sha256(told + photo.pixels.tobytes()).digest()
        if key not in _KNOWN:
            _KNOWN[key] = step(photo, *rest, **more)
        return _KNOWN[key]

    return known


@contextmanager
def looked_once() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for module, name in STEPS:
            patch.setattr(module, name, _once(getattr(module, name)))
        yield
