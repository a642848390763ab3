"""The `diag` command: its options, and the table of its commands. A command's function returns its exit code."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from collections.abc import Sequence
from enum import Enum, auto
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, NoReturn

import click
from click.core import ParameterSource

from diag.cli import json_output
from diag.cli.errors import WrongUsage, unknown
from diag.cli.outcome import FINE, ReaderGone, exit_code
from diag.cli.settings import COMMAND_LINE, Settings

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem


class Run(Enum):
    """How a command runs, which decides how soon its process may end."""

    LONG = auto()
    """It may run for long or opens the app, so the garbage collector is on."""
    SHORT = auto()
    """It reads, prints and ends before garbage would matter, so the collector stays off, as `diag.cli.main` left it."""
    BARE = auto()
    """Short, and it opens no casebook, writes no file and starts no process, so `diag.cli.main` ends it at once."""


class Lazy(NamedTuple):
    """A command in the table, which loads when it is called."""

    module: str
    """The module of this room that holds it as `command`."""
    short: str
    """What it does, in a few words."""
    run: Run = Run.LONG


COMMANDS = {
    "start": Lazy("diagnose.start", "Open the app in a new case, or in one that was left."),
    "rank": Lazy("diagnose.rank", "Likely causes and next checks for some facts.", Run.BARE),
    "list": Lazy("files.list", "List machines, modules, or the indications, causes and checks of a machine.", Run.BARE),
    "show": Lazy("files.show", "Show a machine, one of its entries, or a module.", Run.BARE),
    "new": Lazy("files.new", "Write the skeleton of a new machine."),
    "schema": Lazy("files.schema", "Print the machine language as a JSON Schema.", Run.BARE),
    "vet": Lazy("files.vet", "Find problems in machine files."),
    "try": Lazy("files.try_", "Replay the examples of machines, or simulate stops."),
    "approve": Lazy("files.approve", "Write into a machine's file who approved it, or that nobody has."),
    "measure": Lazy("measuring.measure", "Measure how well readings are understood, and how good the advice is."),
    "grow": Lazy("measuring.grow", "Grow the cheapest test tree from a table."),
    "cases": Lazy("diagnose.cases", "List the cases in the casebook, or look after it."),
    "handover": Lazy("diagnose.handover", "Write the handover sheet of a case.", Run.SHORT),
    "doctor": Lazy("program.doctor", "Tell what is in force and from where, and what is wrong with it.", Run.SHORT),
    "help": Lazy("program.help", "Show the pages: how to write a machine, the keys, the figures and more.", Run.BARE),
    "completion": Lazy("program.completion", "Print or install what a shell completes diag with.", Run.BARE),
    "man": Lazy("program.man", "Print the manual page.", Run.BARE),
}
"""The commands by name, in the order of the help."""

ENVIRONMENT = {
    "DIAG_KNOWLEDGE": f"Folders of machines, with {os.pathsep!r} between them; as --knowledge.",
    "DIAG_SHIPPED": "0 leaves out the machines that come with diag; as --no-shipped.",
    "DIAG_CASEBOOK": "The file that cases are kept in; as --casebook.",
    "DIAG_THEME": "The colours of the screens, dark or light; as `theme` in the config file.",
    "DIAG_CONFIG": "Another config file; `diag doctor` tells which one is read.",
    "DIAG_TRACE": "1 shows where a fault in this program came up, as a traceback.",
    "NO_COLOR": "Turns colour off when it is set to anything.",
}
"""What is read from the environment, with what it is for."""


class Nearest(click.Group):
    """A group that lists its commands in their order, and tells the nearest where a word is wrong."""

    called: ClassVar[str]
    """What such a command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        known = self.list_commands(ctx)
        if args[0] not in known and not args[0].startswith("-") and not ctx.resilient_parsing:
            raise unknown(self.called, args[0], known)
        return super().resolve_command(ctx, args)


class Commands(Nearest):
    """A group whose commands load when they are called, and whose errors are one line."""

    called = "command"
    invoked: str | None = None
    """The command that ran last."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"diag.cli.{COMMANDS[cmd_name].module}").command
        return command

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        from click.shell_completion import CompletionItem

        # From the table too, so that a press of a key loads none of the commands.
        found = [CompletionItem(name, help=row.short) for name, row in COMMANDS.items() if name.startswith(incomplete)]
        return [*found, *click.Command.shell_complete(self, ctx, incomplete)]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        # From the table, so that the help loads none of the commands.
        with formatter.section("Commands"):
            formatter.write_dl([(name, row.short) for name, row in COMMANDS.items()])

    def main(self, args: Sequence[str] | None = None, *_: Any, **more: Any) -> NoReturn:
        run = partial(super().main, args, **{**more, "prog_name": "diag", "standalone_mode": False})
        sys.exit(exit_code(run, json_output.wanted(sys.argv[1:] if args is None else list(args))))

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        try:
            return super().make_context(*args, **more)
        except BrokenPipeError as error:  # else click would end with a code of its own
            raise ReaderGone from error

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BrokenPipeError as error:
            raise ReaderGone from error

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Environment"):
            formatter.write_dl(list(ENVIRONMENT.items()))


def _said_in(ctx: click.Context) -> dict[str, str]:
    """Where each of the options before the command was said."""
    found = {}
    for parameter in ctx.command.params:
        name = parameter.name or ""
        source = ctx.get_parameter_source(name)
        if source is ParameterSource.COMMANDLINE:
            found[name] = COMMAND_LINE
        elif source is ParameterSource.ENVIRONMENT:
            found[name] = str(parameter.envvar)
    return found


def _begin_log(ctx: click.Context, verbose: bool, file: Path | None) -> None:
    """The first lines of the log: the command, and what is in force. No argument is told."""
    from diag.cli import logs

    logs.start(verbose, file)
    logs.tell(f"diag {version()}, Python {sys.version.split()[0]}, command {ctx.invoked_subcommand or 'none'}")
    settings: Settings = ctx.obj
    try:
        logs.tell(f"config file {settings.config.path}{'' if settings.config.found else ', which is not there'}")
        logs.tell(f"folders of machines: {', '.join(map(str, settings.knowledge))}")
    except click.ClickException as error:
        logs.tell(error.message)


def version() -> str:
    """The version of the installed program; `unknown` where it runs from its source without being installed."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("diag")
    except PackageNotFoundError:
        return "unknown"


