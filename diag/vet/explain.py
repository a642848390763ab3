"""The rules in words: the list of them, and one with its reason and its examples."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.vet.reading import READING
from diag.vet.sense import RULES
from diag.vet.table import Rule

ALL: Final = (*READING, *RULES)
"""Every rule: those kept while reading, then those about sense."""


def named(name: str) -> Rule:
    """Raises KeyError."""
    return {rule.name: rule for rule in ALL}[name]


def sections(rule: Rule) -> Iterator[tuple[str, str]]:
    """Heading and text, in order; the text of an example is lines of a file."""
    yield "why", rule.why
    yield f"why {'an' if rule.level[0] in 'aei' else 'a'} {rule.level}", rule.because
    yield "not so", rule.bad
    yield "but so", rule.good
