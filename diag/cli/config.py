"""The user's config file: folders of machines, the casebook, where sheets go, the shifts of the site, the theme.

It is TOML, `config.toml` in the platform's folder for settings, or the file that `DIAG_CONFIG` names. A missing file
counts as an empty one. Anything wrong in it is reported in one line, and nothing is guessed.
"""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from diag.cli.errors import WrongUsage, unknown

VARIABLE: Final = "DIAG_CONFIG"
"""The environment variable that names another file."""
MOST_BYTES: Final = 100_000
THEMES: Final = ("dark", "light")
KEYS: Final = {
    "knowledge": 'folders of machines: ["~/plant/machines"]',
    "shipped": "true or false: whether the machines that come with diag are listed too",
    "casebook": 'the file of the casebook: "~/plant/casebook.sqlite3"',
    "sheets": 'the folder that handover sheets are written to: "~/sheets"',
    "shifts": 'the times at which the shifts begin: ["06:00", "14:00", "22:00"]',
    "theme": f"the colours of the screens: {', '.join(THEMES)}",
}
"""Every key, with what it is for and how it is written."""
_ENDLESS: Final = re.compile(r"[0-9](?:_?[0-9]){999}")
_TIME: Final = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")


@dataclass(frozen=True, slots=True)
class Config:
    """What the file says. What it does not say is empty."""

    path: Path
    found: bool = False
    knowledge: tuple[Path, ...] = ()
    shipped: bool = True
    casebook: Path | str | None = None
    sheets: Path | None = None
    shifts: tuple[str, ...] = ()
    theme: str = THEMES[0]


def config_path() -> Path:
    """Where the file is looked for."""
    named = os.environ.get(VARIABLE, "").strip()
    if named:
        return Path(named).expanduser()
    from platformdirs import user_config_path

    return user_config_path("diag", appauthor=False) / "config.toml"


def read_config(path: Path | None = None) -> Config:
    """The settings in the file. Raises `WrongUsage` with one line where the file, a key or a value is wrong."""
    where = config_path() if path is None else path
    text = _text(where, named=path is not None or bool(os.environ.get(VARIABLE, "").strip()))
    if text is None:
        return Config(where)
    import tomllib

    try:
        return _config(where, text, tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise WrongUsage(f"{where}: not TOML: {error}") from None
    except RecursionError:
        raise WrongUsage(f"{where}: nested too deep") from None
    except ValueError:  # Python turns no number of thousands of digits into an integer
        raise _endless_number(where, text) from None


def _text(path: Path, named: bool) -> str | None:
    """The text of the file, or None where there is none. One that was asked for by name must be there."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            if str(path) == os.devnull:
                return ""
            raise WrongUsage(f"{path}: the config file is not an ordinary file")
        if found.st_size > MOST_BYTES:
            raise WrongUsage(f"{path}: the config file is larger than {MOST_BYTES:,} bytes")
        return path.read_bytes().decode("utf-8-sig")
    except (FileNotFoundError, NotADirectoryError):
        if named:
            raise WrongUsage(f"{path}: there is no config file of this name (see {VARIABLE})") from None
        return None
    except UnicodeDecodeError:
        raise WrongUsage(f"{path}: the config file is not UTF-8") from None
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise WrongUsage(f"{path}: the config file cannot be read: {why}") from None


def _config(path: Path, text: str, written: dict[str, Any]) -> Config:
    """The file's values as settings."""
    for key in written:
        if key not in KEYS:
            raise WrongUsage(f"{_at(path, text, key)}: {unknown('setting', key, KEYS).message}")
    settings: dict[str, Any] = {}
    for key, value in written.items():
        try:
            settings[key] = _setting(path, key, value)
            if key == "casebook":
                settings[key] = _casebook(path, text, value)
        except (ValueError, RuntimeError):  # the latter for the folder of a user whom nobody knows
            raise _wrong(path, text, key) from None
    theme = settings.get("theme", THEMES[0])
    if theme not in THEMES:
        raise WrongUsage(f"{_at(path, text, 'theme')}: {unknown('theme', theme, THEMES).message}")
    return Config(path, found=True, **settings)


def _setting(file: Path, key: str, value: Any) -> Any:
    """A value as the setting that it makes. Raises ValueError where it makes none."""
    match key, value:
        case "knowledge", [*words]:
            return tuple(_path(file, word) for word in words)
        case "shipped", bool():
            return value
        case "casebook" | "sheets", str():
            return _path(file, value)
        case "shifts", [*times] if all(isinstance(time, str) and _TIME.fullmatch(time) for time in times):
            if times == sorted(set(times)):
                return tuple(times)
        case "theme", str() if value.strip():
            return value
    raise ValueError


def _casebook(path: Path, text: str, value: str) -> Path | str:
    """A file, or the address of a database. Raises `WrongUsage` for an address that cannot be used."""
    from diag.record.address import WrongAddress, address, is_database

    if not is_database(value):
        return _path(path, value)
    try:
        return address(value)
    except WrongAddress as error:
        raise WrongUsage(f"{_at(path, text, 'casebook')}: {error}") from None


def _path(file: Path, word: Any) -> Path:
    """A path of the file: `~` is the user's folder, and what does not begin at the root begins at the file."""
    if not isinstance(word, str) or not word.strip() or not word.isprintable():
        raise ValueError
    return file.absolute().parent / Path(word).expanduser()


def _at(path: Path, text: str, key: str) -> str:
    """The file, with the line that the key stands in where it stands at the start of one."""
    line = re.search(rf"^[ \t]*[\"']?{re.escape(key)}[\"']?[ \t]*[=.\]]|^[ \t]*\[+{re.escape(key)}\b", text, re.M)
    return f"{path}, line {text.count(chr(10), 0, line.start()) + 1}" if line else str(path)


def _wrong(path: Path, text: str, key: str) -> WrongUsage:
    once = ", in order and each once" if key == "shifts" else ""
    return WrongUsage(f"{_at(path, text, key)}: wrong value for {key}, which takes {KEYS[key]}{once}")


def _endless_number(path: Path, text: str) -> WrongUsage:
    """What to say of a number with more digits than Python takes."""
    for n, line in enumerate(text.splitlines(), 1):
        if _ENDLESS.search(line):
            key = line.partition("=")[0].strip(" \t\"'")
            return _wrong(path, text, key) if key in KEYS else WrongUsage(f"{path}, line {n}: a number is too long")
    return WrongUsage(f"{path}: a number is too long")
