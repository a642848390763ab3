"""The files as they are written: one frozen model for each kind of entry, defaults not yet filled in.

Names are not looked up here. Maps of entries (`causes:` and so on) are validated entry by entry, so that one bad entry
hides no other.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from diag.machine.model import Access, Energy, Role
from diag.machine.standing import DRAFT
from diag.machine.words import (
    Chance,
    Count,
    Day,
    Digest,
    Flag,
    Minutes,
    Name,
    Names,
    Number,
    Rate,
    Short,
    Some,
    SomeNames,
    Text,
    Texts,
    Words,
    complaint,
    is_name,
    one_or_many,
    one_or_many_maps,
    showing,
)

Roles = Annotated[tuple[Role, ...], BeforeValidator(one_or_many), Some]
When = dict[Text, Any]
"""Indications and their states; looked at by `Scope.when`, as `all:` may stand between."""


class Source(BaseModel):
    """Frozen; an unknown field is an error; fields carry the names that the files use."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=False)


def _hyphens(field: str) -> str:
    return field.rstrip("_").replace("_", "-")


class Hyphened(Source):
    model_config = ConfigDict(frozen=True, extra="forbid", alias_generator=_hyphens)


# ---------------------------------------------------------------- machine.yaml


class MinutesSource(Hyphened):
    lock: Minutes = 10.0
    restore: Minutes = 5.0
    live: Minutes = 5.0
    call: Minutes = 60.0


class CallSource(Hyphened):
    operator: Text = "the operator of this shift"
    electrician: Text = "the electrician on duty"
    engineer: Text = "the engineer on duty"


class ApprovalSource(Hyphened):
    by: Short
    on: Day
    digest: Digest


class StandingSource(Hyphened):
    """The standing of a file that is more than a word."""

    approved: ApprovalSource | None = None


class HeadSource(Hyphened):
    format: Literal["1"]
    title: Text
    place: Text
    revision: Short = "not said"
    standing: Any = DRAFT
    """A word or a `StandingSource`; looked at by `resolve_standing`."""
    start: Name | None = None
    hazards: Texts = ()
    neighbours: Texts = ()
    minutes: MinutesSource = MinutesSource()
    reset_limit: Count = 2
    call: CallSource = CallSource()


class PointSource(Hyphened):
    title: Text
    where: Text
    electrical: Flag = True
    foreign: Flag = False


class StoredSource(Hyphened):
    title: Text
    release: Text
    wait: Minutes = 0.0


class TestPointSource(Hyphened):
    __test__ = False
    title: Text
    expects: Text


class ZoneSource(Hyphened):
    title: Text
    points: Names
    stored: Names = ()
    test_points: Names = ()
    electrical: Flag = True


class DangerSource(Hyphened):
    when: When
    stop: Text
    call: Role


class ResetSource(Hyphened):
    title: Text
    do: Text
    who: Roles
    clears: Text | None = None
    note_first: Names = ()
    minutes: Minutes = 1.0
    usual: dict[Text, Minutes] | None = None


# ---------------------------------------------------------------- panel.yaml


class FollowSource(Hyphened):
    when: When
    shows: Text


class IndicationSource(Hyphened):
    """What all kinds have."""

    title: Text | None = None
    where: Text = ""
    normal: Text | None = None
    energy: Energy | None = None
    follows: Annotated[tuple[FollowSource, ...], BeforeValidator(one_or_many_maps)] = ()
    source: Text | None = None
    protective: Words = ()
    latched: dict[Text, Words] = {}


class LampSource(IndicationSource):
    lamp: Literal["red", "yellow", "amber", "orange", "green", "blue", "white"]
    label: Text | None = None
    states: dict[Name, Text] | None = None
    lamp_test: dict[Text, Words] = {}


CODE: Final = "{state: hot, means: what it means}"


class CodeSource(Hyphened):
    state: Name
    means: Text = ""


def code_of(value: object) -> object:
    """`hot` stands for `{state: hot}`."""
    if isinstance(value, str) and value and not is_name(value):
        raise complaint("kind", "names a state in one word, such as hot; what it means goes beside it: " + CODE)
    return {"state": value} if isinstance(value, str) else value


class DisplaySource(IndicationSource):
    display: Text
    label: Text | None = None
    codes: dict[str, Annotated[CodeSource, BeforeValidator(code_of)]]
    scrolls: Flag = False
    lamp_test: dict[Text, Words] = {}


class HistorySource(IndicationSource):
    history: Text
    """What the list is called on the machine."""
    label: Text | None = None
    codes: dict[str, Annotated[CodeSource, BeforeValidator(code_of)]]


