"""The tables, for both databases. One truth, `event`, and who and what it names; all else is worked out from it.

`event` is only ever added to, and each database refuses anything else by itself. A name stands in `person` and free
words in `text`, where they can be forgotten; `forgotten` says what was. `head`, `touch`, `lock_on`, `danger_on`,
`reset_done`, `rest` and `said` can be dropped and made anew, but for what a head says of who the case is.
"""

from __future__ import annotations

from diag.record.entry import EARLIEST, LATEST

VERSION = 2
"""Of the tables. 1 is what `diag.record.copies.version_1` reads."""
MARK = 0x44494147
"""SQLite's application id of our files: the letters DIAG."""
CHANNEL = "diag_entry"
"""Where PostgreSQL tells of new entries."""

_TABLES = """
CREATE TABLE head (no {key}, id TEXT NOT NULL UNIQUE CHECK (length(id) = 32), name TEXT NOT NULL, born TEXT NOT NULL,
  year INTEGER NOT NULL, machine TEXT NOT NULL, opened {int} NOT NULL, last {int} NOT NULL, seq INTEGER NOT NULL,
  sealed INTEGER NOT NULL DEFAULT 0, who TEXT NOT NULL, ended TEXT NOT NULL DEFAULT '',
  over INTEGER NOT NULL DEFAULT 0, cause TEXT NOT NULL DEFAULT '', remedy TEXT NOT NULL DEFAULT '',
  minutes INTEGER NOT NULL DEFAULT 0, digest {bytes} NOT NULL CHECK (length(digest) = 32), UNIQUE (name, year)){strict};
CREATE TABLE event (no {int} NOT NULL REFERENCES head, seq INTEGER NOT NULL,
  at {int} NOT NULL CHECK (at >= {earliest} AND at < {latest}), who TEXT NOT NULL, kind TEXT NOT NULL,
  stamp TEXT NOT NULL, body TEXT NOT NULL, digest {bytes} NOT NULL CHECK (length(digest) = 32),
  stored {int} NOT NULL DEFAULT ({now}), PRIMARY KEY (no, seq)){keyed};
CREATE TABLE person (mark TEXT PRIMARY KEY, salt {bytes} NOT NULL, name TEXT NOT NULL, account TEXT NOT NULL){keyed};
CREATE TABLE text (no {int} NOT NULL, seq INTEGER NOT NULL, mark TEXT NOT NULL, salt {bytes} NOT NULL,
  words TEXT NOT NULL, PRIMARY KEY (no, seq, mark)){keyed};
CREATE TABLE forgotten (mark TEXT PRIMARY KEY, at {int} NOT NULL){keyed};
CREATE TABLE machine (machine TEXT PRIMARY KEY, rev INTEGER NOT NULL){keyed};
CREATE TABLE touch (machine TEXT NOT NULL, rev INTEGER NOT NULL, no {int} NOT NULL, seq INTEGER NOT NULL,
  PRIMARY KEY (machine, rev)){keyed};
CREATE TABLE lock_on (machine TEXT NOT NULL, point TEXT NOT NULL, who TEXT NOT NULL, no {int} NOT NULL,
  seq INTEGER NOT NULL, at {int} NOT NULL, PRIMARY KEY (machine, point, who)){keyed};
CREATE TABLE danger_on (machine TEXT NOT NULL, sign TEXT NOT NULL, no {int} NOT NULL, seq INTEGER NOT NULL,
  at {int} NOT NULL, PRIMARY KEY (machine, sign)){keyed};
CREATE TABLE reset_done (machine TEXT NOT NULL, at {int} NOT NULL, no {int} NOT NULL, seq INTEGER NOT NULL,
  reset TEXT NOT NULL, mistaken INTEGER NOT NULL, PRIMARY KEY (machine, at, no, seq)){keyed};
CREATE TABLE rest (machine TEXT NOT NULL, rev INTEGER NOT NULL, carried TEXT NOT NULL,
  PRIMARY KEY (machine, rev)){keyed};
CREATE TABLE seal (number INTEGER PRIMARY KEY, at {int} NOT NULL, digest {bytes} NOT NULL){keyed};
CREATE TABLE sealed (number INTEGER NOT NULL, no {int} NOT NULL, id TEXT NOT NULL, name TEXT NOT NULL,
  seq INTEGER NOT NULL, digest {bytes} NOT NULL, PRIMARY KEY (number, no)){keyed};
CREATE TABLE book (one INTEGER PRIMARY KEY CHECK (one = 1), version INTEGER NOT NULL, day INTEGER NOT NULL){keyed};
INSERT INTO book VALUES (1, {version}, 0);
CREATE INDEX person_name ON person (name, account, mark);
CREATE INDEX head_last ON head (last, no);
CREATE INDEX head_open ON head (last, no) WHERE over = 0;
CREATE INDEX head_machine ON head (machine, last, no);
CREATE INDEX head_machine_open ON head (machine, last, no) WHERE over = 0;
CREATE INDEX head_cause ON head (cause, last, no) WHERE over = 1;
CREATE INDEX head_unsealed ON head (no) WHERE seq > sealed;
CREATE INDEX touch_case ON touch (no, machine, seq, rev);
CREATE INDEX reset_case ON reset_done (no);
CREATE INDEX rest_repaired ON rest (carried, machine, rev) WHERE carried = 'repaired';
"""

