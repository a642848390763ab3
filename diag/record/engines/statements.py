"""Every statement that is spoken to a database, the same for both.

`:name` is a value. `{lock}` keeps a row from others until the transaction ends, where the database needs to be told.
`{words}` is how it searches. Values that belong to several rows go in one after another.
"""

from __future__ import annotations

# ------------------------------------------------------------ adding

CASE_BY_ID = "SELECT no FROM head WHERE id = :id"
CASE = "SELECT no FROM head WHERE name = :name AND (:year = 0 OR year = :year) ORDER BY year DESC LIMIT 1"
CHAIN = "SELECT id, machine, opened, seq, digest FROM head WHERE no = :no"
NEW_HEAD = """INSERT INTO head (id, name, born, year, machine, opened, last, seq, who, digest)
  VALUES (:id, :name, :name, :year, :machine, :at, :at, 0, :who, :digest) ON CONFLICT DO NOTHING RETURNING no"""
NEXT = """UPDATE head SET seq = :seq, digest = :digest, last = :at, who = COALESCE(:lead, who),
  ended = COALESCE(:ended, ended), over = COALESCE(:over, over), cause = COALESCE(:cause, cause),
  remedy = COALESCE(:remedy, remedy), minutes = COALESCE(:minutes, minutes)
  WHERE no = :no AND seq = :was AND digest = :before RETURNING no"""
ADD = """INSERT INTO event (no, seq, at, who, kind, stamp, body, digest)
  VALUES (:no, :seq, :at, :who, :kind, :stamp, :body, :digest)"""
ADD_TEXT = "INSERT INTO text (no, seq, mark, salt, words) VALUES (:no, :seq, :mark, :salt, :words)"
PERSON = "SELECT mark FROM person WHERE name = :name AND account = :account ORDER BY mark LIMIT 1"
MARKS = "SELECT mark FROM person WHERE name = :name ORDER BY mark"
ADD_PERSON = """INSERT INTO person (mark, salt, name, account) VALUES (:mark, :salt, :name, :account)
  ON CONFLICT DO NOTHING"""
STORED = "SELECT digest FROM event WHERE no = (SELECT no FROM head WHERE id = :id) AND seq = :seq"

REV = "SELECT rev FROM machine WHERE machine = :machine{lock}"
ALL_REVS = "SELECT machine, rev FROM machine ORDER BY machine{lock}"
ADD_MACHINE = "INSERT INTO machine (machine, rev) VALUES (:machine, 0) ON CONFLICT DO NOTHING"
NEXT_REV = "UPDATE machine SET rev = :rev WHERE machine = :machine"
ADD_REST = "INSERT INTO rest (machine, rev, carried) VALUES (:machine, :rev, :carried)"
ADD_TOUCH = "INSERT INTO touch (machine, rev, no, seq) VALUES (:machine, :rev, :no, :seq)"

# ------------------------------------------------------------ what follows from entries

ADD_LOCK = """INSERT INTO lock_on (machine, point, who, no, seq, at) VALUES (:machine, :point, :who, :no, :seq, :at)
  ON CONFLICT DO NOTHING"""
NO_LOCK = """DELETE FROM lock_on WHERE machine = :machine AND point = :point
  AND (who = :name OR who IN (SELECT mark FROM person WHERE name = :name))"""
ADD_DANGER = """INSERT INTO danger_on (machine, sign, no, seq, at) VALUES (:machine, :sign, :no, :seq, :at)
  ON CONFLICT DO NOTHING"""
NO_DANGER = "DELETE FROM danger_on WHERE machine = :machine AND sign = :sign"
CASE_RESETS = "SELECT machine, reset, seq, mistaken FROM reset_done WHERE no = :no"
ADD_RESET = """INSERT INTO reset_done (machine, at, no, seq, reset, mistaken)
  SELECT :machine, at, no, seq, :reset, :mistaken FROM event WHERE no = :no AND seq = :seq"""
