"""`diag man`: the manual page, made of the commands' own help."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from typing import Any

import click


@click.command("man")
def command() -> int:
    """Print the manual page, as troff, of this and every other command.

    \b
    diag man > ~/.local/share/man/man1/diag.1
    man diag
    """
    click.echo("\n".join(page()))
    return 0


def page() -> Iterator[str]:
    """The lines of the manual page."""
    from diag.cli.config import KEYS
    from diag.cli.group import COMMANDS, ENVIRONMENT, diag, version

    group = click.Context(diag, info_name="diag")
    yield f'.TH DIAG 1 "" "diag {_safe(version())}" "User commands"'
    yield ".SH NAME"
    yield r"diag \- from what a stopped machine shows to its cause"
    yield ".SH SYNOPSIS"
    yield from _usage(group)
    yield ".SH DESCRIPTION"
    yield from _text(diag.help or "")
    yield ".SH OPTIONS"
    yield from _options(group)
    yield ".SH COMMANDS"
    for name in COMMANDS:
        own = diag.get_command(group, name)
        assert own is not None
        yield from _command(click.Context(own, info_name=name, parent=group))
    yield ".SH ENVIRONMENT"
    for variable, told in ENVIRONMENT.items():
        yield from (".TP", rf"\fB{_safe(variable)}\fR", _safe(told))
    yield ".SH FILES"
    yield r"The config file is TOML, \fIconfig.toml\fR in the folder that the system keeps for settings;"
    yield r"\fBdiag doctor\fR tells which one is read. What may stand in it:"
    for key, what in KEYS.items():
        yield from (".TP", rf"\fB{_safe(key)}\fR", _safe(what))


def _command(ctx: click.Context) -> Iterator[str]:
    """A command, and the commands below it."""
    yield f".SS {_safe(ctx.command_path)}"
    yield from _usage(ctx)
    yield ".PP"
    yield from _text(ctx.command.help or "")
    yield from _options(ctx)
    if isinstance(ctx.command, click.Group):
        for name in ctx.command.list_commands(ctx):
            below = ctx.command.get_command(ctx, name)
            if below is not None:
                yield from _command(click.Context(below, info_name=name, parent=ctx))


def _usage(ctx: click.Context) -> Iterator[str]:
    pieces = " ".join(ctx.command.collect_usage_pieces(ctx))
    yield rf"\fB{_safe(ctx.command_path)}\fR {_safe(pieces)}"


def _options(ctx: click.Context) -> Iterator[str]:
    for parameter in ctx.command.get_params(ctx):
        record = parameter.get_help_record(ctx)
        if record is not None and record[1]:
            yield from (".TP", rf"\fB{_safe(record[0])}\fR", _safe(" ".join(record[1].split())))


def _text(help: str) -> Iterator[str]:
    """The paragraphs of a help text; those under a `\\b` keep their lines."""
    for number, paragraph in enumerate(re.split(r"\n[ \t]*\n", inspect.cleandoc(help))):
        if number:
            yield ".PP"
        lines = paragraph.split("\n")
        if lines[0].strip() == "\b":
            yield from (".nf", *map(_safe, lines[1:]), ".fi")
        else:
            yield _safe(" ".join(paragraph.split()))


def _safe(text: Any) -> str:
    """The text as troff prints it: nothing in it is a request or an escape."""
    text = str(text).replace("\\", r"\e").replace("-", r"\-")
    return rf"\&{text}" if text[:1] in (".", "'") else text
