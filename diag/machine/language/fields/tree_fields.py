"""What the files of trees/ and examples/ say: orders of looking, and worked cases."""

from __future__ import annotations

from typing import Annotated, Any, Final, get_args

from diag.machine.language.fields.base_source import Source, first_field, needed, optional
from diag.machine.language.fields.field_types import (
    CauseName,
    Fact,
    Flag,
    FromOne,
    IndicationWord,
    Name,
    SomeWords,
    Text,
    TreeName,
)
from diag.machine.language.fields.marks import Apart, Refers
from diag.machine.model import Role
from diag.machine.names import Named


class TreeSource(Source):
    """An order of looking. Its first node stands beside its name."""

    tree: TreeName = needed("Its name.", "first-look")
    title: Text = needed("What to call it on the screen.", "First look")


class LookSource(Source):
    """Look at one thing, and go on by what it shows."""

    look: IndicationWord = needed("The indication.", "supply-lamp")
    when: Annotated[Any, Apart(lambda: dict[Text, Node])] = optional(
        None,
        "State to what comes next. Two states with the same next: dark | slow.",
        "{dark: {conclude: fuse-blown}, lit: {go: network}}",
    )
    otherwise: Annotated[Any, Apart(lambda: Node)] = optional(
        None, "What comes next in every other state.", "{call: engineer}"
    )
    why: Text = optional("", "Why to look there, in a line.", "It is the nearest")


class DoSource(Source):
    """Something to do from outside, or to ask somebody to do."""

    do: Text = needed("What. Work on the machine is a check or a remedy, never this.", "Ask who switched it off")
    then: Annotated[Any, Apart(lambda: Node)] = optional(None, "What comes next.", "{call: engineer}")


class ConcludeSource(Source):
    """The end: found."""

    conclude: Annotated[SomeWords, Refers(Named.CAUSE)] = needed(
        "The cause, or the list of causes that are left.", "[fuse-blown, lamp-failed]"
    )


class GoSource(Source):
    """On in another tree."""

    go: Annotated[Text, Refers(Named.TREE)] = needed("Which tree.", "network")


class CallNodeSource(Source):
    """The end: call somebody."""

    call: Role = needed("Whom.", "engineer")


class ExampleSource(Source):
    """A worked case."""

    example: Name = needed("Its name.", "dark-lamp")
    title: Text = needed("What happened, in a line.", "The lamp was dark")
    facts: tuple[Fact, ...] = needed(
        "What was seen, in order, one indication each: [{supply-lamp: dark}, {dc-supply: 0.3 V}].",
        "[{supply-lamp: dark}, {air: low}]",
    )
    cause: CauseName = needed("What it was.", "fuse-blown")
    within: FromOne = optional(1, "The place by which the cause must rank at the end. 1 is the first.", "1")
    tree: Flag = optional(True, "false when the tree is not to lead there.", "false")
    who: Text = optional("", "Who found it.", "night shift")
    tried: Text = optional("", "What had been tried before.", "a reset")


Node = LookSource | DoSource | ConcludeSource | GoSource | CallNodeSource
NODES: Final[dict[str, type[Source]]] = {first_field(model): model for model in get_args(Node)}
"""What a node of a tree may be, by the field that tells it. The reader goes from node to node itself, as no tree is too
deep."""