NO_RESET = "DELETE FROM reset_done WHERE no = :no AND seq = :seq"
NO_STANDING = tuple(f"DELETE FROM {table}" for table in ("lock_on", "danger_on", "reset_done", "rest"))
OUTLINE = """UPDATE head SET who = :lead, ended = '', over = 0, cause = '', remedy = '', minutes = 0 WHERE no = :no"""
OUTLINED = """UPDATE head SET who = COALESCE(:lead, who), ended = COALESCE(:ended, ended), over = COALESCE(:over, over),
  cause = COALESCE(:cause, cause), remedy = COALESCE(:remedy, remedy), minutes = COALESCE(:minutes, minutes)
  WHERE no = :no"""

# ------------------------------------------------------------ reading

ENTRIES = """SELECT seq, at, who, kind, stamp, body, digest FROM event WHERE no = :no AND seq > :after ORDER BY seq"""
TEXTS = "SELECT mark, words FROM text WHERE no = :no AND seq > :after"
PERSONS_OF = """SELECT p.mark, p.name, p.account FROM person p
  WHERE p.mark IN (SELECT who FROM event WHERE no = :no AND seq > :after)"""
PERSON_OF = "SELECT name, account FROM person WHERE mark = :mark"
TOUCHING = """SELECT t.rev, t.no, e.seq, e.at, e.who, e.kind, e.stamp, e.body, e.digest
  FROM touch t JOIN event e ON e.no = t.no AND e.seq = t.seq
  WHERE t.machine = :machine AND t.rev > :after AND t.rev <= :until AND t.no <> :but ORDER BY t.rev"""
TOUCHING_TEXTS = """SELECT x.mark, x.words FROM touch t JOIN text x ON x.no = t.no AND x.seq = t.seq
  WHERE t.machine = :machine AND t.rev > :after AND t.rev <= :until AND t.no <> :but"""
TOUCHED_SINCE = """SELECT t.rev, t.no, t.seq, e.at, e.stamp FROM touch t
  LEFT JOIN event e ON e.no = t.no AND e.seq = t.seq WHERE t.machine = :machine AND t.rev > :after ORDER BY t.rev"""
REST = """SELECT r.rev, r.carried, e.stamp FROM rest r LEFT JOIN touch t ON t.machine = r.machine AND t.rev = r.rev
  LEFT JOIN event e ON e.no = t.no AND e.seq = t.seq
  WHERE r.machine = :machine AND r.rev <= :rev ORDER BY r.rev DESC LIMIT 1"""
OPEN_ENDS = """SELECT e.stamp FROM head h JOIN event e ON e.no = h.no AND e.seq = h.seq
  WHERE h.machine = :machine AND h.over = 0"""
ENDED_ENDS = """SELECT e.stamp FROM head h JOIN event e ON e.no = h.no AND e.seq = h.seq
  WHERE h.machine = :machine AND h.over = 1 AND EXISTS (SELECT 1 FROM touch t WHERE t.no = h.no)
  ORDER BY h.last DESC, h.no DESC LIMIT 20"""
STANDING_LOCKS = "SELECT machine, point, who, no, seq, at FROM lock_on"
STANDING_DANGERS = "SELECT machine, sign, no, seq, at FROM danger_on"
OWN_TOUCHES = "SELECT seq, rev FROM touch WHERE no = :no AND machine = :machine"
TOUCHES = "SELECT no, seq FROM touch ORDER BY machine, rev"
PLACE = """SELECT h.machine, h.seq, COALESCE(m.rev, 0) FROM head h LEFT JOIN machine m ON m.machine = h.machine
  WHERE h.no = :no"""
LOCKS = """SELECT l.machine, l.point, COALESCE(p.name, l.who), l.no, l.seq, l.at, 0
  FROM lock_on l LEFT JOIN person p ON p.mark = l.who WHERE l.machine = :machine ORDER BY l.at, l.no, l.seq, l.point"""
DANGERS = """SELECT d.machine, d.sign, COALESCE(p.name, e.who), d.no, d.seq, d.at, 0
  FROM danger_on d JOIN event e ON e.no = d.no AND e.seq = d.seq LEFT JOIN person p ON p.mark = e.who
  WHERE d.machine = :machine ORDER BY d.at, d.no, d.seq, d.sign"""
RESETS = """SELECT r.machine, r.reset, COALESCE(p.name, e.who), r.no, r.seq, r.at, r.mistaken
  FROM reset_done r JOIN event e ON e.no = r.no AND e.seq = r.seq LEFT JOIN person p ON p.mark = e.who
  WHERE r.machine = :machine AND r.at >= :since ORDER BY r.at, r.no"""