_SQLITE = """
CREATE VIRTUAL TABLE said USING fts5(words, tokenize="ascii");
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'the casebook is only added to'); END;
CREATE TRIGGER event_kept BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'the casebook is only added to'); END;
CREATE TRIGGER event_next BEFORE INSERT ON event
  WHEN NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM event WHERE no = NEW.no)
  BEGIN SELECT RAISE(ABORT, 'not the next entry of its case'); END;
"""

_POSTGRES = """
CREATE TABLE said (no BIGINT PRIMARY KEY, words TSVECTOR NOT NULL);
CREATE INDEX said_words ON said USING GIN (words);
CREATE FUNCTION event_stays() RETURNS trigger LANGUAGE plpgsql AS $$
  BEGIN RAISE EXCEPTION 'the casebook is only added to'; END $$;
CREATE FUNCTION event_next() RETURNS trigger LANGUAGE plpgsql AS $$
  BEGIN
    IF NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM event WHERE no = NEW.no) THEN
      RAISE unique_violation USING MESSAGE = 'not the next entry of its case';
    END IF;
    RETURN NEW;
  END $$;
CREATE FUNCTION event_told() RETURNS trigger LANGUAGE plpgsql AS $$
  BEGIN PERFORM pg_notify('{channel}', NEW.no || ' ' || NEW.seq); RETURN NULL; END $$;
CREATE TRIGGER event_stays BEFORE UPDATE OR DELETE ON event FOR EACH ROW EXECUTE FUNCTION event_stays();
CREATE TRIGGER event_kept BEFORE TRUNCATE ON event FOR EACH STATEMENT EXECUTE FUNCTION event_stays();
CREATE TRIGGER event_next BEFORE INSERT ON event FOR EACH ROW EXECUTE FUNCTION event_next();
CREATE TRIGGER event_told AFTER INSERT ON event FOR EACH ROW EXECUTE FUNCTION event_told();
"""

_WORDS = {
    "sqlite": {
        "key": "INTEGER PRIMARY KEY",
        "int": "INTEGER",
        "bytes": "BLOB",
        "strict": " STRICT",
        "keyed": " STRICT, WITHOUT ROWID",
        "now": "CAST((julianday('now') - 2440587.5) * 86400000000 AS INTEGER)",
    },
    "postgres": {
        "key": "BIGINT GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY",
        "int": "BIGINT",
        "bytes": "BYTEA",
        "strict": "",
        "keyed": "",
        "now": "(extract(epoch FROM clock_timestamp()) * 1000000)::bigint",
    },
}


def statements(dialect: str) -> list[str]:
    """What makes the tables in this database, one statement after another."""
    own = _SQLITE if dialect == "sqlite" else _POSTGRES
    text = _TABLES + own.replace("{channel}", CHANNEL)
    limits = {"earliest": str(EARLIEST), "latest": str(LATEST), "version": str(VERSION)}
    for word, meaning in {**_WORDS[dialect], **limits}.items():
        text = text.replace("{" + word + "}", meaning)
    return _split(text)


def _split(text: str) -> list[str]:
    """Statements end at a semicolon at the end of a line, but for those inside a function's or a trigger's body."""
    found, part = [], ""
    for line in text.strip().splitlines():
        part += line + "\n"
        inside = part.count("$$") % 2 or (
            part.startswith("CREATE TRIGGER") and " BEGIN " in part and "END;" not in line
        )
        if line.endswith(";") and not inside:
            found.append(part.strip().removesuffix(";"))
            part = ""
    return found
