"""What machine.yaml says of modules and chains: knowledge that is written once and used several times."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal, get_args

from diag.machine.language.fields.base_source import Source, first_field, needed, optional
from diag.machine.language.fields.cause_fields import CauseSource
from diag.machine.language.fields.check_fields import CheckSource
from diag.machine.language.fields.field_types import IndicationWord, MemberName, Name, Text
from diag.machine.language.fields.marks import Apart
from diag.machine.language.fields.panel_fields import LampSource, ReadingSource

CausePart = Annotated[dict[str, Any], Apart(lambda: CauseSource, in_part=True)]
ReadingPart = Annotated[dict[str, Any], Apart(lambda: ReadingSource, in_part=True)]
CheckPart = Annotated[dict[str, Any], Apart(lambda: CheckSource, in_part=True)]
LampPart = Annotated[dict[str, Any], Apart(lambda: LampSource, in_part=True)]
"""Some fields of an entry, which are laid over it."""


class ParameterSource(Source):
    """What a module asks of the machine that uses it."""

    what: Text = needed("What it is, in words.", "the lamp of the supply")
    kind: Literal[
        "text",
        "number",
        "list",
        "indication",
        "zone",
        "check",
        "reset",
        "remedy",
        "cause",
        "tree",
        "isolation point",
        "stored energy",
        "test point",
    ] = needed("text, number, list, or what it is the name of: indication, zone, check and so on.", "indication")
    default: Any = optional(None, "What it is where nothing is said. Left out: it must be said.", "24")


class UseSource(Source):
    """A module at work in this machine."""

    module: Name = needed("Its name: the file of that name in the folder modules.", "dc-supply")
    as_: Name = needed("The name that all its own names begin with here.", "rack")
    with_: dict[str, Any] = optional({}, "What it asks for, by parameter.", "{lamp: supply-lamp, zone: cabinet}")
    but: dict[str, dict[str, Any]] = optional(
        {},
        "What is otherwise on this machine: section, then entry, then field.",
        "{causes: {lamp-failed: {often: rare}}}",
    )


class ContactMember(Source):
    """A contact of a series, and what is otherwise there."""

    title: Text | None = optional(None, "What to call it on the screen.", "the left guard")
    open: Text | None = optional(
        None, "The state of this contact that stands for open, where it is an indication already.", "pulled"
    )
    cause: CausePart = optional({}, "What is otherwise in its cause.", "{often: common}")
    point: ReadingPart = optional({}, "What is otherwise at the test point behind it.", "{where: at the door}")
    check: CheckPart = optional({}, "What is otherwise in the measurement behind it.", "{minutes: 5}")


class StationMember(Source):
    """A station on a line, and what is otherwise there."""

    title: Text | None = optional(None, "What to call it on the screen.", "the lift drive")
    in_: IndicationWord | None = optional(None, "The lamp of its first port that is there already.", "first-lamp")
    out: IndicationWord | None = optional(None, "The lamp of its second port that is there already.", "second-lamp")
    power: IndicationWord | None = optional(None, "The lamp of its power that is there already.", "drive-lamp")
    cable: CausePart = optional({}, "What is otherwise in the cause of its cable.", "{often: rare}")
    station: CausePart = optional({}, "What is otherwise in its own cause.", "{often: common}")
    check: CheckPart = optional({}, "What is otherwise in the look at it.", "{minutes: 2}")


class SeriesSource(Source):
    """Contacts in series: the voltage reaches up to the one that is open."""

    series: Annotated[Any, Apart(lambda: tuple[MemberName, ...] | dict[MemberName, ContactMember])] = needed(
        "The contacts in their order, as a list, or by name with what is otherwise on one of them.",
        "[guard-left, guard-right]",
    )
    title: Text | None = optional(None, "What to call it on the screen.", "guard circuit")
    test_points: Literal["between", "none"] = optional(
        "between", "between: one behind each contact. none: nothing is measured.", "between"
    )
    cause: CausePart = optional({}, "What is the same in the cause of every contact that is open.", "{often: rare}")
    point: ReadingPart = optional({}, "What is the same at every test point.", "{where: terminals beside the relay}")
    check: CheckPart = optional(
        {}, "What is the same in every measurement.", "{minutes: 3, access: live, zone: cabinet}"
    )


class LineSource(Source):
    """Stations one behind the other on a cable, with a lamp at each port."""

    line: Annotated[Any, Apart(lambda: tuple[MemberName, ...] | dict[MemberName, StationMember])] = needed(
        "The stations in their order, as a list, or by name with what is otherwise on one of them.",
        "[station-1, station-2]",
    )
    title: Text | None = optional(None, "What to call it on the screen.", "axis line")
    head: Annotated[Any, Apart(lambda: IndicationWord | LampSource, in_part=True)] = optional(
        None, "The lamp at the head of the line that is there already. Left out: the chain makes one.", "port-lamp"
    )
    power_lamps: Literal["each", "none"] = optional(
        "each", "each: every station has a lamp of its own for its power. none: no station has.", "each"
    )
    cable: CausePart = optional({}, "What is the same in the cause of every broken cable.", "{often: common}")
    station: CausePart = optional({}, "What is the same in the cause of every dead station.", "{often: rare}")
    lamp: LampPart = optional({}, "What is the same at every lamp of a port.", "{where: beside the plug}")
    power: LampPart = optional({}, "What is the same at every lamp of power.", "{label: DRIVE}")
    check: CheckPart = optional({}, "What is the same in every look.", "{minutes: 1}")


Chain = SeriesSource | LineSource
CHAINS: Final[dict[str, type[Source]]] = {first_field(model): model for model in get_args(Chain)}
"""What a chain may be, by the field that tells it."""
