"""What checks.yaml says: what somebody does in order to find out."""

from __future__ import annotations

from typing import Annotated, Any, Final

from diag.machine.language.fields.base_source import Source, needed, optional
from diag.machine.language.fields.field_types import (
    Flag,
    IndicationWord,
    Items,
    Minutes,
    Roles,
    SomeNames,
    SomeWords,
    Text,
    ZoneName,
)
from diag.machine.language.fields.marks import Refers
from diag.machine.model import Access, Energy
from diag.machine.names import Named

# What a check and a remedy say alike.
ZONE: Final[Any] = optional(
    None, "Where it is done; says what must be locked. Needed unless access is outside.", "cabinet"
)
WHO: Final[Any] = optional(
    None, "Who may do it. Left out: everyone outside, electrician and engineer inside.", "[electrician, engineer]"
)
TAKES_OFF: Final[Any] = optional(
    (), "What it takes off, lifts, bridges or changes. Each comes back by its name on the way back.", "[plug X14]"
)
EARTHS: Final[Any] = optional((), "Earths and shorts that it puts on; they come off last of all.", "[earth at U1]")
PHASES_OFF: Final[Any] = optional(
    False, "true when phases are disconnected, so that the direction of rotation is looked at.", "true"
)


class CheckSource(Source):
    """Something to do in order to find out."""

    title: Text | None = optional(None, "Left out: Look or Measure, and what it gives.", "24 V, measured")
    gives: Annotated[SomeNames, Refers(Named.INDICATION)] = needed(
        "The indication that it answers, or a list.", "[dc-supply]"
    )
    do: Text = needed(
        "How it is done. Past access outside, it is shown only behind the lockout.", "Measure across the terminals"
    )
    with_: Text = optional("", "With which tool or meter, set to what.", "multimeter on V d.c.")
    where: Text = optional("", "Where it is done.", "cabinet, top row")
    access: Access = needed(
        "outside: the enclosure stays closed. dead: inside, locked out and proved. live: inside, with the power on.",
        "live",
    )
    zone: ZoneName | None = ZONE
    who: Roles | None = WHO
    minutes: Minutes = needed("How long it takes, without locking and unlocking.", "4")
    needs: dict[IndicationWord, SomeWords] = optional(
        {}, "It makes sense only when these are so.", '{main-switch: "on"}'
    )
    energy: Energy | None = optional(None, "What the machine must be for it: on, off, or any.", "on")
    changes: Flag = optional(
        False, "true when it changes the machine, so that what was seen may no longer hold.", "true"
    )
    caution: Text = optional("", "What to watch out for.", "Live terminals within reach")
    takes_off: Items = TAKES_OFF
    earths: Items = EARTHS
    phases_off: Flag = PHASES_OFF
