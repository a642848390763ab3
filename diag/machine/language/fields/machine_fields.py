"""What machine.yaml says of the machine as a whole: its header, and how it is made safe."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import Field

from diag.machine.approval.approval import APPROVED, DRAFT, TRIAL
from diag.machine.language.fields.base_source import Source, needed, optional
from diag.machine.language.fields.field_types import (
    Count,
    Day,
    Digest,
    Flag,
    Items,
    Minutes,
    Name,
    Names,
    PlainName,
    PlainNames,
    Roles,
    Short,
    Text,
    Texts,
    TreeName,
    Volts,
    When,
)
from diag.machine.language.fields.marks import Apart, Refers
from diag.machine.model import PROOF_HOLDS, Role
from diag.machine.names import Named


class MinutesSource(Source):
    """Minutes, as they take here."""

    lock: Minutes = optional(10.0, "To lock out and prove dead.", "10")
    restore: Minutes = optional(5.0, "To take the locks off and switch on again.", "5")
    live: Minutes = optional(5.0, "To prepare for live work: permit, mat, gloves.", "5")
    call: Minutes = optional(60.0, "Until the engineer has come, found it and mended it.", "60")


class CallSource(Source):
    """How each role is reached."""

    operator: Text = optional(
        "the operator of this shift", "Which operator, and how reached.", "the operator of the filling line"
    )
    electrician: Text = optional(
        "the electrician on duty", "Which electrician, and how reached.", "shift electrician, by radio"
    )
    engineer: Text = optional(
        "the engineer on duty", "Which engineer, and how reached.", "duty engineer, number on the board"
    )


class ApprovedSource(Source):
    """Who approved the file, when, and what it said."""

    by: Short = needed("Who approved it: a role or a name.", "maintenance training")
    on: Day = needed("On which day, such as 2026-11-25.", "2026-11-25")
    digest: Digest = needed("Of what was approved. It tells when the file has changed since.", "0123456789abcdef")


class ApprovalSource(Source):
    """An approval."""

    approved: ApprovedSource | None = optional(
        None,
        "Somebody who may has approved the file as it is. diag approve writes it.",
        "{by: maintenance training, on: 2026-11-25, digest: 0123456789abcdef}",
    )


class HeadSource(Source):
    """The machine as a whole."""

    format: Literal["1"] = needed("The version of this language. Always 1.", "1")
    title: Text = needed("What the machine is called on the screen.", "Bottle rinser")
    place: Text = needed("Where it stands.", "Filling hall")
    assets: PlainNames = optional(
        (),
        "Machines of one kind that share this file, each by its name. Locks, danger signs, resets and cases are of one "
        "of them.",
        "[stacker 1, stacker 2]",
    )
    revision: Short = optional("not said", "A date or a number, so that it is known which file was used.", "2026-11-25")
    approval: Annotated[Any, Apart(lambda: Literal["draft", "trial"] | ApprovalSource)] = optional(
        DRAFT, "How far the file can be trusted: draft, trial, or approved, which diag approve writes.", "draft"
    )
    start: TreeName | None = optional(None, "The tree to start with. Left out: the first.", "first-look")
    hazards: Texts = optional((), "What can hurt somebody here, one line each.", "[hot oven, sharp knives]")
    neighbours: Texts = optional(
        (), "What still moves or is live beside it when this machine is off.", "[infeed belt, outfeed belt]"
    )
    minutes: MinutesSource = Field(
        default_factory=lambda: MinutesSource.model_validate({}),
        description="How long the ways in and out take.",
        examples=["{lock: 10, restore: 5}"],
    )
    proof_holds: Minutes = optional(
        PROOF_HOLDS, "Minutes after which a proof of dead is made again before anything more is done inside.", "60"
    )
    reset_limit: Count = optional(2, "So many resets, then stop and call.", "2")
    call: CallSource = Field(
        default_factory=lambda: CallSource.model_validate({}),
        description="How each role is reached.",
        examples=["{operator: ..., electrician: ..., engineer: ...}"],
    )


class PointSource(Source):
    """An isolation point."""

    title: Text = needed("As printed on it.", "Main switch Q1")
    where: Text = needed("So that somebody who was never here finds it.", "right side of the cabinet")
    electrical: Flag = optional(True, "false for air, steam, water.", "false")
    foreign: Flag = optional(
        False, "true when it feeds in from another machine, and stays live with this one off.", "true"
    )
    tag: PlainName = optional(
        "",
        "What it is called on the whole site, where machines share it. A lock on it shows at each that names the tag.",
        "MCC 3 feeder 7",
    )
    lost_with: Texts = optional(
        (), "What is gone once it is off. It is said before the point is switched off.", "[light of the cellar, bell]"
    )


class PutBackSource(Source):
    """How what holds or drains a stored energy comes out again on the way back."""

    do: Text = needed("What comes out, in words that say how.", "Pins out of the drum ring")
    inside: Flag = optional(False, "true when it lies inside, so that it comes out before the covers are on.", "true")
    under_power: Flag = optional(
        False, "true when it comes out only with the power back, such as a prop under a load.", "true"
    )
    where: Text = optional("", "From where it is taken out.", "from the post, outside the guard")
    waits_for: Annotated[Names, Refers(Named.STORED)] = optional(
        (), "Stored energies whose holds come out first.", "[belt-weight]"
    )


class StoredSource(Source):
    """Energy that stays when every point is off."""

    title: Text = needed("What to call it on the screen.", "Pressure in the rail")
    release: Text = needed("How it is released or made safe.", "Open the drain cock")
    wait: Minutes = optional(0.0, "Minutes to wait, as the label on the device says.", "1")
    counts_from: Annotated[Name, Refers(Named.POINT)] | None = optional(
        None, "The isolation point that starts the wait. Left out: the last one of the zone.", "main-switch"
    )
    counts_when: Text = optional(
        "",
        "What starts the wait where that is no isolation point; somebody says when.",
        "The hot car is drawn off",
    )
    waits_for: Annotated[Names, Refers(Named.STORED)] = optional(
        (), "Stored energies that are released first.", "[catch]"
    )
    put_back: PutBackSource | None = optional(
        None,
        "What it is held or drained with, and how that comes out again. Left out: nothing stays in.",
        "{do: Pins out of the drum ring, inside: true}",
    )
    test_points: Annotated[Names, Refers(Named.TEST_POINT)] = optional(
        (),
        "Where a meter shows that electrical energy is gone; each zone that names it tests at one of these.",
        "[bus-terminals]",
    )


class TestPointSource(Source):
    """Where a meter proves that it is dead."""

    __test__ = False
    title: Text = needed("Which terminals, each to each and to earth.", "Q1 outgoing terminals")
    expects: Text = needed("What the meter shows when it is dead.", "0 V")
    electrical: Flag = optional(True, "false for a gauge or a pointer, which no meter proves.", "false")
    below: Volts | None = optional(
        None, "Every pair reads less than this when it is dead; at or above it is voltage found.", "1 V"
    )
    terminals: Items = optional((), "Each of them is measured to each other.", "[L1, L2, L3, PE]")
    pairs: Items = optional((), "Which pairs are measured, where not each to each other.", "[plus-minus, plus-PE]")


class TryOutSource(Source):
    """A start that is tried once everything is locked."""

    control: Text = needed("What is pressed or turned.", "START on the post")
    works_when: When | None = optional(
        None, "The start could work only when these are so. Else the try proves nothing, and says so.", "{guards: shut}"
    )
    back_to: Text = optional("", "How the control is left.", "selector at OFF")


class ZoneSource(Source):
    """A place that is worked in."""

    title: Text = needed("What to call it on the screen.", "Cabinet")
    points: Annotated[Names, Refers(Named.POINT)] = needed(
        "Every isolation point that must be off and locked.", "[main-switch, water-valve]"
    )
    stored: Annotated[Names, Refers(Named.STORED)] = optional((), "What must be released.", "[rail-pressure]")
    test_points: Annotated[Names, Refers(Named.TEST_POINT)] = optional(
        (), "Every point that is tested before it counts as dead.", "[switch-terminals]"
    )
    electrical: Flag = optional(
        True, "false where no isolation point is electrical and nothing is live; no meter is needed then.", "false"
    )
    before_off: Items = optional(
        (), "What is done by the controls alone while the power is still on.", "[Lower the lift onto its stops]"
    )
    lock: Minutes | None = optional(
        None, "Minutes to lock out and prove dead here. Left out: those of the whole machine.", "25"
    )
    try_out: TryOutSource | None = optional(
        None, "With what a start is tried once all is locked.", "{control: START on the post}"
    )


class DangerSource(Source):
    """A sign that goes before everything."""

    when: When = needed(
        "What shows it: an indication and its state. Everybody must be able to see it from outside.",
        "{supply-lamp: dark}",
    )
    stop: Text = needed("What to do at once.", "Keep away")
    call: Role = needed("Whom to call.", "engineer")


class ResetSource(Source):
    """A reset."""

    title: Text = needed("As printed on the key.", "Fault reset")
    do: Text = needed("How it is done, from outside.", "Press the blue key once")
    who: Roles = needed("Who may.", "[electrician, engineer]")
    clears: Text | None = optional(None, "What it clears.", "the fault on the display")
    note_first: Annotated[Names, Refers(Named.INDICATION)] = optional(
        (), "What to write down first, as the reset wipes it out.", "[front-display]"
    )
    minutes: Minutes = optional(1.0, "How long it takes.", "1")
    usual: dict[Text, Minutes] | None = optional(
        None, "How often it ran on, came back at once, came back later.", "{ran-on: 90, back-at-once: 5, back-later: 5}"
    )


RENAMED: Final = {"tried": TRIAL, "reviewed": APPROVED}
"""Words for the approval that files of earlier programs use, and what they are called now."""