class ContactSource(IndicationSource):
    contact: Literal["make", "break", "changeover"]
    label: Text | None = None
    measured: Literal["continuity", "voltage"] | None = None
    states: Names = ()
    nominal: Number | None = None
    side: Literal["make", "break"] | None = None
    coil: Literal["energised", "released"] | None = None
    agrees: dict[Text, dict[Name, Name]] = {}


class ReadingSource(IndicationSource):
    reading: Text
    label: Text | None = None
    nominal: Number | None = None
    bands: Annotated[dict[Name, Text], Some]
    formula: Text | None = None
    accuracy: Text | None = None


class QuestionSource(IndicationSource):
    question: Text
    usual: dict[Name, Minutes] | None = None
    answers: Names | None = None


KINDS: Final[dict[str, type[IndicationSource]]] = {
    "lamp": LampSource,
    "display": DisplaySource,
    "contact": ContactSource,
    "reading": ReadingSource,
    "question": QuestionSource,
    "history": HistorySource,
}


# ---------------------------------------------------------------- causes.yaml, checks.yaml


class RemedySource(Hyphened):
    do: Text
    minutes: Minutes
    access: Access
    who: Roles | None = None
    zone: Name | None = None
    parts: Texts = ()
    tool: Text = ""
    caution: Text = ""
    chance: Chance = 0.95


class CauseSource(Hyphened):
    title: Text
    part: Text
    often: Rate
    shows: dict[Text, Annotated[dict[Text, Chance], BeforeValidator(showing)]] = {}
    remedy: Any = None
    """The id of a remedy, or a map for `RemedySource`; looked at apart, so that each problem is told once."""
    proof: dict[Text, Words] | None = None
    comes: Literal["intermittent"] | None = None
    intermittent: Chance | None = None
    by_design: Flag = False
    note: Text = ""


class CheckSource(Hyphened):
    title: Text | None = None
    gives: SomeNames
    do: Text
    with_: Text = Field(default="", alias="with")
    where: Text = ""
    access: Access
    zone: Name | None = None
    who: Roles | None = None
    minutes: Minutes
    needs: dict[Text, Words] = {}
    energy: Energy | None = None
    changes: Flag = False
    caution: Text = ""


# ---------------------------------------------------------------- trees/*.yaml, examples/*.yaml


class TreeSource(Hyphened):
    """The head of a tree; its root node's fields stand beside these."""

    tree: Name
    title: Text


class NodeSource(Source):
    """A node of a tree. The reader goes from node to node itself, as no tree is too deep; these say what is there."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class LookSource(NodeSource):
    look: Text
    when: Any = None
    otherwise: Any = None
    why: Text = ""


class DoSource(NodeSource):
    do: Text
    then: Any = None


class ConcludeSource(NodeSource):
    conclude: Annotated[Words, Some]


class GoSource(NodeSource):
    go: Text


class CallNodeSource(NodeSource):
    call: Role


NODES: Final[dict[str, type[NodeSource]]] = {
    "look": LookSource,
    "do": DoSource,
    "conclude": ConcludeSource,
    "go": GoSource,
    "call": CallNodeSource,
}


class ExampleSource(Hyphened):
    example: Name
    title: Text
    facts: tuple[dict[Text, Text], ...]
    cause: Name
    within: Count = 1
    tree: Flag = True
    who: Text = ""
    tried: Text = ""


# ---------------------------------------------------------------- modules and chains


class ParameterSource(Hyphened):
    what: Text
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
    ]
    default: Any = None


class UseSource(Hyphened):
    module: Name
    as_: Name = Field(alias="as")
    with_: dict[str, Any] = Field(default={}, alias="with")
    but: dict[str, dict[str, Any]] = {}


class SeriesSource(Hyphened):
    series: Any
    title: Text | None = None
    test_points: Literal["between", "none"] = "between"
    cause: dict[str, Any] = {}
    point: dict[str, Any] = {}
    check: dict[str, Any] = {}


class LineSource(Hyphened):
    line: Any
    title: Text | None = None
    head: Any = None
    power_lamps: Literal["each", "none"] = "each"
    cable: dict[str, Any] = {}
    station: dict[str, Any] = {}
    lamp: dict[str, Any] = {}
    power: dict[str, Any] = {}
    check: dict[str, Any] = {}


class ContactMember(Hyphened):
    title: Text | None = None
    open: Text | None = None
    cause: dict[str, Any] = {}
    point: dict[str, Any] = {}
    check: dict[str, Any] = {}


class StationMember(Hyphened):
    title: Text | None = None
    in_: Text | None = None
    out: Text | None = None
    power: Text | None = None
    cable: dict[str, Any] = {}
    station: dict[str, Any] = {}
    check: dict[str, Any] = {}
