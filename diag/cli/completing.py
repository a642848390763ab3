"""What a shell completes: machines, facts, cases, topics, modules, roles. A mistake here completes nothing.

Completion runs at a press of a key, so only what a list needs is read, and a machine whole only for its facts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diag.cli.settings import Settings

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from diag.machine.model import Machine

    Complete = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]
WHAT = ("machines", "indications", "causes", "checks", "modules")
"""What can be listed."""
ROLES = ("operator", "electrician", "engineer")


def _completer(find: Callable[[click.Context, str], Iterable[tuple[str, str]]]) -> Complete:
    """A completer out of a function that gives words, each with a few words of help."""

    def complete(ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
        from click.shell_completion import CompletionItem

        try:
            found = [(word, told) for word, told in find(ctx, incomplete) if word.startswith(incomplete)]
        except Exception:  # a broken file or casebook: the command itself will say what is wrong
            return []
        return [CompletionItem(word, help=" ".join(told.split()) or None) for word, told in found if word.isprintable()]

    return complete


def _settings(ctx: click.Context) -> Settings:
    """As the options before the command say; while completing, click has not run the group itself."""
    root = ctx.find_root()
    if isinstance(root.obj, Settings):
        return root.obj
    said: dict[str, Any] = root.params
    return Settings(tuple(said.get("knowledge") or ()), said.get("casebook"), said.get("shipped"))


def _machines(ctx: click.Context, _: str) -> Iterable[tuple[str, str]]:
    from diag.machine.find import listing

    return [(machine.id, machine.title) for machine in listing(_settings(ctx).knowledge)]


def _modules(ctx: click.Context, _: str) -> Iterable[tuple[str, str]]:
    from diag.cli.files.show_module import modules

    return [(name, title) for name, title, _ in modules(_settings(ctx))]


def _machine(ctx: click.Context) -> Machine:
    """The machine that the command was given."""
    from diag.machine.find import find
    from diag.machine.load import read

    name = ctx.params.get("machine") or ctx.params.get("name") or ""
    return read(find(name, _settings(ctx).knowledge), examples=False)


def _facts(ctx: click.Context, incomplete: str) -> Iterable[tuple[str, str]]:
    """`indication=`, then `indication=state`; the states alone where the shell has parted the word at the `=`."""
    machine = _machine(ctx)
    before = [word for word in ctx.params.get("facts") or () if word != "="]
    name, equals, _ = incomplete.partition("=")
    if not equals and before and before[-1] in machine.indications:
        return [(state.id, state.means) for state in machine.indications[before[-1]].states]
    if not equals:
        return [(f"{i.id}=", i.title) for i in machine.indications.values()]
    indication = machine.indications[name]
    return [(f"{name}={state.id}", state.means) for state in indication.states]


def _entries(ctx: click.Context, _: str) -> Iterable[tuple[str, str]]:
    from diag.cli.files.show_entry import names

    return [(name, "") for name in names(_machine(ctx))]


def _cases(ctx: click.Context, _: str) -> Iterable[tuple[str, str]]:
    from diag.case.log.stored import cases_in
    from diag.record.casebook import Casebook

    place = _settings(ctx).casebook
    if isinstance(place, Path) and (not place.is_file() or place.stat().st_size == 0):
        return []
    book = Casebook(place, only_read=True)
    # While an option waits for its value, the words around it are not sorted into arguments yet.
    waiting = next((word for word in ctx.args if not word.startswith("-")), None)
    machine = ctx.params.get("machine") or waiting
    try:
        found = [c for c in cases_in(book) if machine in (None, c.machine)]
        return [(c.id, ", ".join(filter(None, (c.machine, c.asset, c.closed or "open")))) for c in found]
    finally:
        book.close()


def _assets(ctx: click.Context, _: str) -> Iterable[tuple[str, str]]:
    from diag.machine.find import find, listed_in

    waiting = next((word for word in ctx.args if not word.startswith("-")), "")
    listed = listed_in(find(ctx.params.get("machine") or waiting, _settings(ctx).knowledge))
    return [(asset, listed.title) for asset in listed.assets]


def _topics(ctx: click.Context, _: str) -> Iterable[tuple[str, str]]:
    from diag import pages

    return pages.topics()


def _or_path(kind: str) -> Complete:
    """Machines by name, and what the shell itself completes: `file` for files and folders, `dir` for folders alone."""

    def complete(ctx: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
        from click.shell_completion import CompletionItem

        return [*complete_machine(ctx, parameter, incomplete), CompletionItem(incomplete, type=kind)]

    return complete


complete_machine = _completer(_machines)
complete_machine_or_module = _completer(lambda ctx, word: [*_machines(ctx, word), *_modules(ctx, word)])
complete_machine_or_folder = _or_path("dir")
complete_machine_or_file = _or_path("file")
complete_fact = _completer(_facts)
complete_entry = _completer(_entries)
complete_asset = _completer(_assets)
complete_case = _completer(_cases)
complete_topic = _completer(_topics)
complete_what = _completer(lambda ctx, word: [(what, "") for what in WHAT])
complete_role = _completer(lambda ctx, word: [(role, "") for role in ROLES])
