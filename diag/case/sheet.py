"""The sheet of a case as Markdown and as plain text: for an operator the call sheet, for others the handover sheet.

What stands in it comes from persons and files, and is shown as it was said: nothing in it acts as markup or steers a
terminal.
"""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING

from diag.case.told import call_sheet, handover
from diag.case.words import one_line
from diag.machine.model import Role

if TYPE_CHECKING:
    from diag.case.case import Case
    from diag.case.told import Told

WIDTH = 78
_ACTIVE = re.compile(r"([\\`*_\[\]<>#|~&$])")
_START = re.compile(r"^([-+=:]|\d+(?=[.)]))")


def markdown(case: Case) -> str:
    """The sheet as Markdown (CommonMark); every sentence in it reads the same with and without a renderer."""
    told = _told(case)
    lines = [f"# {escaped(told.title)}", ""]
    lines += [f"{escaped(line)}  " for line in told.head]
    for title, items in told.sections:
        lines += ["", f"## {escaped(title)}", ""]
        lines += [f"- {escaped(item)}" for item in items]
    lines += ["", *(f"{escaped(line)}\n" for line in told.foot), *(f"{_signature(name)}\n" for name in told.signatures)]
    return "\n".join(lines).rstrip() + "\n"


def plain(case: Case) -> str:
    """The sheet as plain text, at most 78 characters wide."""
    told = _told(case)
    title = one_line(told.title)
    lines = [title, "=" * min(len(title), WIDTH)]
    for line in told.head:
        lines += _wrapped(line, "")
    for heading, items in told.sections:
        lines += ["", one_line(heading).upper()]
        for item in items:
            lines += _wrapped(item, "- ")
    for line in told.foot:
        lines += ["", *_wrapped(line, "")]
    lines += [line for name in told.signatures for line in ("", _signature(name))]
    return "\n".join(lines) + "\n"


def escaped(text: str) -> str:
    """One line of text in which nothing is markup: no heading, list, link, table, emphasis, entity or HTML."""
    line = _ACTIVE.sub(r"\\\1", one_line(text)).replace("://", "\\://")
    return _START.sub(lambda m: f"{m[1]}\\" if m[1][0].isdigit() else f"\\{m[1]}", line)


def _told(case: Case) -> Told:
    return call_sheet(case) if case.state.person.role is Role.OPERATOR else handover(case)


def _wrapped(text: str, bullet: str) -> list[str]:
    return textwrap.wrap(
        one_line(text), WIDTH, initial_indent=bullet, subsequent_indent=" " * len(bullet), break_on_hyphens=False
    ) or [bullet.rstrip()]


def _signature(name: str) -> str:
    """A line to sign on. Underscores between spaces are no emphasis in Markdown."""
    return f"{name}: {'_' * 22}  signed: {'_' * 16}  time: {'_' * 8}"
