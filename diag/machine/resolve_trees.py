"""Authored trees and worked examples."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from diag.machine import forms
from diag.machine.codes import decode_exact
from diag.machine.model import OTHER, Cause, Example, Kind, Role
from diag.machine.names import HALF, nearest, unknown
from diag.machine.nodes import Call, Conclude, Do, Go, Look, Node, Tree
from diag.machine.place import Place
from diag.machine.problem import Problem, clean, shown
from diag.machine.resolve_site import entry_of
from diag.machine.say import CannotRead, state_of
from diag.machine.scope import Scope
from diag.machine.slips import no_space
from diag.machine.source import NODES, ExampleSource, TreeSource
from diag.machine.span import Node as Span
from diag.machine.validate import Written, fields, validate
from diag.machine.words import kind_of, split_states

FIELDS: Final = {kind: fields(model) for kind, model in NODES.items()}
"""What a node is, and the fields that may stand beside it."""
HEAD: Final = fields(TreeSource)
"""What stands beside those in a tree's first node."""
STEPS: Final = "{conclude: ...}, {go: ...}, {call: ...}, {do: ...} or {look: ..., when: ...}"


@dataclass(frozen=True, slots=True)
class _Names:
    causes: Collection[str]
    trees: Collection[str]


def resolve_trees(scope: Scope, written: list[Written], causes: Collection[str]) -> dict[str, Tree]:
    """The trees by name, in file order. `causes` holds also those whose entries are broken."""
    names = _Names(causes, {item.id: None for item in written if item.id})
    found = {}
    for item in written:
        problems: list[Problem] = []
        head = validate(TreeSource, item, problems, without=[key for key in item.keys if key not in HEAD])
        before = len(scope.problems)
        root = _Walker(scope, item.file, names).node(item.node, HEAD)
        misspelt = {
            f"{shown(problem.hint)} is missing" for problem in scope.problems[before:] if problem.rule == "field"
        }
        scope.problems.extend(problem for problem in problems if problem.text not in misspelt)
        if head is not None and root is not None:
            found[head.source.tree] = Tree(head.source.tree, head.source.title, root, item.place("tree"))
    return found


