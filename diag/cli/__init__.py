"""The commands, one thin file each. Importing this room loads nothing; a command's module loads when it is called.

`main` is the entry point of the `diag` command. `group.py` holds the table of commands and the one place where
errors become a line of text and an exit code: 0 fine, 1 found something wrong, 2 wrong usage.
"""


def main() -> None:
    """Run the command that the arguments name, and exit with its code."""
    import gc
    import os

    from diag.cli.group import diag

    # pydantic would look through every installed package for plugins, of which this program uses none.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # The tables are small: a second thread of NumPy's only waits for them, and takes a core from whoever works beside.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What is loaded at the start stays; looking through it for garbage every 700 objects costs a twelfth of a ranking.
    gc.set_threshold(50_000, 20, 20)
    diag.main()
