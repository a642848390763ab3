"""The standing of a machine's file: a word, or an approval with its digest held against the content."""

from __future__ import annotations

from typing import Final

from diag.machine.digest import digest
from diag.machine.gather import Folder
from diag.machine.names import unknown
from diag.machine.problem import Problem, shown
from diag.machine.scope import Scope
from diag.machine.source import StandingSource
from diag.machine.standing import APPROVED, RENAMED, WORDS, Standing
from diag.machine.validate import Written, validate
from diag.machine.words import kind_of

HOW: Final = "write 'trial', then run diag approve"


def resolve_standing(scope: Scope, found: Folder) -> Standing:
    """The standing that the header says, else a draft. The digest of the content is only worked out where one was
    approved."""
    node = found.head.node.find(["standing"]) if found.head is not None and "standing" in found.head.keys else None
    if node is None or found.head is None:
        return Standing()
    written = Written("standing", found.head.file, node)
    if isinstance(node.value, str):
        if node.value in WORDS:
            return Standing(node.value)
        text, near = _wrong(node.value)
        scope.problems.append(Problem.at(written.place(), f"'standing'{text}", "word" if node.value else "kind", near))
        return Standing()
    if isinstance(node.value, list) or not node.value:
        is_ = kind_of(node.plain()) if node.value else "empty"
        text = f"'standing' should be {', '.join(WORDS)} or {APPROVED} with by, on and digest, and is {is_}"
        scope.problems.append(Problem.at(written.place(), text, "kind"))
        return Standing()
    entry = validate(StandingSource, written, scope.problems)
    if entry is None or entry.source.approved is None:
        return Standing()
    approved = entry.source.approved
    return Standing(APPROVED, approved.by, approved.on, approved.digest, digest(found))


def _wrong(word: str) -> tuple[str, str]:
    """What is wrong with the word, and the nearest right one."""
    if not word:
        return " is empty", ""
    if word == APPROVED:
        return f": {shown(word)} needs by, on and digest; {HOW}", ""
    now = RENAMED.get(word, "")
    if now == APPROVED:
        return f": {shown(word)} is called {shown(now)} now; {HOW}", now
    if now:
        return f": {shown(word)} is called {shown(now)} now", now
    text, near = unknown("word", word, (*WORDS, APPROVED))
    return f": {text}", near
