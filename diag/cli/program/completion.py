"""`diag completion`: the script with which a shell completes commands, machines, facts, cases and topics."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

import click
from click.shell_completion import BashComplete, FishComplete, ShellComplete, ZshComplete

from diag.cli.errors import WrongUsage, unknown
from diag.cli.printing import say_lines, wrapped

VARIABLE: Final = "_DIAG_COMPLETE"
"""Set by the scripts, so that `diag` answers with completions."""

BASH: Final = """\
# Completion of diag for bash, as `diag completion bash` prints it.
%(complete_func)s() {
    local IFS=$'\\n' completion type value
    COMPREPLY=()
    for completion in $(env COMP_WORDS="${COMP_WORDS[*]}" COMP_CWORD="$COMP_CWORD" %(complete_var)s=bash_complete "$1")
    do
        IFS=',' read -r type value <<< "$completion"
        case $type in
            dir) compopt -o dirnames ;;
            file) compopt -o default ;;
            plain) COMPREPLY+=("$value") ;;
        esac
    done
    # Behind the "=" of a fact its state follows, and no space.
    if [[ ${#COMPREPLY[@]} -eq 1 && ${COMPREPLY[0]} == *= ]]; then
        compopt -o nospace
    fi
    return 0
}
complete -F %(complete_func)s %(prog_name)s
"""


class _Bash(BashComplete):
    source_template = BASH


SHELLS: Final[dict[str, type[ShellComplete]]] = {"bash": _Bash, "zsh": ZshComplete, "fish": FishComplete}


@click.command("completion")
@click.argument("shell", required=False, metavar="[bash|zsh|fish]")
@click.option("--install", is_flag=True, help="Write the script where the shell looks for it, and say where.")
def command(shell: str | None, install: bool) -> int:
    """Print the script with which a shell completes commands, machines, facts, cases, topics, modules and roles.

    The shell left out is that of the variable SHELL. With --install the script is written for this user alone, and one
    that this command wrote before is renewed. It works in the next shell that is opened.

    \b
    diag completion bash --install
    diag completion zsh > _diag
    """
    name = shell or Path(os.environ.get("SHELL", "")).name
    if name not in SHELLS:
        raise unknown("shell", name, SHELLS) if name else WrongUsage(f"which shell? {', '.join(SHELLS)}")
    script = source(name)
    if not install:
        click.echo(script, nl=False)
        return 0
    file, finds_it = place(name)
    try:
        if file.exists() and VARIABLE not in file.read_text(encoding="utf-8", errors="replace"):
            raise WrongUsage(f"{file} is there already and is not from this command; move it away first")
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(script, encoding="utf-8")
    except OSError as error:
        raise click.ClickException(f"{file} cannot be written: {(error.strerror or str(error)).lower()}") from None
    say_lines((f"written to {file}", *wrapped(finds_it)))
    return 0


def source(shell: str) -> str:
    """The script of a shell."""
    from diag.cli.group import diag

    complete = SHELLS[shell](diag, {}, "diag", VARIABLE)
    script = complete.source_template % complete.source_vars()
    return script if script.endswith("\n") else f"{script}\n"


def place(shell: str) -> tuple[Path, str]:
    """Where a shell looks for the script, for this user alone, and what it takes for the shell to find it."""
    data = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    config = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    match shell:
        case "bash":
            file = data / "bash-completion" / "completions" / "diag"
            without = f"without it, add this line to ~/.bashrc:  source {file}"
            return file, f"bash finds it there when the package bash-completion is installed; {without}"
        case "zsh":
            file = data / "zsh" / "site-functions" / "_diag"
            line = f"fpath=({file.parent} $fpath)"
            return file, f"zsh finds it there when this line stands in ~/.zshrc above compinit:  {line}"
        case _:
            return config / "fish" / "completions" / "diag.fish", "fish finds it there by itself."