def _version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted:
        click.echo(f"diag {version()}")
        ctx.exit()


class _Casebook(click.Path):
    """A file, or the address of a database."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        from diag.record.address import WrongAddress, address, is_database

        if not is_database(value):
            return super().convert(value, param, ctx)
        try:
            return address(value)
        except WrongAddress as error:
            raise WrongUsage(f"--casebook: {error}") from None


def _named(ctx: click.Context, option: click.Parameter, given: Any) -> Any:
    """The path or paths as given, without the empty words that a variable may hold. An empty word would become the
    current folder, which nobody meant by it. Raises `WrongUsage` for one on the command line."""
    if isinstance(given, str):
        return given
    paths: tuple[Path, ...] = given if isinstance(given, tuple) else () if given is None else (given,)
    named = tuple(path for path in paths if path.name.strip() or path.anchor or ".." in path.parts)
    if named != paths and ctx.get_parameter_source(option.name or "") is not ParameterSource.ENVIRONMENT:
        raise WrongUsage(f"{option.opts[0]} needs the name of a {'folder' if option.multiple else 'file'}")
    if named != paths and not named:
        ctx.set_parameter_source(option.name or "", ParameterSource.DEFAULT)
    return named if option.multiple else next(iter(named), None)


def _check_paths(ctx: click.Context) -> None:
    """Refuses a folder or a casebook that cannot be one. `diag doctor` goes without this, since it tells what is
    wrong."""
    kinds = {
        "knowledge": click.Path(exists=True, file_okay=False, path_type=Path),
        "casebook": click.Path(dir_okay=False, path_type=Path),
    }

    for option in ctx.command.params:
        kind, given = kinds.get(option.name or ""), ctx.params.get(option.name or "")
        for path in given if isinstance(given, tuple) else (given,):
            if kind is not None and isinstance(path, Path):
                try:
                    kind.convert(path, option, ctx)
                except OSError as error:
                    kind.fail(f"{path}: {(error.strerror or str(error)).lower()}", option, ctx)


@click.group(
    cls=Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 120},
)
@click.option(
    "--knowledge",
    metavar="DIR",
    envvar="DIAG_KNOWLEDGE",
    show_envvar=True,
    multiple=True,
    type=click.Path(readable=False, path_type=Path),
    callback=_named,
    help="Folder of machines. Several may be given; the first goes before the others.",
)
@click.option(
    "--shipped/--no-shipped",
    envvar="DIAG_SHIPPED",
    show_envvar=True,
    default=None,
    help="Whether the machines that come with diag are listed too, after all others.  [shipped]",
)
@click.option(
    "--casebook",
    metavar="FILE",
    envvar="DIAG_CASEBOOK",
    show_envvar=True,
    type=_Casebook(readable=False, path_type=Path),
    callback=_named,
    help="Where cases are kept, in place of this user's own casebook: a file, or postgresql://HOST/DATABASE.",
)
@click.option("--no-casebook", is_flag=True, help="Keep no record. The app says so, and what is entered is lost.")
@click.option(
    "--color",
    type=click.Choice(["auto", "always", "never"]),
    default="auto",
    show_default=True,
    help="When to use colour; auto is on a terminal.",
)
@click.option("--verbose", is_flag=True, help="Tell on standard error what is read, and how long it takes.")
@click.option(
    "--log-file",
    metavar="FILE",
    type=click.Path(dir_okay=False, path_type=Path),
    callback=_named,
    help="Append the same to a file. It contains nothing from a case.",
)
@click.option(
    "-V", "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Show the version."
)
@click.pass_context
def diag(
    ctx: click.Context,
    knowledge: tuple[Path, ...],
    shipped: bool | None,
    casebook: Path | str | None,
    no_casebook: bool,
    color: str,
    verbose: bool,
    log_file: Path | None,
) -> int:
    """From what a stopped machine shows to its cause. Without a command: opens the app.

    Exit codes: 0 fine, 1 found something wrong, 2 wrong usage, 130 stopped from the keyboard. A reader that stops
    before the end of the output, such as `head`, is no error. With --json an error is an object on standard output.
    """
    diag.invoked = ctx.invoked_subcommand
    row = COMMANDS.get(ctx.invoked_subcommand or "")
    if row is None or row.run is Run.LONG:
        gc.set_threshold(50_000, 20, 20)
        gc.enable()
    may_colour = not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    ctx.color = {"always": True, "never": False}.get(color, None if may_colour else False)
    ctx.obj = Settings(knowledge, casebook, shipped, no_casebook, _said_in(ctx))
    if ctx.invoked_subcommand != "doctor":
        _check_paths(ctx)
    if verbose or log_file is not None:
        _begin_log(ctx, verbose, log_file)
    if ctx.invoked_subcommand is None:
        from diag.cli.diagnose.start import open_app

        return open_app(ctx.obj)
    return FINE
