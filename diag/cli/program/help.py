"""`diag help`: the written pages, as they are in the package; a command's own help by its name."""

from __future__ import annotations

import sys

import click

from diag.cli import json_output
from diag.cli.columns import table
from diag.cli.completing import complete_topic
from diag.cli.errors import unknown
from diag.cli.printing import answer, say, width


@click.command("help")
@click.argument("topic", required=False, shell_complete=complete_topic)
@click.option("--json", "program", is_flag=True, help="As one JSON object, the page as Markdown.")
@click.pass_context
def command(ctx: click.Context, topic: str | None, program: bool) -> int:
    """Show a page about TOPIC, or the list of topics. The name of a command shows what its --help does.

    On a terminal a page is set for reading; into a file or a pipe it goes as Markdown.

    \b
    diag help
    diag help trainer
    diag help rank
    """
    from diag import pages
    from diag.cli.group import COMMANDS

    topics = pages.topics()
    if topic is None:
        more = "`diag help TOPIC` shows one of them, `diag --help` lists the commands."
        found = {"topics": [{"topic": name, "title": title} for name, title in topics]}
        answer(found, (*table(topics, width()), "", more), program)
        return 0
    if topic in COMMANDS and topic not in dict(topics):
        return _command(ctx, topic, program)
    if topic not in dict(topics):
        from diag.machine.names import nearest

        # A command that is near is a help; a list of all commands would hide the topics.
        near = nearest(topic, [*dict(topics), *COMMANDS])
        raise unknown("topic", topic, [near] if near else dict(topics))
    text = pages.page(topic)
    if program:
        json_output.say_object({"topic": topic, "title": dict(topics)[topic], "text": text})
    elif sys.stdout.isatty():
        from rich.console import Console
        from rich.markdown import Markdown

        # Set for reading, in colour where that is wanted.
        console = Console(width=width(), no_color=ctx.color is False, highlight=False)
        console.print(Markdown(text, hyperlinks=False))
    else:
        say(text.rstrip("\n"))
    return 0


def _command(ctx: click.Context, name: str, program: bool) -> int:
    """What `diag NAME --help` shows."""
    from diag.cli.group import diag

    group = ctx.find_root()
    command = diag.get_command(group, name)
    assert command is not None
    with command.make_context(name, [], parent=group, resilient_parsing=True) as own:
        text = command.get_help(own)
    if program:
        json_output.say_object({"topic": name, "title": command.get_short_help_str(200), "text": text})
    else:
        click.echo(text)
    return 0