@dataclass(frozen=True, slots=True)
class _Walker:
    scope: Scope
    file: str
    names: _Names

    def node(self, span: Span, beside: tuple[str, ...] = ()) -> Node | None:
        """The node at a place of the file, or None with its problems told. `beside`: further fields that are fine."""
        value = span.value
        if not isinstance(value, dict):
            text = _no_node(span)
            self.scope.report(span.place(self.file), text, "tree")
            return None
        kinds = [kind for kind in FIELDS if kind in value]
        if len(kinds) > 1:
            text = f"{shown(kinds[0])} and {shown(kinds[1])} in one node; one of them belongs one level down"
            self.scope.report(value[kinds[1]].key_place(self.file), text, "tree")
            return None
        known = FIELDS[kinds[0]] if kinds else tuple(FIELDS)
        for name, child in value.items():
            if name not in known and name not in beside:
                text, near = unknown("field", name, (*known, *beside))
                self.scope.report(child.key_place(self.file), text, "field", near)
        if not kinds:
            self.scope.report(span.key_place(self.file), f"this node has none of {', '.join(FIELDS)}", "tree")
            return None
        kind = kinds[0]
        place = value[kind].place(self.file)
        words = self._words(value[kind], kind)
        if not words:
            return None
        if kind == "look":
            return self._look(value, words[0])
        if kind == "do":
            then = self.node(value["then"]) if "then" in value else None
            return None if "then" in value and then is None else Do(words[0], then, place)
        if kind == "conclude":
            causes = self._known(value[kind], "cause", words, self.names.causes)
            return Conclude(causes, place) if causes else None
        if kind == "go":
            trees = self._known(value[kind], "tree", words, self.names.trees)
            return Go(trees[0], place) if trees else None
        if words[0] not in list(Role):
            text, near = unknown("role", words[0], list(Role))
            self.scope.report(place, text, "word", near)
            return None
        return Call(words[0], place)

    def _words(self, span: Span, kind: str) -> tuple[str, ...]:
        """The word of a node, or the several of a `conclude`."""
        value = span.value
        if isinstance(value, str) and value.strip():
            return (value,)
        children = value if isinstance(value, list) and kind == "conclude" else []
        words = tuple(child.value for child in children if isinstance(child.value, str) and child.value.strip())
        if not words or len(words) < len(children):
            wanted = (
                "a cause, or several, as in [fuse-blown, lamp-failed]" if kind == "conclude" else "a word or a text"
            )
            text = f"{shown(kind)} should be {wanted}, and is {kind_of(span.plain())}"
            self.scope.report(span.place(self.file), text, "kind")
            return ()
        return words

    def _known(self, span: Span, what: str, words: tuple[str, ...], right: Collection[str]) -> tuple[str, ...]:
        item = Written("", self.file, span)
        return self.scope.all_of(item, (), what, words, right)

    def _look(self, value: dict[str, Span], id: str) -> Node | None:
        place = value["look"].place(self.file)
        known = self.scope.indication(place, id)
        branches: dict[str, Node] = {}
        when = value.get("when")
        if when is not None and not isinstance(when.value, dict):
            form = "{dark: {conclude: fuse-blown}, lit: {go: network}}"
            text = f"'when' is written {form}, and this is {kind_of(when.plain())}"
            self.scope.report(when.place(self.file), text, "kind")
        elif when is not None and isinstance(when.value, dict):
            for key, child in when.value.items():
                node = self.node(child)
                for word in split_states(key):
                    self._branch(branches, known, child, word, node)
        elif "otherwise" not in value and not any(nearest(name, ("when", "otherwise")) for name in value):
            self.scope.report(value["look"].key_place(self.file), "'when' is missing", "missing")
        otherwise = self.node(value["otherwise"]) if "otherwise" in value else None
        why = self._why(value)
        if known is None or ("otherwise" in value and otherwise is None):
            return None
        return Look(known, branches, otherwise, why, place)

    def _branch(self, branches: dict[str, Node], known: str | None, child: Span, word: str, node: Node | None) -> None:
        if known is None:
            return
        place = child.key_place(self.file)
        state = self.scope.state(place, known, word)
        if state is None or node is None:
            return
        if state in branches:
            self.scope.report(place, f"{shown(word)} has a branch already", "twice")
        else:
            branches[state] = node

    def _why(self, value: dict[str, Span]) -> str:
        if "why" not in value:
            return ""
        words = self._words(value["why"], "why")
        return words[0] if words else ""


def _no_node(span: Span) -> str:
    """What to say of what stands where a node should."""
    word = span.value
    if isinstance(word, str) and word:
        return no_space(word) or f"{shown(word)} alone is no step; write which: {STEPS}"
    return f"a step was expected here, {STEPS}, and this is {kind_of(span.plain())}"


def _no_code(scope: Scope, fact: Place, id: str, said: str, cause: Cause | None) -> None:
    """Tells of a code that its display or list does not have, where nothing says that it is meant to have none."""
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
    scope.report(fact, f"{text}; nearest: {shown(near)}" if near else text, "no-code", near, level="warning")


def resolve_examples(
    scope: Scope, written: list[Written], causes: Collection[str], known: Mapping[str, Cause]
) -> tuple[Example, ...]:
    """The worked cases. Facts are checked here and kept as they were said. `causes` holds also those that are
    broken, `known` those that are not."""
    found = []
    for item in written:
        entry = entry_of(scope, ExampleSource, item)
        if entry is None:
            continue
        source = entry.source
        facts: list[tuple[str, str]] = []
        for i, fact in enumerate(source.facts):
            if len(fact) != 1:
                text = forms.a_fact(fact)
                scope.report(entry.place("facts", i), text, "kind")
                continue
            ((name, said),) = fact.items()
            id = scope.indication(entry.key_place("facts", i, name), name)
            if id is None:
                continue
            try:
                if state_of(scope.indications[id], said) == OTHER:
                    _no_code(scope, entry.place("facts", i, name), id, said, known.get(source.cause))
            except CannotRead as error:
                scope.report(entry.place("facts", i, name), clean(str(error)), "fact", error.nearest)
            facts.append((id, said))
        scope.one_of(entry.place("cause"), "cause", source.cause, causes)
        if source.within < 1:
            scope.report(entry.place("within"), "'within' counts from 1", "kind")
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
                place=entry.place("example"),
            )
        )
    return tuple(found)
