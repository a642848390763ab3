"""Where a casebook is: a file, or a database whose address never holds a password and is never repeated."""

from __future__ import annotations

from pathlib import Path

import pytest

from diag.record.address import WrongAddress, address
from diag.record.casebook import Casebook, CasebookError

SECRET = "s3cret"
WITH_SECRETS = (
    "postgresql://u:s3cret@h/db",
    "POSTGRESQL://u:s3cret@h/db",
    "postgresql+psycopg://u:s3cret@h/db",
    "postgresql:/u:s3cret@h/db",
    "postgresql//u:s3cret@h/db",
    "postgresql:u:s3cret@h/db",
    "postgres:u:s3cret@h/db",
    "postgres:s3cret",
    "postgresql://u%3As3cret@h/db",
    "postgresql%3A//u:s3cret@h/db",
    "postgresql://u@s3cret@h/db",
    "postgresql://h:s3cret/db",
    "postgresql://h/u:s3cret@db",
    "postgresql://h/db?password=s3cret",
    "postgresql://h/db?pass%77ord=s3cret",
    "postgresql://h/db?sslpassword=s3cret",
    "postgresql://h/db?pass=s3cret",
    "postgresql://h/db#s3cret",
    "postgresql://[s3cret",
    "postgresql://u:s3c\nret@h/db",
    " postgresql://u:s3cret@h/db ",
    "jdbc:postgresql://h/db?user=u&password=s3cret",
    "mysql://u:s3cret@h/db",
    "u:s3cret@h/db",
    "host=h password=s3cret",
    "host=h PASSWORD = s3cret",
    "PGPASSWORD=s3cret",
)


@pytest.mark.parametrize("text", WITH_SECRETS)
def test_what_may_hold_a_password_is_refused_and_never_repeated(text: str) -> None:
    with pytest.raises(WrongAddress) as error:
        address(text)
    said = str(error.value)
    assert "\n" not in said
    assert not any(part in said for part in (SECRET, "s3c", "u:", "h/db"))
    assert "without a password" in said or "leave the password out" in said or "cannot be read" in said
    for place in (text, Path(text)):
        with pytest.raises(CasebookError) as refused:
            Casebook(place, create=False)
        assert "s3c" not in str(refused.value)


@pytest.mark.parametrize(
    "text",
    [
        "postgresql://h/db",
        "postgres://u@h:5432/db",
        "postgresql:///db",
        "postgresql://u@/db?host=/run/postgresql",
        "postgresql://u@h1:5432,h2.example:5433/db?target_session_attrs=read-write",
        "postgresql://u@[::1]:5432/db",
        "postgresql://h/db?passfile=/home/u/.pgpass",
    ],
)
def test_an_address_without_a_password_stays_as_it_is(text: str) -> None:
    assert address(text) == address(f" {text} ") == text


def test_the_scheme_is_written_small() -> None:
    assert address("PostgreSQL://u@H/Db") == "postgresql://u@H/Db"


@pytest.mark.parametrize(
    "text",
    ["book.sqlite3", "./postgres:u@h", "/srv/u:s@h/book", "plant 4/book", "C:\\me@work\\book", "a@b:c", "../a:b@c"],
)
def test_a_path_is_a_path(text: str) -> None:
    assert address(text) == Path(text)
