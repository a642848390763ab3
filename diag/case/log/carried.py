"""What goes on at a machine where it came to rest: no lock, no point off, no danger. The replay of a later case begins
there, with this in the place of all that was entered before."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from diag.case.log.others import DAY, Others

FORM = 2
"""Of the text. One of another form is not read, and the replay begins at the machine's first entry."""
SITTINGS = 500
"""How many of the last sittings are carried on. Whoever's is not tests again before they touch."""


@dataclass(frozen=True, slots=True)
class Carried:
    """Carried over the rest."""

    others: Others = field(default_factory=Others)
    """Of all cases."""
    states: Mapping[str, str] = field(default_factory=dict)
    """Indications to the state that they were last found in."""
    sat: Mapping[tuple[str, str], None] = field(default_factory=dict)
    """Each sitting with each person who was said there, the latest last."""

    def text(self, at: datetime) -> str:
        """As the casebook keeps it; `at`: the time of the entry with which the machine came to rest."""
        others = self.others
        found = {
            "form": FORM,
            "protective": sorted(others.protective),
            "resets": [done.isoformat() for done in others.resets if at - done < DAY],
            "since_cure": others.since_cure,
            "proving": sorted(others.proving),
            "remedied": sorted(others.remedied),
            "states": dict(self.states),
            "sat": [list(one) for one in self.sat][-SITTINGS:],
        }
        return json.dumps(found, ensure_ascii=False, sort_keys=True)


def read_carried(text: str) -> Carried:
    """What a text carries. Raises ValueError where it cannot be read."""
    try:
        found = json.loads(text)
        if found["form"] != FORM:
            raise ValueError
        others = Others(
            frozenset(map(str, found["protective"])),
            tuple(datetime.fromisoformat(done) for done in found["resets"]),
            int(found["since_cure"]),
            frozenset(map(str, found["proving"])),
            frozenset(map(str, found["remedied"])),
        )
        if any(done.tzinfo is None for done in others.resets):
            raise ValueError
        states = {str(indication): str(state) for indication, state in found["states"].items()}
        return Carried(others, states, {(str(sitting), str(person)): None for sitting, person in found["sat"]})
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise ValueError("this is not what was carried on") from None
