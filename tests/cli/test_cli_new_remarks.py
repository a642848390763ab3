"""What the skeleton's remarks say of a field is the help that stands at the field itself."""

from __future__ import annotations

import re
from collections.abc import Iterator

from diag.machine.language.fields.base_source import fields
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.sections import Sections
from diag.machine.language.shapes import models
from diag.machine.reader.file_text import MARK
from diag.write.skeleton import files

REMARK = re.compile(r"^[# ]*(?:- )?(?P<field>[a-z][a-z-]*):.*?\s# (?P<remark>.+)$")


def helps(name: str) -> Iterator[str]:
    """The help of every field that is spelled so."""
    for model in (HeadSource, Sections, *models()):
        if name in fields(model):
            yield fields(model)[name].description or ""


def told(help: str) -> set[str]:
    """The sentences of a help line that follow one another, as a remark has them: without a capital and a full stop."""
    parts = re.split(r"(?<=[.?]) ", help)
    runs = [" ".join(parts[i:j]) for i in range(len(parts)) for j in range(i + 1, len(parts) + 1)]
    return {run[:1].lower() + run[1:].removesuffix(".") for run in runs} | {run.removesuffix(".") for run in runs}


def test_each_remark_beside_a_field_is_the_field_s_help() -> None:
    looked_at, wrong = 0, []
    for name, text in files().items():
        for number, line in enumerate(text.split("\n"), 1):
            found = REMARK.match(line)
            if found is None or not list(helps(found["field"])) or MARK in line:
                continue
            looked_at += 1
            if not any(found["remark"] in told(help) for help in helps(found["field"])):
                wrong.append(f"{name}:{number}: {found['field']}: {found['remark']}")
    assert wrong == []
    assert looked_at > 60
