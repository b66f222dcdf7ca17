"""A fast, fixed slice of what tests/bench/test_fuzz.py does for a minute each."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import pytest
from mutate import corpus_of, mutants
from readers import CORPUS, READERS, refuses

MANY = {"records": 60, "projects": 120, "svg": 60, "dxf": 15, "photographs": 60}


@pytest.mark.parametrize("kind", READERS)
def test_the_corpus_itself_is_read(kind: str, tmp_path: Path) -> None:
    corpus = corpus_of(CORPUS / kind)
    assert len(corpus) >= 2
    assert not any(refuses(kind, data, tmp_path) for data in corpus)


@pytest.mark.parametrize("kind", READERS)
def test_a_mutated_file_is_read_or_refused_in_words(kind: str, tmp_path: Path) -> None:
    refused = [
        refuses(kind, data, tmp_path) for data in islice(mutants(corpus_of(CORPUS / kind), 1), MANY[kind])
    ]
    assert any(refused)
