"""Where a casebook is: a file, or a PostgreSQL database by its address. Light, since every command reads it."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path
from urllib.parse import parse_qsl, unquote, urlsplit

VARIABLE = "DIAG_CASEBOOK"
"""The environment variable that names the casebook."""
_MEANT = re.compile(
    r"""://
    | (?:pass(?:word|wd|phrase)?|pwd) \s* =
    | ^[\w:]*postgres\w*[:+]
    | ^(?![/.~\\]|[a-z]:[/\\])[^@]*:.*@""",
    re.I | re.X | re.S,
)
"""What only somebody writes who means a database: a scheme, a password, or `word:...@` that is no path."""
_ADDRESS = re.compile(
    r"postgres(?:ql)?://(?:[^\s:@/?#]+@)?(?:[\w.-]*|\[[\da-f:.]+\])(?::\d+)?"
    r"(?:,(?:[\w.-]+|\[[\da-f:.]+\])(?::\d+)?)*(?:/[^\s:@/?#]*)?(?:\?[^\s#]*)?",
    re.I,
)
"""A database's address without a password: user, hosts with ports, database, settings."""

Address = Path | str
"""A file as a path, a database as the text of its address."""


class WrongAddress(ValueError):
    """The address cannot be used; one line, without the address itself, which may hold a password."""


def is_database(text: str | Path) -> bool:
    """Whether this is meant as a database's address and as no file, well written or not."""
    said = str(text).strip()
    return bool(_MEANT.search(said) or _MEANT.search(unquote(said)))


def address(text: str | Path) -> Address:
    """A path, or the text of a database's address.

    Raises `WrongAddress` for one that holds a password, since others on the computer can read a command line, and for
    whatever else is meant as a database: a slip in it may have put the password anywhere."""
    if not is_database(text):
        return Path(text).expanduser()
    said = str(text).strip()
    try:
        parts = urlsplit(said)
        user, apart, _ = unquote(parts.netloc).rpartition("@")
        settings = parse_qsl(parts.query, keep_blank_values=True)
    except ValueError:
        raise WrongAddress("the address of the database cannot be read") from None
    secret = any("pass" in key.lower() and key != "passfile" for key, _ in settings)
    if secret or (apart and ":" in user):
        raise WrongAddress(
            "leave the password out of the address of the database: set PGPASSWORD, or write it in the file that"
            " PGPASSFILE names (~/.pgpass)"
        )
    if not _ADDRESS.fullmatch(said):
        raise WrongAddress(
            "the address of a database is written postgresql://USER@SERVER/DATABASE, without a password; what was"
            " given is written otherwise"
        )
    scheme, _, rest = said.partition("://")
    return f"{scheme.lower()}://{rest}"


def default_path() -> Address:
    """What `DIAG_CASEBOOK` names, or a file in the user's own data folder. Raises `WrongAddress`."""
    named = os.environ.get(VARIABLE, "").strip()
    if named:
        return address(named)
    from platformdirs import user_data_path

    return user_data_path("diag", appauthor=False) / "casebook.sqlite3"


def not_a_file(path: Path) -> bool:
    """Whether something stands there that is no ordinary file: a folder, a device, a pipe, or a link in a circle.

    Opening a pipe waits for ever, and a device swallows what is written. Raises OSError where nobody may look."""
    import errno

    try:
        return not stat.S_ISREG(path.stat().st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        if error.errno == errno.ELOOP:
            return True
        raise
