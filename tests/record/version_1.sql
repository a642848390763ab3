-- A casebook of version 1, as the program of then wrote it.
PRAGMA application_id = 1145651527;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE entry (
    case_id TEXT NOT NULL,
    seq INTEGER NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL,
    locks TEXT NOT NULL,
    PRIMARY KEY (case_id, seq)
) WITHOUT ROWID;
INSERT INTO "entry" VALUES('1125-a',1,'opened','{"seq":1,"at":"2026-11-25T03:01:00Z","by":"Ann","event":{"kind":"opened","machine":"mixer","revision":"2026-11-20"}}','[]');
INSERT INTO "entry" VALUES('1125-a',2,'took-over','{"seq":2,"at":"2026-11-25T03:01:00Z","by":"Ann","event":{"kind":"took-over","person":"Ann","role":"electrician","authorised":true,"qualified":true}}','[]');
INSERT INTO "entry" VALUES('1125-a',3,'found','{"seq":3,"at":"2026-11-25T03:02:00Z","by":"Ann","event":{"kind":"found","indication":"supply-lamp","seen":{"lit":1.0},"said":"lit","check":"","before":""}}','[]');
INSERT INTO "entry" VALUES('1125-a',4,'found','{"seq":4,"at":"2026-11-25T03:03:00Z","by":"Ann","event":{"kind":"found","indication":"box-display","seen":{"drive-trip":1.0,"other":0.006513354545490417},"said":"d1","check":"","before":""}}','[]');
INSERT INTO "entry" VALUES('1125-a',5,'cannot-tell','{"seq":5,"at":"2026-11-25T03:04:00Z","by":"Ann","event":{"kind":"cannot-tell","indication":"before-stop","check":""}}','[]');
INSERT INTO "entry" VALUES('1125-a',6,'noted','{"seq":6,"at":"2026-11-25T03:05:00Z","by":"Ann","event":{"kind":"noted","text":"Heard a bang; ünïcode — 電"}}','[]');
INSERT INTO "entry" VALUES('1125-a',7,'taken-back','{"seq":7,"at":"2026-11-25T03:06:00Z","by":"Ann","event":{"kind":"taken-back","seq":6}}','[]');
INSERT INTO "entry" VALUES('1125-a',8,'gate','{"seq":8,"at":"2026-11-25T03:07:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"told","target":"","reason":"","permit":""}}','[]');
INSERT INTO "entry" VALUES('1125-a',9,'gate','{"seq":9,"at":"2026-11-25T03:08:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"shut-down","target":"","reason":"","permit":""}}','[]');
INSERT INTO "entry" VALUES('1125-a',10,'gate','{"seq":10,"at":"2026-11-25T03:09:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"off-and-locked","target":"main-switch-q1","reason":"","permit":""}}','[["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',11,'gate','{"seq":11,"at":"2026-11-25T03:10:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"off-and-locked","target":"lift-permit","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',12,'gate','{"seq":12,"at":"2026-11-25T03:12:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"released","target":"arm-weight","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',13,'gate','{"seq":13,"at":"2026-11-25T03:13:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"start-tried","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',14,'gate','{"seq":14,"at":"2026-11-25T03:14:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"opened","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',15,'gate','{"seq":15,"at":"2026-11-25T03:15:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"meter-proved","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',16,'gate','{"seq":16,"at":"2026-11-25T03:16:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"tested-dead","target":"q1-out","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',17,'gate','{"seq":17,"at":"2026-11-25T03:17:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"meter-proved","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',18,'found','{"seq":18,"at":"2026-11-25T03:18:00Z","by":"Ann","event":{"kind":"found","indication":"drive-fuse","seen":{"open":1.0},"said":"OL","check":"test-drive-fuse","before":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',19,'remedied','{"seq":19,"at":"2026-11-25T03:19:00Z","by":"Ann","event":{"kind":"remedied","remedy":"drive-fuse-blown"}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',20,'gate','{"seq":20,"at":"2026-11-25T03:20:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"back","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',21,'gate','{"seq":21,"at":"2026-11-25T03:21:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"tools-out","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',22,'gate','{"seq":22,"at":"2026-11-25T03:22:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"guards-on","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',23,'gate','{"seq":23,"at":"2026-11-25T03:23:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"clear","target":"","reason":"","permit":""}}','[["lift-permit", "Ann"], ["main-switch-q1", "Ann"]]');
INSERT INTO "entry" VALUES('1125-a',24,'gate','{"seq":24,"at":"2026-11-25T03:24:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"locks-off","target":"","reason":"","permit":""}}','[]');
INSERT INTO "entry" VALUES('1125-a',25,'gate','{"seq":25,"at":"2026-11-25T03:25:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"told-back","target":"","reason":"","permit":""}}','[]');
INSERT INTO "entry" VALUES('1125-a',26,'gate','{"seq":26,"at":"2026-11-25T03:26:00Z","by":"Ann","event":{"kind":"gate","zone":"control-box","act":"power-on","target":"","reason":"","permit":""}}','[]');
INSERT INTO "entry" VALUES('1125-b',1,'opened','{"seq":1,"at":"2026-11-25T03:01:00Z","by":"Olga","event":{"kind":"opened","machine":"mixer","revision":"2026-11-20"}}','[]');
INSERT INTO "entry" VALUES('1125-b',2,'took-over','{"seq":2,"at":"2026-11-25T03:01:00Z","by":"Olga","event":{"kind":"took-over","person":"Olga","role":"operator","authorised":false,"qualified":false}}','[]');
INSERT INTO "entry" VALUES('1125-b',3,'found','{"seq":3,"at":"2026-11-25T03:02:00Z","by":"Olga","event":{"kind":"found","indication":"supply-lamp","seen":{"dark":1.0},"said":"dark","check":"","before":""}}','[]');
INSERT INTO "entry" VALUES('1125-b',4,'noted','{"seq":4,"at":"2026-11-25T03:03:00Z","by":"Olga","event":{"kind":"noted","text":"told by Ann"}}','[]');
INSERT INTO "entry" VALUES('1125-b',5,'closed','{"seq":5,"at":"2026-11-25T03:04:00Z","by":"Olga","event":{"kind":"closed","outcome":"handed-over","cause":"","to":"Bob","note":"look at q1"}}','[]');
INSERT INTO "entry" VALUES('1125-c',1,'opened','{"seq":1,"at":"2026-11-25T03:01:00Z","by":"Bob","event":{"kind":"opened","machine":"mixer","revision":"2026-11-20"}}','[]');
INSERT INTO "entry" VALUES('1125-c',2,'took-over','{"seq":2,"at":"2026-11-25T03:01:00Z","by":"Bob","event":{"kind":"took-over","person":"Bob","role":"engineer","authorised":true,"qualified":true}}','[]');
INSERT INTO "entry" VALUES('1125-c',3,'gate','{"seq":3,"at":"2026-11-25T03:02:00Z","by":"Bob","event":{"kind":"gate","zone":"control-box","act":"told","target":"","reason":"","permit":""}}','[]');
INSERT INTO "entry" VALUES('1125-c',4,'gate','{"seq":4,"at":"2026-11-25T03:03:00Z","by":"Bob","event":{"kind":"gate","zone":"control-box","act":"shut-down","target":"","reason":"","permit":""}}','[]');
INSERT INTO "entry" VALUES('1125-c',5,'gate','{"seq":5,"at":"2026-11-25T03:04:00Z","by":"Bob","event":{"kind":"gate","zone":"control-box","act":"off-and-locked","target":"main-switch-q1","reason":"","permit":""}}','[["main-switch-q1", "Bob"]]');
INSERT INTO "entry" VALUES('1125-c',6,'noted','{"seq":6,"at":"2026-11-25T03:05:00Z","by":"Bob","event":{"kind":"noted","text":"will be damaged"}}','[["main-switch-q1", "Bob"]]');
INSERT INTO "entry" VALUES('1125-d',1,'opened','{"seq":1,"at":"2026-11-25T03:01:00Z","by":"Bob","event":{"kind":"opened","machine":"mixer","revision":"2026-11-20"}}','[]');
INSERT INTO "entry" VALUES('1125-d',2,'took-over','{"seq":2,"at":"2026-11-25T03:01:00Z","by":"Bob","event":{"kind":"took-over","person":"Bob","role":"engineer","authorised":true,"qualified":true}}','[]');
INSERT INTO "entry" VALUES('1125-d',3,'closed','{"seq":3,"at":"2026-11-25T03:02:00Z","by":"Bob","event":{"kind":"closed","outcome":"running","cause":"","to":"","note":""}}','[]');
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'the casebook is only added to'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'the casebook is only added to'); END;
COMMIT;
