"""The `diag` command: its options, the table of its commands, and what becomes of an error.

A command's function returns its exit code. Whatever goes wrong leaves as one line on standard error, never as a
traceback; `DIAG_TRACE=1` in the environment lets the traceback through, for who looks after this program.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

import click

from diag.cli.errors import unknown
from diag.cli.settings import Settings
from diag.cli.text import one_line

COMMANDS = {
    "start": ("diag.cli.start", "Open the app in a new case, or in one that was left."),
    "rank": ("diag.cli.rank", "Likely causes and next checks for some facts."),
    "new": ("diag.cli.new", "Write the skeleton of a new machine."),
    "schema": ("diag.cli.schema", "Print the machine language as a JSON Schema."),
    "vet": ("diag.cli.vet", "Find problems in machine files."),
    "try": ("diag.cli.try_", "Replay the examples of machines, or simulate stops."),
    "approve": ("diag.cli.approve", "Write into a machine's file who approved it, or that nobody has."),
    "measure": ("diag.cli.measure", "Measure how well what is read off a machine is understood."),
    "grow": ("diag.cli.grow", "Grow the cheapest test tree from a table."),
    "cases": ("diag.cli.cases", "List the cases in the casebook."),
    "handover": ("diag.cli.handover", "Write the handover sheet of a case."),
}
"""Each command with the module that holds it as `command`, and what it does in a few words."""

FINE, WRONG, USAGE = 0, 1, 2
INTERRUPTED = 130
"""128 + SIGINT, as shells report it."""


class Commands(click.Group):
    """A group whose commands load when they are called, and whose errors are one line."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(COMMANDS[cmd_name][0]).command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            raise unknown("command", args[0], COMMANDS)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        # From the table, so that the help loads none of the commands.
        with formatter.section("Commands"):
            formatter.write_dl([(name, short) for name, (_, short) in COMMANDS.items()])

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = "diag",
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> NoReturn:
        sys.exit(self._run(args, complete_var, windows_expand_args, extra))

    def _run(self, args: Sequence[str] | None, complete_var: str | None, expand: bool, extra: dict[str, Any]) -> int:
        try:
            if sys.stdout is None:
                raise click.ClickException("standard output is closed, so there is nowhere to write to")
            code = super().main(args, "diag", complete_var, False, windows_expand_args=expand, **extra)
            sys.stdout.flush()
        except click.ClickException as error:
            return _complain(_hint(error), error.exit_code)
        except (click.Abort, KeyboardInterrupt):
            return _complain("stopped", INTERRUPTED)
        except BrokenPipeError:  # who read has gone, and wants no line about it either
            _drop_stdout()
            return WRONG
        except OSError as error:
            _drop_stdout()
            where = f"{error.filename}: " if error.filename else ""
            return _complain(f"{where}{error.strerror or error}", WRONG)
        except Exception as error:
            if os.environ.get("DIAG_TRACE"):
                raise
            if type(error).__module__.startswith("diag."):  # the rooms' own errors say what to do, in one line
                return _complain(str(error), WRONG)
            kind = type(error).__name__
            return _complain(f"a fault in this program: {kind}: {error} (DIAG_TRACE=1 shows where)", WRONG)
        return code if isinstance(code, int) else FINE


def _hint(error: click.ClickException) -> str:
    """The message, with what to do where it is a common slip."""
    message = error.format_message()
    if isinstance(error, click.NoSuchOption) and error.option_name in ("--knowledge", "--casebook"):
        return f"{error.option_name} goes before the command: diag {error.option_name} ... COMMAND"
    if isinstance(error, click.UsageError) and error.ctx is not None:
        return f"{message} (see {error.ctx.command_path} --help)"
    return message


def _complain(message: str, code: int) -> int:
    click.echo(f"diag: {one_line(message)}", err=True)
    return code


def _drop_stdout() -> None:
    """Send what is still buffered nowhere, or the interpreter would complain about it on its way out."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            click.echo(f"diag {version('diag')}")
        except PackageNotFoundError:
            click.echo("diag, run from its source without being installed")
        ctx.exit()


@click.group(cls=Commands, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--knowledge",
    metavar="DIR",
    envvar="DIAG_KNOWLEDGE",
    show_envvar=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder of machines, in place of the one that comes with diag.",
)
@click.option(
    "--casebook",
    metavar="FILE",
    envvar="DIAG_CASEBOOK",
    show_envvar=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="Where cases are kept, in place of this user's own casebook.",
)
@click.option("--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Show the version.")
@click.pass_context
def diag(ctx: click.Context, knowledge: Path | None, casebook: Path | None) -> int:
    """From what a stopped machine shows to its cause. Without a command: opens the app.

    Exit codes: 0 fine, 1 found something wrong, 2 wrong usage.
    """
    ctx.obj = Settings(knowledge, casebook)
    if ctx.invoked_subcommand is None:
        from diag.cli.start import open_app

        return open_app(ctx.obj)
    return FINE