ALL_LOCKS = """SELECT l.no, l.machine, l.point, COALESCE(p.name, l.who) FROM lock_on l
  LEFT JOIN person p ON p.mark = l.who ORDER BY l.no, l.point, l.at"""

_HEAD = """SELECT h.no, h.id, h.name, h.year, h.machine, h.opened, h.last, h.seq, COALESCE(p.name, h.who), h.ended,
  h.over, h.cause, h.remedy, h.minutes, h.digest,
  EXISTS (SELECT 1 FROM head later WHERE later.name = h.name AND later.year > h.year)
  FROM head h LEFT JOIN person p ON p.mark = h.who WHERE """
_PAGE = " AND (h.last, h.no) < (:last, :no) ORDER BY h.last DESC, h.no DESC LIMIT :limit"
HEAD = _HEAD + "h.no = :no"
LABEL = """SELECT h.name, h.year, EXISTS (SELECT 1 FROM head later WHERE later.name = h.name AND later.year > h.year)
  FROM head h WHERE h.no = :no"""
PAGE_ALL = _HEAD + "1 = 1" + _PAGE
PAGE_OPEN = _HEAD + "h.over = 0" + _PAGE
PAGE_MACHINE = _HEAD + "h.machine = :machine" + _PAGE
PAGE_MACHINE_OPEN = _HEAD + "h.machine = :machine AND h.over = 0" + _PAGE
PAGE_CAUSE = _HEAD + "h.cause = :cause AND h.over = 1" + _PAGE
COUNT = "SELECT COUNT(*) FROM head"
NEWEST = "SELECT COALESCE(MAX(no), 0) FROM head"

# ------------------------------------------------------------ seals, digests, forgetting

DAY = "SELECT day FROM book WHERE one = 1{lock}"
NEXT_DAY = "UPDATE book SET day = :day WHERE one = 1"
UNSEALED = "SELECT no, id, name, seq, digest FROM head WHERE seq > sealed"
LAST_SEAL = "SELECT number, at, digest FROM seal ORDER BY number DESC LIMIT 1"
ADD_SEAL = "INSERT INTO seal (number, at, digest) VALUES (:number, :at, :digest)"
ADD_SEALED = """INSERT INTO sealed (number, no, id, name, seq, digest)
  VALUES (:number, :no, :id, :name, :seq, :digest)"""
HEAD_SEALED = "UPDATE head SET sealed = :seq WHERE no = :no"
SEALS = "SELECT number, at, digest FROM seal ORDER BY number"
ALL_SEALED = """SELECT s.id, s.name, s.seq, s.digest, h.id, e.digest FROM sealed s LEFT JOIN head h ON h.no = s.no
  LEFT JOIN event e ON e.no = s.no AND e.seq = s.seq WHERE s.number = :number ORDER BY s.no"""
CHAINS = """SELECT no, id, name, born, year, machine, seq, digest, sealed, opened, last, who, ended, over, cause,
  remedy, minutes FROM head WHERE no > :no ORDER BY no LIMIT :limit"""
SEALED_UP_TO = "SELECT no, MAX(seq), MAX(number) FROM sealed GROUP BY no"
ALL_OF = {
    "machine": "SELECT machine, rev FROM machine",
    "touch": "SELECT machine, rev, no, seq FROM touch",
    "lock_on": STANDING_LOCKS,
    "danger_on": STANDING_DANGERS,
    "reset_done": "SELECT machine, at, no, seq, reset, mistaken FROM reset_done",
    "rest": "SELECT machine, rev, carried FROM rest",
    "book": "SELECT day FROM book WHERE one = 1",
}
PRESENT = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'table'",
    "postgres": "SELECT CAST(tablename AS TEXT) FROM pg_tables WHERE schemaname = current_schema()",
}
MACHINE_STAMPS = """SELECT h.no, h.name, h.over, e.seq, e.at, e.stamp FROM head h JOIN event e ON e.no = h.no
  WHERE h.machine = :machine ORDER BY h.no, e.seq"""
OF_MACHINE = "WHERE machine = :machine"
EMPTY = {table: f"DELETE FROM {table}" for table in ("touch", "lock_on", "danger_on", "reset_done", "rest")}
KEEP_RESET = """INSERT INTO reset_done (machine, at, no, seq, reset, mistaken)
  VALUES (:machine, :at, :no, :seq, :reset, :mistaken)"""
