"""A minute of mutated files for each reader: none may raise anything but words, none may take long.

Prints a table. SALVAGE_FUZZ_SECONDS and SALVAGE_FUZZ_SEED run it longer or from elsewhere.
"""

from __future__ import annotations

import os
import resource
import time
from collections import Counter
from pathlib import Path

import pytest
from mutate import corpus_of, mutants
from readers import CORPUS, READERS, refuses

pytestmark = pytest.mark.bench

SECONDS = float(os.environ.get("SALVAGE_FUZZ_SECONDS", "60"))
SEED = int(os.environ.get("SALVAGE_FUZZ_SEED", "0"))


@pytest.mark.parametrize("kind", READERS)
def test_a_minute_of_mutated_files(kind: str, tmp_path: Path) -> None:
    seen: Counter[str] = Counter()
    slowest = 0.0
    until = time.monotonic() + SECONDS
    for data in mutants(corpus_of(CORPUS / kind), SEED):
        began = time.process_time()
        try:
            seen["refused" if refuses(kind, data, tmp_path) else "read"] += 1
        except Exception as error:
            kept = Path(f"fuzz-{kind}-{seen.total()}")
            kept.write_bytes(data)
            print(f"{kind}: {type(error).__name__}: {error} ({kept})")
            seen["failed"] += 1
        slowest = max(slowest, time.process_time() - began)
        if time.monotonic() > until:
            break
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"\n{kind}: {dict(seen)}, slowest {slowest:.1f} s, {memory_mb:.0f} MB")
    assert not seen["failed"]
    assert slowest < 10
    assert memory_mb < 1000
