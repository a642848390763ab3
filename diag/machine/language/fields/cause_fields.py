"""What causes.yaml says: what stops the machine, what each cause shows, and what cures it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator

from diag.machine.language.fields.base_source import Source, needed, optional
from diag.machine.language.fields.check_fields import EARTHS, PHASES_OFF, TAKES_OFF, WHO, ZONE
from diag.machine.language.fields.field_types import (
    Chance,
    Flag,
    IndicationWord,
    Items,
    Minutes,
    Name,
    PartChance,
    Rate,
    RemedyName,
    Roles,
    Some,
    SomeWords,
    Text,
    Texts,
    ZoneName,
    showing,
)
from diag.machine.language.fields.marks import Apart, Refers
from diag.machine.model import Access
from diag.machine.names import Named


class RemedySource(Source):
    """What cures a cause."""

    do: Text = needed("What to do. Past access outside, it is shown only behind the lockout.", "Change the lamp")
    minutes: Minutes = needed("How long it takes, without locking and unlocking.", "5")
    access: Access = needed(
        "outside: the enclosure stays closed. dead: inside, locked out and proved. live: inside, with the power on.",
        "outside",
    )
    who: Roles | None = WHO
    zone: ZoneName | None = ZONE
    parts: Texts = optional((), "What to bring.", "[6 A fuse, fuse holder]")
    from_outside: Text = optional(
        "",
        "Where a part sits that is exchanged from outside, with every enclosure and guard closed.",
        "in a drawer on the outside of the door",
    )
    tool: Text = optional("", "With which tool.", "screwdriver")
    caution: Text = optional("", "What to watch out for.", "Hold the hood")
    takes_off: Items = TAKES_OFF
    earths: Items = EARTHS
    phases_off: Flag = PHASES_OFF
    chance: Chance = optional(0.95, "How often it cures the cause, from 0 to 1.", "0.9")


class ProofStepSource(Source):
    """What is done before the proof of a cure is looked at."""

    do: Text = needed("What to do, from outside, with everything closed.", "Home both axes")
    who: Roles | None = optional(None, "Who may do it. Left out: everyone.", "[electrician, engineer]")
    reset: Annotated[Name, Refers(Named.RESET)] | None = optional(
        None, "The reset that this is, where it is one; it counts as one.", "reset-key"
    )


class CauseSource(Source):
    """A cause of a stop."""

    title: Text = needed("What to call it on the screen.", "Fuse blown")
    part: Text = needed("Which part it is in.", "cabinet / supply")
    often: Rate = needed(
        "common: twice a year. occasional: once in five years. rare: once in fifty. Or a rate: 3 a year.", "rare"
    )
    shows: dict[IndicationWord, Annotated[dict[Text, Chance], BeforeValidator(showing)]] = optional(
        {},
        "Indication to its state under this cause: surely, or {state: usually, other: sometimes}. What is left out "
        "is normal.",
        "{supply-lamp: dark, air: {low: usually, none: sometimes}}",
    )
    remedy: Annotated[Any, Apart(lambda: RemedyName | RemedySource)] = optional(
        None,
        "What cures it: the name of a shared remedy, or its fields.",
        "{do: Change the lamp, minutes: 5, access: outside}",
    )
    proof: Annotated[dict[IndicationWord, SomeWords], Some] | None = optional(
        None,
        "What must be seen to call it cured. Left out: the normal state of what it surely shows.",
        "{supply-lamp: lit}",
    )
    proof_first: tuple[ProofStepSource, ...] = optional(
        (), "What is done first, in this order, before the proof is looked at.", "[{do: Home both axes}]"
    )
    safety: Flag = optional(
        False, "true when it is a fault of what keeps people safe; then it needs a function test.", "true"
    )
    function_test: Annotated[dict[IndicationWord, SomeWords], Some] | None = optional(
        None,
        "What a test of the safety function must show: it is actuated, and the machine refuses. Part of the proof.",
        "{stop-test: each-stops}",
    )
    comes: Literal["intermittent"] | None = optional(None, "intermittent, when it comes and goes.", "intermittent")
    intermittent: PartChance | None = optional(None, "The chance that it shows nothing at all when one looks.", "0.3")
    by_design: Flag = optional(
        False, "true when the machine is right to stop: a door open, waiting, switched off.", "true"
    )
    note: Text = optional("", "Anything else worth knowing.", "Seen after washdown")
