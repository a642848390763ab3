"""The commands, one thin file each. Importing this room loads nothing; a command's module loads when it is called.

`main` is the entry point of the `diag` command. `group.py` holds the table of commands and the one place where
errors become a line of text and an exit code: 0 fine, 1 found something wrong, 2 wrong usage.
"""


def main() -> None:
    """Run the command that the arguments name, and exit with its code."""
    import gc
    import os

    # What is loaded at the start stays; looking through it for garbage costs a tenth of a ranking. `group.py` turns the
    # collector on again for whatever runs longer than it takes to read some files and print.
    gc.disable()

    from diag.cli.group import COMMANDS, Run, diag

    # pydantic would look through every installed package for plugins, of which this program uses none.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # The tables are small: a second thread of NumPy's only waits for them, and takes a core from whoever works beside.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        diag.main()
    except SystemExit as end:
        row = COMMANDS.get(diag.invoked or "")
        if row is not None and row.run is Run.BARE:
            _leave(end.code)
        raise


def _leave(code: object) -> None:
    """End the process at once: taking all objects apart takes longer than a fact does.

    It returns where a log is kept or a thread runs, and where what was printed could not be written."""
    import os
    import sys
    import threading

    if not isinstance(code, int) or "logging" in sys.modules or threading.active_count() > 1:
        return
    try:
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
    except (OSError, ValueError):
        return
    os._exit(code)
