"""Authored trees and worked examples."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from diag.machine.language import forms
from diag.machine.language.fields.base_source import fields, names
from diag.machine.language.fields.field_types import kind_of, split_states
from diag.machine.language.fields.sections import Sections
from diag.machine.language.fields.tree_fields import (
    NODES,
    ConcludeSource,
    DoSource,
    ExampleSource,
    GoSource,
    LookSource,
    TreeSource,
)
from diag.machine.language.validate import Written, validate
from diag.machine.language.written_pairs import no_space, unparted
from diag.machine.model import OTHER, UNLISTED, Cause, Example, Kind, Role
from diag.machine.names import HALF, Named, nearest, unknown
from diag.machine.nodes import Call, Conclude, Do, Go, Look, Tree, TreeNode
from diag.machine.place import Place
from diag.machine.problem import Broken, Problem, shown
from diag.machine.resolve.scope import Scope
from diag.machine.span import Node
from diag.machine.states.codes import decode_exact
from diag.machine.states.say import CannotRead, state_of
from diag.text import one_line

_LOOK, _DO, _CONCLUDE, _GO = names(LookSource), names(DoSource), names(ConcludeSource), names(GoSource)
_TREE, _EXAMPLE, _SECTION = names(TreeSource), names(ExampleSource), names(Sections)

FIELDS: Final = {kind: fields(model) for kind, model in NODES.items()}
"""What a node is, and the fields that may stand beside it."""
HEAD: Final = tuple(fields(TreeSource))
"""What stands beside those in a tree's first node."""
STEPS: Final = "{conclude: ...}, {go: ...}, {call: ...}, {do: ...} or {look: ..., when: ...}"


def resolve_trees(scope: Scope) -> dict[str, Tree]:
    """The trees by name, in file order."""
    written = scope.found.lists[_SECTION.trees]
    trees = {item.id: None for item in written if item.id}
    found = {}
    for item in written:
        problems: list[Problem] = []
        head = validate(TreeSource, item, problems, without=[key for key in item.keys if key not in HEAD])
        before = len(scope.problems)
        root = _Walker(scope, item.file, trees).node(item.node, HEAD)
        misspelt = {
            f"{shown(problem.hint)} is missing" for problem in scope.problems[before:] if problem.rule == Broken.FIELD
        }
        scope.problems.extend(problem for problem in problems if problem.text not in misspelt)
        if head is not None and root is not None:
            found[head.source.tree] = Tree(head.source.tree, head.source.title, root, item.place(_TREE.tree))
    return found


@dataclass(frozen=True, slots=True)
class _Walker:
    scope: Scope
    file: str
    trees: Collection[str]

    def node(self, span: Node, beside: tuple[str, ...] = ()) -> TreeNode | None:
        """The node at a place of the file, or None with its problems reported. `beside`: further fields that are
        fine."""
        value = span.value
        if not isinstance(value, dict):
            self.scope.report(span.place(self.file), _no_node(span), Broken.TREE)
            return None
        kinds = [kind for kind in FIELDS if kind in value]
        if len(kinds) > 1:
            text = f"{shown(kinds[0])} and {shown(kinds[1])} in one node; one of them belongs one level down"
            self.scope.report(value[kinds[1]].key_place(self.file), text, Broken.TREE)
            return None
        known = FIELDS[kinds[0]] if kinds else tuple(FIELDS)
        for name, child in value.items():
            if name not in known and name not in beside:
                text, near = unknown("field", name, (*known, *beside))
                self.scope.report(child.key_place(self.file), text, Broken.FIELD, near)
        if not kinds:
            self.scope.report(span.key_place(self.file), f"this node has none of {', '.join(FIELDS)}", Broken.TREE)
            return None
        kind = kinds[0]
        place = value[kind].place(self.file)
        words = self._words(value[kind], kind)
        if not words:
            return None
        if kind == _LOOK.look:
            return self._look(value, words[0])
        if kind == _DO.do:
            then = self.node(value[_DO.then]) if _DO.then in value else None
            return None if _DO.then in value and then is None else Do(words[0], then, place)
        if kind == _CONCLUDE.conclude:
            causes = self._known(value[kind], Named.CAUSE, words, self.scope.found.maps[_SECTION.causes])
            return Conclude(causes, place) if causes else None
        if kind == _GO.go:
            trees = self._known(value[kind], Named.TREE, words, self.trees)
            return Go(trees[0], place) if trees else None
        if words[0] not in list(Role):
            text, near = unknown("role", words[0], list(Role))
            self.scope.report(place, text, Broken.WORD, near)
            return None
        return Call(words[0], place)

    def _words(self, span: Node, kind: str) -> tuple[str, ...]:
        """The word of a node, or the several of a `conclude`."""
        value = span.value
        if isinstance(value, str) and value.strip():
            return (value,)
        children = value if isinstance(value, list) and kind == _CONCLUDE.conclude else []
        words = tuple(child.value for child in children if isinstance(child.value, str) and child.value.strip())
        if not words or len(words) < len(children):
            several = f"a cause, or several, as in {forms.example(ConcludeSource, _CONCLUDE.conclude)}"
            wanted = several if kind == _CONCLUDE.conclude else "a word or a text"
            text = f"{shown(kind)} should be {wanted}, and is {kind_of(span.plain())}"
            self.scope.report(span.place(self.file), text, Broken.KIND)
            return ()
        return words

    def _known(self, span: Node, what: str, words: tuple[str, ...], right: Collection[str]) -> tuple[str, ...]:
        return self.scope.all_of(Written("", self.file, span), (), what, words, right)

    def _look(self, value: dict[str, Node], id: str) -> TreeNode | None:
        place = value[_LOOK.look].place(self.file)
        known = self.scope.indication(place, id)
        branches: dict[str, TreeNode] = {}
        when = value.get(_LOOK.when)
        if when is not None and not isinstance(when.value, dict):
            form = forms.example(LookSource, _LOOK.when)
            text = f"'when' takes the form {form}; this is {kind_of(when.plain())}"
            self.scope.report(when.place(self.file), text, Broken.KIND)
        elif when is not None and isinstance(when.value, dict):
            for key, child in when.value.items():
                node = self.node(child)
                if known is not None:
                    self._branch(branches, known, key, child, node)
        elif _LOOK.otherwise not in value and not any(nearest(name, (_LOOK.when, _LOOK.otherwise)) for name in value):
            self.scope.report(value[_LOOK.look].key_place(self.file), "'when' is missing", Broken.MISSING)
        otherwise = self.node(value[_LOOK.otherwise]) if _LOOK.otherwise in value else None
        why = self._words(value[_LOOK.why], _LOOK.why) if _LOOK.why in value else ()
        if known is None or (_LOOK.otherwise in value and otherwise is None):
            return None
        return Look(known, branches, otherwise, why[0] if why else "", place)

    def _branch(self, branches: dict[str, TreeNode], id: str, key: str, child: Node, node: TreeNode | None) -> None:
        place = child.key_place(self.file)
        for word in split_states(key):
            state = self.scope.state(place, id, word)
            if state is None or node is None:
                continue
            if state in branches:
                self.scope.report(place, f"{shown(word)} has a branch already", Broken.TWICE)
            else:
                branches[state] = node


