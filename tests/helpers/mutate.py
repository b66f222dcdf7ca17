"""Files changed at random, the same way for the same seed: for the readers' fuzz targets."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

# What breaks readers: numbers at the ends of what can be counted, what opens and never closes, half a letter.
_TOKENS = [
    b"0", b"-1", b"1e308", b"-1e999", b"nan", b"NaN", b"inf", b"9" * 30, b"9" * 5000, b"1/0", b'"', b"'", b"[", b"]",
    b"{", b"}", b"[[", b"<", b">", b"&x;", b"#", b".", b",", b":", b"=", b"\0", b"\n", b"\xff", b"\xed\xa0\x80", b"null",
    b"true", b'""', b"[]", b"{}", b"0\n", b"\\u0000", b"\xff\xda", b"\xff\xff", b"\x00\x00\x00\x00", b"\x7f\xff\xff\xff",
]  # fmt: skip


def mutants(corpus: list[bytes], seed: int) -> Iterator[bytes]:
    """Without end: one of the corpus with one to six changes."""
    random = np.random.default_rng(seed)
    while True:
        data = bytearray(corpus[int(random.integers(len(corpus)))])
        for _ in range(int(random.integers(1, 7))):
            _change(data, corpus, random)
        yield bytes(data)


def _change(data: bytearray, corpus: list[bytes], random: np.random.Generator) -> None:
    at = int(random.integers(len(data) + 1))
    length = int(2 ** random.uniform(0, 7))
    way = int(random.integers(7))
    if way == 0 and at < len(data):
        data[at] ^= 1 << int(random.integers(8))
    elif way == 1:
        del data[at : at + length]
    elif way == 2:
        data[at:at] = _TOKENS[int(random.integers(len(_TOKENS)))]
    elif way == 3:
        data[at : at + length] = _TOKENS[int(random.integers(len(_TOKENS)))]
    elif way == 4:  # a stretch again, sometimes very often
        data[at:at] = bytes(data[at : at + length]) * int(2 ** random.uniform(0, 10))
    elif way == 5:
        other = corpus[int(random.integers(len(corpus)))]
        start = int(random.integers(len(other) + 1))
        data[at : at + length] = other[start : start + length]
    else:  # one number for another
        digits = [i for i, byte in enumerate(data[at : at + 400], at) if 48 <= byte <= 57]
        if digits:
            data[digits[0] : digits[0] + 1] = _TOKENS[int(random.integers(9))]


def corpus_of(folder: Path) -> list[bytes]:
    return [path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file()]