REPAIRS = """SELECT r.rev, e.stamp FROM rest r LEFT JOIN touch t ON t.machine = r.machine AND t.rev = r.rev
  LEFT JOIN event e ON e.no = t.no AND e.seq = t.seq
  WHERE r.machine = :machine AND r.carried = 'repaired' ORDER BY r.rev DESC LIMIT 1"""
"""Said in so many letters, so that the index of those few rows is taken."""
LINKS = """SELECT no, seq, at, who, kind, stamp, body, digest FROM event WHERE no > :from AND no <= :to
  ORDER BY no, seq"""
STRAYS = "SELECT DISTINCT no FROM event WHERE no NOT IN (SELECT no FROM head)"
LINK = "SELECT digest FROM event WHERE no = :no AND seq = :seq"
PERSONS = "SELECT mark, salt, name, account FROM person ORDER BY mark"
TEXT_MARKS = "SELECT no, seq, mark, salt, words FROM text WHERE no > :from AND no <= :to ORDER BY no, seq, mark"
FORGOTTEN = "SELECT mark, at FROM forgotten"
FORGET_PERSON = "DELETE FROM person WHERE mark = :mark"
BLANK = "DELETE FROM text WHERE no = :no AND seq = :seq AND mark = :mark"
APART = "SELECT mark FROM person WHERE mark = :mark UNION SELECT mark FROM text WHERE mark = :mark"
NOTE_FORGOTTEN = "INSERT INTO forgotten (mark, at) VALUES (:mark, :at) ON CONFLICT DO NOTHING"
LOCKED_BY = """SELECT l.machine, l.point FROM lock_on l JOIN head h ON h.no = l.no AND h.machine = l.machine
  WHERE l.who = :mark"""
CASES_OF = "SELECT DISTINCT no FROM event WHERE who = :mark OR body LIKE :within"
ALL_TEXTS = "SELECT no, seq, mark, words FROM text ORDER BY no, seq, mark"
CASE_TEXTS = "SELECT seq, mark, salt, words FROM text WHERE no = :no ORDER BY seq, mark"
CASE_BY_ID = "SELECT no, name, seq, digest FROM head WHERE id = :id"
IMPORT_HEAD = """INSERT INTO head (id, name, born, year, machine, opened, last, seq, who, ended, over, cause, remedy,
  minutes, digest) VALUES (:id, :name, :born, :year, :machine, :opened, :last, :seq, :who, '', 1, '', '', 0, :digest)
  ON CONFLICT DO NOTHING RETURNING no"""
KEEP_PERSON = """INSERT INTO person (mark, salt, name, account) VALUES (:mark, :salt, :name, :account)
  ON CONFLICT DO NOTHING"""
EXPORT_HEAD = "SELECT id, name, born, year, machine, opened, last, seq, who, over, digest FROM head WHERE no = :no"
ALL_NOS = "SELECT no FROM head WHERE over = 1 OR :all = 1 ORDER BY no"

# ------------------------------------------------------------ words, which each database keeps in its own way

WORDS = {
    "sqlite": {
        "known": "SELECT words FROM said WHERE rowid = :no",
        "add": "INSERT OR REPLACE INTO said (rowid, words) VALUES (:no, :words)",
        "drop": "DELETE FROM said WHERE rowid = :no",
        "find": """SELECT rowid FROM said WHERE said MATCH :words AND rowid > :above AND rowid < :below
          ORDER BY rowid DESC LIMIT :limit""",
    },
    "postgres": {
        "known": "SELECT array_to_string(tsvector_to_array(words), ' ') FROM said WHERE no = :no",
        "add": """INSERT INTO said (no, words) VALUES (:no, array_to_tsvector(string_to_array(:words, ' ')))
          ON CONFLICT (no) DO UPDATE SET words = excluded.words""",
        "drop": "DELETE FROM said WHERE no = :no",
        "find": """SELECT no FROM (SELECT no FROM said WHERE words @@ CAST(:words AS tsquery) AND no > :above
          AND no < :below OFFSET 0) found ORDER BY no DESC LIMIT :limit""",
    },
}
