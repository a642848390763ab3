"""The approval of a machine's file: a word, or who approved it, with the digest held against the content."""

from __future__ import annotations

from typing import Final

from diag.machine.approval.approval import APPROVED, WORDS, Approval
from diag.machine.approval.digest import digest
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.field_types import kind_of
from diag.machine.language.fields.machine_fields import RENAMED, ApprovalSource, HeadSource
from diag.machine.language.validate import Written, validate
from diag.machine.names import unknown
from diag.machine.problem import Broken, shown
from diag.machine.resolve.scope import Scope

KEY: Final = names(HeadSource).approval

HOW: Final = "write 'trial', then run diag approve"


def resolve_approval(scope: Scope) -> Approval:
    """What the header says, else a draft. The digest of the content is only worked out for a file that was approved."""
    head = scope.found.head
    if head is None or KEY not in head.keys:
        return Approval()
    node = head.node.find([KEY])
    written = Written(KEY, head.file, node)
    if isinstance(node.value, str):
        if node.value in WORDS:
            return Approval(node.value)
        text, near = _wrong(node.value)
        scope.report(written.place(), f"{shown(KEY)}{text}", Broken.WORD if node.value else Broken.KIND, near)
        return Approval()
    if isinstance(node.value, list) or not node.value:
        is_ = kind_of(node.plain()) if node.value else "empty"
        text = f"'approval' should be {', '.join(WORDS)} or {APPROVED} with by, on and digest, and is {is_}"
        scope.report(written.place(), text, Broken.KIND)
        return Approval()
    entry = validate(ApprovalSource, written, scope.problems)
    if entry is None or entry.source.approved is None:
        return Approval()
    approved = entry.source.approved
    return Approval(APPROVED, approved.by, approved.on, approved.digest, digest(scope.found))


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
