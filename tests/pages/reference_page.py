"""The language as a page of Markdown: every section and field with its help and an example."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import Final

from pydantic import BaseModel

from diag.machine.language.fields.base_source import example_of, fields
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.sections import FILES, FOLDERS, LISTS, MACHINE_FILE, MAPS, SECTION_HELP, entry_type
from diag.machine.language.fields.tree_fields import NODES, TreeSource
from diag.machine.language.shapes import models_in
from diag.machine.language.spellings import RENAMED

WIDTH: Final = 118


def reference_page() -> str:
    """Every field of the language, section by section. A model that stands inside several entries is described once."""
    told: set[type[BaseModel]] = set()
    parts = [f"## The header of `{MACHINE_FILE}`", *_tables(HeadSource, told)]
    for section in (*MAPS, *LISTS):
        parts += [f"## `{section}`", fill(f"{SECTION_HELP[section]} {_home(section)}", WIDTH, break_on_hyphens=False)]
        nodes = NODES.values() if entry_type(section) is TreeSource else ()
        for model in (*models_in(entry_type(section)), *nodes):
            parts += _tables(model, told)
    old = [f"| `{old}` | `{new}` |" for old, new in RENAMED.items()]
    parts += ["## Old spellings", "\n".join(("| is read for ever | is called now |", "| --- | --- |", *old))]
    return "\n\n".join(parts)


def _home(section: str) -> str:
    """In which file a section stands."""
    files = [f"`{file}`" for file, held in FILES.items() if section in held and file != MACHINE_FILE]
    files += [f"a file of `{folder}/`" for folder, (held, _) in FOLDERS.items() if held == section]
    in_machine = [f"`{MACHINE_FILE}`"] if section in FILES[MACHINE_FILE] else []
    shape = "A list" if section in LISTS else "Entries by name"
    return f"{shape}, in {' or '.join([*files, *in_machine]) or 'the file of a module'}."


def _tables(model: type[BaseModel], told: set[type[BaseModel]]) -> Iterator[str]:
    """What an entry is, its fields, and what stands inside them."""
    if model in told:
        return
    told.add(model)
    rows: list[str] = []
    inner: list[tuple[str, type[BaseModel]]] = []
    for name, field in fields(model).items():
        asked = "needed" if field.is_required() else ""
        written = _cell(f"{name}: {example_of(field)}")
        rows.append(f"| `{name}` | {asked} | {_cell(field.description or '')} | `{written}` |")
        inner += [(name, other) for other in models_in(field.annotation)]
    about = fill(" ".join((model.__doc__ or "").split()), WIDTH, break_on_hyphens=False)
    yield "\n".join((about, "", "| field | | what it is | written |", "| --- | --- | --- | --- |", *rows))
    for name, other in inner:
        if other not in told:
            yield f"Inside `{name}`:"
            yield from _tables(other, told)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
