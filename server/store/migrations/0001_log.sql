-- The log of one book. Entries are appended and never touched again; every
-- projection is folded from them elsewhere and can be thrown away.

CREATE TABLE entry (
  seq        INTEGER PRIMARY KEY CHECK (seq > 0),          -- arrival, 1, 2, 3, …
  id         BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),
  device     TEXT    NOT NULL CHECK (device <> ''),
  device_seq INTEGER NOT NULL CHECK (device_seq > 0),
  digest     BLOB    NOT NULL CHECK (length(digest) = 32), -- of the line
  received   INTEGER NOT NULL,                             -- ms since 1970, diagnosis only
  chain      BLOB    NOT NULL CHECK (length(chain) = 32),  -- over the chain before it and the line
  line       BLOB    NOT NULL CHECK (length(line) > 0),    -- the very bytes that arrived
  UNIQUE (device, device_seq)
) STRICT;

-- INSERT OR REPLACE deletes the old row without firing delete triggers unless
-- the connection has recursive_triggers on, so the schema itself must refuse
-- it: the same record again is ignored, another under a taken name is an error.
CREATE TRIGGER entry_guard BEFORE INSERT ON entry BEGIN
  SELECT CASE WHEN digest = NEW.digest THEN RAISE(IGNORE) ELSE RAISE(ABORT, 'entry: another record has this id') END
    FROM entry WHERE id = NEW.id;
  SELECT RAISE(ABORT, 'entry: another record has this device and number')
    FROM entry WHERE device = NEW.device AND device_seq = NEW.device_seq;
  SELECT RAISE(ABORT, 'entry: arrival numbers have no gap and no second use')
    WHERE NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM entry);
END;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entry: the log is append-only'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entry: the log is append-only'); END;

-- What is kept beside the log: records that wait for the owner (quarantined),
-- records whose place in a device's chain is another's (forked), and bytes that
-- are no record (malformed). A quarantined record that was let in stays here,
-- too; it waits only while the log does not hold its id.
CREATE TABLE aside (
  n          INTEGER PRIMARY KEY,
  state      TEXT    NOT NULL CHECK (state IN ('quarantined', 'forked', 'malformed')),
  digest     BLOB    NOT NULL CHECK (length(digest) = 32),
  id         BLOB    CHECK (length(id) = 16),
  device     TEXT,
  device_seq INTEGER,
  sender     TEXT    NOT NULL,
  received   INTEGER NOT NULL,
  fault      TEXT    NOT NULL CHECK (json_valid(fault)),
  line       BLOB    NOT NULL,
  UNIQUE (digest, state),
  CHECK (state = 'malformed' OR (id IS NOT NULL AND device IS NOT NULL AND device_seq IS NOT NULL))
) STRICT;
CREATE UNIQUE INDEX aside_id ON aside (id) WHERE state = 'quarantined';
CREATE UNIQUE INDEX aside_number ON aside (device, device_seq) WHERE state = 'quarantined';
CREATE TRIGGER aside_guard BEFORE INSERT ON aside BEGIN
  SELECT RAISE(IGNORE) WHERE EXISTS (SELECT 1 FROM aside WHERE digest = NEW.digest AND state = NEW.state);
  SELECT RAISE(ABORT, 'aside: what is kept stays') WHERE EXISTS (SELECT 1 FROM aside WHERE n = NEW.n)
    OR NEW.state = 'quarantined' AND EXISTS (SELECT 1 FROM aside WHERE state = 'quarantined'
      AND (id = NEW.id OR device = NEW.device AND device_seq = NEW.device_seq));
END;
CREATE TRIGGER aside_no_update BEFORE UPDATE ON aside BEGIN SELECT RAISE(ABORT, 'aside: what is kept stays'); END;
CREATE TRIGGER aside_no_delete BEFORE DELETE ON aside BEGIN SELECT RAISE(ABORT, 'aside: what is kept stays'); END;

-- One row when the book was begun and one for every restore; the last one counts.
CREATE TABLE epoch (
  n      INTEGER PRIMARY KEY,
  epoch  TEXT    NOT NULL UNIQUE,
  began  INTEGER NOT NULL,
  reason TEXT    NOT NULL CHECK (reason IN ('begun', 'restored'))
) STRICT;
CREATE TRIGGER epoch_guard BEFORE INSERT ON epoch BEGIN
  SELECT RAISE(ABORT, 'epoch: rows are append-only') WHERE EXISTS (SELECT 1 FROM epoch WHERE n = NEW.n OR epoch = NEW.epoch);
END;
CREATE TRIGGER epoch_no_update BEFORE UPDATE ON epoch BEGIN SELECT RAISE(ABORT, 'epoch: rows are append-only'); END;
CREATE TRIGGER epoch_no_delete BEFORE DELETE ON epoch BEGIN SELECT RAISE(ABORT, 'epoch: rows are append-only'); END;

-- Who may write. Names are for ever: an entry's address begins with one.
CREATE TABLE device (
  name   TEXT    PRIMARY KEY,
  token  BLOB    NOT NULL UNIQUE CHECK (length(token) = 32), -- SHA-256 of the secret, never the secret
  role   TEXT    NOT NULL,
  label  TEXT    NOT NULL,
  was    TEXT    NOT NULL,                                   -- its name before, or empty
  joined INTEGER NOT NULL,
  ended  INTEGER                                             -- null while it may still write
) STRICT, WITHOUT ROWID;
CREATE TRIGGER device_guard BEFORE INSERT ON device BEGIN
  SELECT RAISE(ABORT, 'device: the name is taken') WHERE EXISTS (SELECT 1 FROM device WHERE name = NEW.name);
  SELECT RAISE(ABORT, 'device: the token is taken') WHERE EXISTS (SELECT 1 FROM device WHERE token = NEW.token);
END;
CREATE TRIGGER device_name BEFORE UPDATE OF name, joined ON device BEGIN
  SELECT RAISE(ABORT, 'device: name and joining stay');
END;
CREATE TRIGGER device_no_delete BEFORE DELETE ON device BEGIN SELECT RAISE(ABORT, 'device: end it instead'); END;
