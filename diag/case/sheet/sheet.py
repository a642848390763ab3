"""The sheet of a case as Markdown and as plain text: for an operator the call sheet, for others the handover sheet.

What it says comes from people and files and is shown as it was said; nothing in it acts as markup or steers a terminal.
"""

from __future__ import annotations

import re
import textwrap

from diag.case.case import Case
from diag.case.sheet.sheet_content import SheetContent, call_sheet, handover
from diag.machine.model import Role
from diag.text import one_line

WIDTH = 78
_ACTIVE = re.compile(r"([\\`*_\[\]#|~&$]|<(?!\d)|^>|>(?!\d))")
"""What may act as markup. A `<` before a digit opens no tag, and a `>` before one quotes only where a line begins."""
_START = re.compile(r"^([-+=:]|\d+(?=[.)]))")


def markdown(case: Case) -> str:
    """The sheet as Markdown (CommonMark)."""
    content = _content(case)
    lines = [f"# {escaped(content.title)}", ""]
    lines += [f"{escaped(line)}  " for line in content.head]
    for title, items in content.sections:
        lines += ["", f"## {escaped(title)}", ""]
        lines += [f"- {escaped(item)}" for item in items]
    paragraphs = (*map(escaped, content.foot), *map(_signature, content.signatures))
    return "\n".join([*lines, "", "\n\n".join(paragraphs)]) + "\n"


def plain(case: Case) -> str:
    """The sheet as plain text, at most `WIDTH` characters wide."""
    content = _content(case)
    title = one_line(content.title)
    lines = [title, "=" * min(len(title), WIDTH)]
    for line in content.head:
        lines += _wrapped(line, "")
    for heading, items in content.sections:
        lines += ["", one_line(heading).upper()]
        for item in items:
            lines += _wrapped(item, "- ")
    for line in content.foot:
        lines += ["", *_wrapped(line, "")]
    lines += [line for name in content.signatures for line in ("", _signature(name))]
    return "\n".join(lines) + "\n"


def escaped(text: str) -> str:
    """One line of text in which nothing is markup: no heading, list, link, table, emphasis, entity or HTML."""
    line = _ACTIVE.sub(r"\\\1", one_line(text)).replace("://", "\\://")
    return _START.sub(lambda m: f"{m[1]}\\" if m[1][0].isdigit() else f"\\{m[1]}", line)


def _content(case: Case) -> SheetContent:
    return call_sheet(case) if case.state.person.role is Role.OPERATOR else handover(case)


def _wrapped(text: str, bullet: str) -> list[str]:
    return textwrap.wrap(
        one_line(text), WIDTH, initial_indent=bullet, subsequent_indent=" " * len(bullet), break_on_hyphens=False
    ) or [bullet.rstrip()]


def _signature(name: str) -> str:
    """A line to sign on. Underscores between spaces are no emphasis in Markdown."""
    return f"{name}: {'_' * 22}  signed: {'_' * 16}  time: {'_' * 8}"
