"""The sections that a machine's files are made of, what an entry of each is, and in which file each may stand."""

from __future__ import annotations

from typing import Annotated, Any, Final, get_args, get_origin

from pydantic import Field

from diag.machine.language.fields.base_source import Source, fields, first_field, names
from diag.machine.language.fields.cause_fields import CauseSource, RemedySource
from diag.machine.language.fields.check_fields import CheckSource
from diag.machine.language.fields.field_types import IndicationWord, Name, Names, Text
from diag.machine.language.fields.machine_fields import (
    DangerSource,
    HeadSource,
    PointSource,
    ResetSource,
    StoredSource,
    TestPointSource,
    ZoneSource,
)
from diag.machine.language.fields.marks import Declares, EachFile, File, Mark, Refers
from diag.machine.language.fields.module_fields import Chain, ParameterSource, UseSource
from diag.machine.language.fields.panel_fields import Indication
from diag.machine.language.fields.tree_fields import ExampleSource, TreeSource
from diag.machine.names import Named

PANEL: Final = File("panel.yaml")
CAUSES: Final = File("causes.yaml")
CHECKS: Final = File("checks.yaml")


class Sections(Source):
    """The sections of all files. Those that are maps hold their entries by name, those that are lists one by one. The
    order is that in which an approval's digest goes over them."""

    points: Annotated[dict[Name, PointSource], Declares(Named.POINT)] = Field(
        {}, description="Isolation points: where energy is cut off and locked."
    )
    stored: Annotated[dict[Name, StoredSource], Declares(Named.STORED)] = Field(
        {}, description="Energy that stays when every point is off, and how it is released."
    )
    test_points: Annotated[dict[Name, TestPointSource], Declares(Named.TEST_POINT)] = Field(
        {}, description="Where a meter proves that it is dead."
    )
    zones: Annotated[dict[Name, ZoneSource], Declares(Named.ZONE)] = Field(
        {}, description="Places that are worked in: which points must be off, what to release, where to test."
    )
    resets: Annotated[dict[Name, ResetSource], Declares(Named.RESET)] = Field(
        {}, description="Keys and switches that clear a fault. What comes of one is a fact like any other."
    )
    groups: Annotated[dict[Name, Annotated[Names, Refers(Named.INDICATION)]], Declares(Named.INDICATION), PANEL] = (
        Field(
            {},
            description="Names for several indications; one may stand wherever an indication may.",
            examples=["{front-lamps: [supply-lamp, run-lamp]}"],
        )
    )
    indications: Annotated[dict[Name, Indication], Declares(Named.INDICATION), PANEL] = Field(
        {}, description="What can be seen, read, measured or asked. The first field says which kind it is."
    )
    face: Annotated[dict[Text, tuple[tuple[IndicationWord, ...], ...]], PANEL, Mark.NOT_IN_MODULES] = Field(
        {},
        description="The front as it is arranged: block by block, each a list of rows.",
        examples=["{front: [[supply-lamp, run-lamp], [front-display]]}"],
    )
    remedies: Annotated[dict[Name, RemedySource], Declares(Named.REMEDY), CAUSES] = Field(
        {}, description="Cures that several causes share. One that serves one cause may stand in the cause."
    )
    causes: Annotated[dict[Name, CauseSource], Declares(Named.CAUSE), CAUSES] = Field(
        {}, description="What stops the machine, by name."
    )
    checks: Annotated[dict[Name, CheckSource], Declares(Named.CHECK), CHECKS] = Field(
        {}, description="What somebody does to find out more, by name."
    )
    chains: Annotated[dict[Name, Chain], Declares(Named.CHAIN), CAUSES] = Field(
        {}, description="What hangs one behind the other: contacts in series, or stations on a line."
    )
    parameters: Annotated[dict[Name, ParameterSource], Mark.MODULES_ONLY] = Field(
        {}, description="What a module asks of the machine that uses it."
    )
    uses: tuple[UseSource, ...] = Field(
        (), description="What is written once for several machines: modules, each under a name of its own here."
    )
    dangers: Annotated[tuple[DangerSource, ...], Mark.NOT_IN_MODULES] = Field(
        (), description="Signs that go before everything: nothing more is offered, and somebody is called."
    )
    trees: Annotated[tuple[TreeSource, ...], Declares(Named.TREE), EachFile("trees")] = Field(
        (), description="The orders of looking."
    )
    examples: Annotated[tuple[ExampleSource, ...], EachFile("examples"), Mark.NOT_IN_MODULES] = Field(
        (), description="Worked cases that diag try replays."
    )


FILE_HELP: Final = {
    "machine.yaml": "The machine as a whole. It may hold all that the other files hold.",
    PANEL.name: "What can be seen, read, measured or asked, and how it is arranged on the front.",
    CAUSES.name: "What stops the machine, what each cause shows, and what cures it.",
    CHECKS.name: "What somebody does to find out more than a look from outside tells.",
    "trees": "One order of looking, or a list of them under trees.",
    "examples": "One worked case, or a list of them under examples.",
}
MACHINE_FILE: Final = next(iter(FILE_HELP))

_FIELDS: Final = fields(Sections)


def marked(section: str, mark: type[Any]) -> Any:
    """The mark of this class that stands at a section; None where there is none."""
    return next((part for part in _FIELDS[section].metadata if isinstance(part, mark)), None)


def _of(shape: type[Any]) -> tuple[str, ...]:
    return tuple(name for name, field in _FIELDS.items() if get_origin(field.annotation) is shape)


HEAD: Final = tuple(fields(HeadSource))
"""The header fields of machine.yaml."""
MAPS: Final = _of(dict)
"""Sections whose entries stand under their names."""
LISTS: Final = _of(tuple)
"""Sections whose entries stand in a list, each with a dash."""
SECTION_HELP: Final = {name: field.description or "" for name, field in _FIELDS.items()}
NAMED_IN: Final = {name: declares.kind for name in _FIELDS if (declares := marked(name, Declares))}
"""What the names of a section are called in a problem. A reset's name is that of an indication too."""
FILES: Final = {
    MACHINE_FILE: (*HEAD, *(name for name in _FIELDS if Mark.MODULES_ONLY not in _FIELDS[name].metadata)),
    **{file.name: tuple(name for name in _FIELDS if marked(name, File) == file) for file in (PANEL, CAUSES, CHECKS)},
}
"""What each file may hold; any of it may stand in `machine.yaml` instead."""
MODULE: Final = (
    names(HeadSource).title,
    *(name for name in _FIELDS if Mark.NOT_IN_MODULES not in _FIELDS[name].metadata),
)
"""What a module's file may hold: a title, and sections."""
FOLDERS: Final = {
    each.folder: (name, first_field(get_args(_FIELDS[name].annotation)[0]))
    for name in _FIELDS
    if (each := marked(name, EachFile))
}
"""Folders of files that hold one entry each, or a list of them: the list's name, and the key that names an entry."""


def entry_type(section: str) -> Any:
    """What one entry of a section is: a model, several of which one fits, or what a value of a map may be."""
    inner = get_args(_FIELDS[section].annotation)
    return inner[1] if section in MAPS else inner[0]
