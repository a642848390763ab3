"""What becomes of a command: its exit code, and one line for whatever goes wrong.

An error is a line on standard error, never a traceback; with `--json` it is an object on standard output.
`DIAG_TRACE=1` in the environment lets the traceback through, for whoever looks after this program.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Callable
from typing import Any, Final

import click

from diag.cli import json_output
from diag.text import one_line

FINE, WRONG, USAGE = 0, 1, 2
INTERRUPTED: Final = 130
"""128 + SIGINT, as shells report it."""
LONGEST_WORD: Final = 200
"""Characters of a word, such as a path, that an error repeats."""


class ReaderGone(Exception):
    """Nobody reads standard output any more, as below `diag cases | head -1`."""


def exit_code(run: Callable[[], Any], program: bool) -> int:
    """Run it; its exit code. `program`: a program reads the output, so that an error is JSON too."""
    code = FINE
    try:
        if sys.stdout is None:
            raise click.ClickException("standard output is closed, so there is nowhere to write to")
        given = run()
        code = given if isinstance(given, int) else FINE
        sys.stdout.flush()
    except click.ClickException as error:
        code = _complain(_hint(error), error.exit_code, program)
    except (click.Abort, KeyboardInterrupt):
        code = _complain("stopped", INTERRUPTED, program)
    except (ReaderGone, BrokenPipeError):  # no fault, and whoever has gone wants no line about it
        _drop_stdout()
    except OSError as error:
        _drop_stdout()
        where = f"{error.filename}: " if error.filename else ""
        code = _complain(f"{where}{error.strerror or error}", WRONG, program)
    except Exception as error:
        if os.environ.get("DIAG_TRACE"):
            raise
        code = _complain(_fault(error), WRONG, program)
    finally:
        # The log is there only where `--verbose` or `--log-file` asked for it.
        if logs := sys.modules.get("diag.cli.logs"):
            logs.end(code)
    return code


def _fault(error: Exception) -> str:
    """What a room's own error says, which is one line and complete; else that this program is at fault."""
    if type(error).__module__.startswith("diag."):
        return str(error)
    if logs := sys.modules.get("diag.cli.logs"):
        logs.fault(error)
    return f"a fault in this program: {type(error).__name__}: {error} (DIAG_TRACE=1 shows where)"


def _hint(error: click.ClickException) -> str:
    """The message, with what to do where it is a common slip."""
    message = error.format_message()
    if isinstance(error, click.UsageError) and error.ctx is not None:
        before = error.ctx.find_root().command.params
        if isinstance(error, click.NoSuchOption) and any(
            error.option_name in (*option.opts, *option.secondary_opts) for option in before
        ):
            return f"{error.option_name} goes before the command: diag {error.option_name} ... COMMAND"
        return f"{message} (see {error.ctx.command_path} --help)"
    return message


def _complain(message: str, code: int, program: bool) -> int:
    """The line on standard error, or the object on standard output where a program reads it."""
    message = _short(message)
    if program and sys.stdout is not None:
        with contextlib.suppress(OSError):
            json_output.say_error(message, code)
            return code
    say_on_stderr(message)
    return code


def say_on_stderr(text: str) -> None:
    """One line, as every error of the command looks."""
    click.echo(f"diag: {_short(text)}", err=True)


def _short(text: str) -> str:
    """The text on one line; a word that is far too long keeps its beginning and its end."""

    def cut(word: re.Match[str]) -> str:
        half = LONGEST_WORD // 2
        return f"{word[0][:half]}...{word[0][-half:]}"

    return re.sub(rf"\S{{{LONGEST_WORD + 4},}}", cut, one_line(text))


def _drop_stdout() -> None:
    """Send what is still buffered nowhere, or the interpreter would complain about it on its way out."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