def _no_node(span: Node) -> str:
    """What to say of what stands where a node should."""
    word = span.value
    if isinstance(word, str) and word:
        found = unparted(word)
        if found is not None and found.key in NODES:
            return found.text
        return no_space(word) or f"{shown(word)} alone is not a step; write which: {STEPS}"
    return f"a step was expected here, {STEPS}, and this is {kind_of(span.plain())}"


def _no_code(scope: Scope, fact: Place, id: str, said: str, cause: Cause | None) -> None:
    """Reports a code that its display or list does not have, where nothing says that it is meant to have none."""
    indication = scope.indications[id]
    if indication.kind not in (Kind.DISPLAY, Kind.HISTORY) or said.strip().casefold() in indication.state_ids:
        return
    alarms = said.replace(",", " ").replace(";", " ").split() if indication.kind is Kind.HISTORY else [said]
    if decode_exact(indication, alarms[0]) is not None or cause is None or OTHER in cause.shows.get(id, {}):
        return
    near = nearest(alarms[0], [code.pattern for code in indication.codes if code.pattern.strip()], HALF)
    text = f"{shown(id)} has no code {shown(alarms[0])}, so that this is {shown(OTHER)}"
    if indication.kind is Kind.DISPLAY:
        text = (
            f"{shown(id)} has no code {shown(said)}; the example takes it as a code that looks like it and was "
            f"misread, or else as {shown(OTHER)}"
        )
    scope.report(fact, f"{text}; nearest: {shown(near)}" if near else text, Broken.NO_CODE, near, level="warning")


def resolve_examples(scope: Scope, known: Mapping[str, Cause]) -> tuple[Example, ...]:
    """The worked cases. Facts are checked here and kept as they were said. `known`: the causes that are not broken."""
    causes = (*scope.found.maps[_SECTION.causes], UNLISTED)
    found = []
    for entry in scope.entries(ExampleSource, _SECTION.examples):
        source = entry.source
        facts: list[tuple[str, str]] = []
        for i, fact in enumerate(source.facts):
            if len(fact) != 1:
                scope.report(entry.place(_EXAMPLE.facts, i), forms.a_fact(fact), Broken.KIND)
                continue
            ((name, said),) = fact.items()
            id = scope.indication(entry.key_place(_EXAMPLE.facts, i, name), name)
            if id is None:
                continue
            try:
                if state_of(scope.indications[id], said) == OTHER:
                    _no_code(scope, entry.place(_EXAMPLE.facts, i, name), id, said, known.get(source.cause))
            except CannotRead as error:
                scope.report(entry.place(_EXAMPLE.facts, i, name), one_line(str(error)), Broken.FACT, error.nearest)
            facts.append((id, said))
        scope.one_of(entry.place(_EXAMPLE.cause), Named.CAUSE, source.cause, causes)
        if source.within < 1:
            scope.report(entry.place(_EXAMPLE.within), "'within' counts from 1", Broken.KIND)
        found.append(
            Example(
                id=source.example,
                title=source.title,
                facts=tuple(facts),
                cause=source.cause,
                within=source.within,
                tree=source.tree,
                who=source.who,
                tried=source.tried,
                place=entry.place(_EXAMPLE.example),
            )
        )
    return tuple(found)
