"""Every rule, in the order in which they are listed. A rule enters it by standing in one of these modules."""

from __future__ import annotations

from typing import Final

from diag.vet.rules import (
    cause_rules,
    check_rules,
    danger_rules,
    example_rules,
    kind_rules,
    lockout_rules,
    panel_rules,
    path_rules,
    people_rules,
    reader_rules,
    remedy_rules,
    text_rules,
    tree_rules,
)
from diag.vet.vetted.rule import Rule, rules_of

SUBJECTS: Final = (
    lockout_rules,
    people_rules,
    danger_rules,
    panel_rules,
    kind_rules,
    cause_rules,
    remedy_rules,
    check_rules,
    text_rules,
    tree_rules,
    path_rules,
    example_rules,
)

READING: Final = rules_of(reader_rules)
"""Those that are kept while the files are read."""
SENSE: Final = tuple(rule for subject in SUBJECTS for rule in rules_of(subject))
"""Those that are looked at when a machine's files could be read whole."""
EVERY: Final = (*READING, *SENSE)


def named(name: str) -> Rule:
    """Raises KeyError."""
    return {rule.name: rule for rule in EVERY}[name]
