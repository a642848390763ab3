"""The bytes that a case is sealed by: SHA-256 over the digest before and all that an entry says.

A name or a text stands in an entry only as its mark, SHA-256 over a random salt and the words. Once salt and words are
deleted nobody can find the words by trying, and the chain still verifies.
"""

from __future__ import annotations

import json
import secrets
import time
from collections.abc import Iterable
from hashlib import sha256
from typing import Any

SALT = 16
"""Bytes of a salt."""
MARK = 32
"""Hexadecimal digits of a mark, which are 128 bits."""
SHOWN = 16
"""Hexadecimal digits of a digest that are printed on sheets."""


def canonical(value: Any) -> str:
    """JSON with sorted keys and no spaces, so that equal values are equal texts. Raises ValueError for what is none."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def genesis(id: str, born: str, year: int, machine: str) -> bytes:
    """What stands before a case's first entry: who the case is."""
    return _digest(b"", ["case", id, born, year, machine])


def entry_digest(before: bytes, id: str, seq: int, at: int, who: str, kind: str, stamp: str, body: str) -> bytes:
    """Of an entry, as its columns hold it."""
    return _digest(before, [id, seq, at, who, kind, stamp, body])


def seal_digest(before: bytes, number: int, at: int, heads: Iterable[tuple[str, int, bytes]]) -> bytes:
    """Of a seal: over the seal before and, ordered by id, each case that went on since, with its seq and digest."""
    found = sha256(before)
    found.update(canonical(["seal", number, at]).encode())
    for id, seq, digest in sorted(heads):
        found.update(canonical([id, seq]).encode())
        found.update(digest)
    return found.digest()


def mark_of(salt: bytes, *words: str) -> str:
    """The mark that stands for these words."""
    return _digest(salt, list(words)).hex()[:MARK]


def new_salt() -> bytes:
    return secrets.token_bytes(SALT)


def new_id() -> str:
    """A case's id, the same in every casebook: UUID version 7 as hexadecimal digits, in the order of time."""
    whole = (time.time_ns() // 1_000_000 & (1 << 48) - 1) << 80 | secrets.randbits(80)
    whole = whole & ~(0xF << 76) | 0x7 << 76
    whole = whole & ~(0x3 << 62) | 0x2 << 62
    return f"{whole:032x}"


def shown(digest: bytes) -> str:
    """The digits of a digest for a sheet, in groups of four."""
    digits = digest.hex()[:SHOWN]
    return " ".join(digits[start : start + 4] for start in range(0, SHOWN, 4))


def _digest(before: bytes, value: list[Any]) -> bytes:
    return sha256(before + canonical(value).encode()).digest()
