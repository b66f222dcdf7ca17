"""The words of the page, one catalogue a language, read by the server's templates and by the page's scripts alike."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

PLACE = Path(__file__).parent / "words"
DEFAULT = "en"


@lru_cache(maxsize=8)
def catalogue(language: str = DEFAULT) -> dict[str, str]:
    """Every word by its key, such as `photo.title`. What a language lacks is there in English."""
    words = _flat(json.loads((PLACE / f"{DEFAULT}.json").read_text(encoding="utf-8")))
    path = PLACE / f"{language}.json"
    if language != DEFAULT and path.parent == PLACE and path.is_file():
        words |= _flat(json.loads(path.read_text(encoding="utf-8")))
    return words


def languages() -> tuple[str, ...]:
    """The languages there are catalogues of."""
    return tuple(sorted(path.stem for path in PLACE.glob("*.json")))


def _flat(tree: dict[str, Any], before: str = "") -> dict[str, str]:
    found: dict[str, str] = {}
    for key, value in tree.items():
        name = f"{before}.{key}" if before else key
        found |= _flat(value, name) if isinstance(value, dict) else {name: value}
    return found
