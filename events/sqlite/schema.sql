-- The book, layout 1. FORMAT.md tells it in words.

-- for ever -----------------------------------------------------------------------------------------------------------

CREATE TABLE chain (
  id         INTEGER PRIMARY KEY,          -- order of arrival in this file
  book       BLOB NOT NULL,                -- 16 bytes: the chain's name
  parent     INTEGER REFERENCES chain(id), -- the chain it grew from
  parent_seq INTEGER,                      -- and the last book_seq of it that it stands on
  first      INTEGER NOT NULL,             -- seq of its first entry
  last       INTEGER                       -- seq of its last one; empty for the chain of the book's last entry
) STRICT;

CREATE TABLE entry (
  seq      INTEGER PRIMARY KEY,            -- order of arrival in this file; never hashed
  body     TEXT    NOT NULL,               -- the stored bytes: what is hashed
  prev     BLOB    NOT NULL,               -- 32 bytes: hash of the entry before
  hash     BLOB    NOT NULL,               -- 32 bytes
  -- beside the stored bytes: derived from them, for finding
  id       BLOB    NOT NULL,               -- 16 bytes
  chain    INTEGER NOT NULL,
  book_seq INTEGER NOT NULL,
  kind     TEXT    NOT NULL,
  at       INTEGER NOT NULL,               -- instant of the act, microseconds since 1970
  stream   INTEGER NOT NULL,               -- the entity it belongs to
  box      INTEGER,                        -- paper it takes from another stream
  bath     INTEGER,                        -- bath it uses of another stream
  session  INTEGER,                        -- session it was done in
  batch    BLOB                            -- 16 bytes: what was written together
) STRICT;

CREATE INDEX entry_id      ON entry(id);
CREATE INDEX entry_stream  ON entry(stream);
CREATE INDEX entry_at      ON entry(at);
CREATE INDEX entry_box     ON entry(box)     WHERE box IS NOT NULL;
CREATE INDEX entry_bath    ON entry(bath)    WHERE bath IS NOT NULL;
CREATE INDEX entry_session ON entry(session) WHERE session IS NOT NULL;
CREATE INDEX entry_batch   ON entry(batch)   WHERE batch IS NOT NULL;

-- INSERT OR REPLACE and upserts walk round the second and third trigger; the first stops them on any connection.
CREATE TRIGGER entry_is_new BEFORE INSERT ON entry
WHEN NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM entry)
  OR EXISTS (SELECT 1 FROM entry WHERE id = NEW.id AND hash = NEW.hash)
BEGIN SELECT RAISE(ABORT, 'entries are only ever added'); END;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;

-- beside the chain ---------------------------------------------------------------------------------------------------

CREATE TABLE sitter (
  ref     TEXT PRIMARY KEY,                -- sitter-7
  name    TEXT NOT NULL,
  contact TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE thumbnail (
  sha256 BLOB PRIMARY KEY,                 -- of the original
  jpeg   BLOB NOT NULL,                    -- upright, at most 400 pixels a side
  width  INTEGER NOT NULL,
  height INTEGER NOT NULL,
  path   TEXT NOT NULL DEFAULT ''          -- where an original kept by reference was last seen
) STRICT;

-- What a chain's entries mean by a name, where the chain alone does not tell: after two books were joined, a name that
-- both gave, or one that came with the other book. The entity is told by the entry that first named it.
CREATE TABLE meaning (
  chain INTEGER NOT NULL,
  name  TEXT    NOT NULL,                  -- as the entries write it
  entry BLOB    NOT NULL,                  -- id of the entry that first named the entity
  UNIQUE (chain, name)
) STRICT;

CREATE TABLE meta (
  key   TEXT PRIMARY KEY,                  -- own_chain, fold, zone
  value TEXT NOT NULL
) STRICT;

-- derived: can be dropped and made again ------------------------------------------------------------------------------

CREATE TABLE entity (
  id    INTEGER PRIMARY KEY,
  name  TEXT    NOT NULL,
  rank  INTEGER NOT NULL DEFAULT 1,        -- 2 for the second that two joined books gave the same name
  kind  TEXT    NOT NULL,
  chain INTEGER NOT NULL,                  -- the chain that gave the name
  seq   INTEGER NOT NULL,                  -- the entry that first named it
  UNIQUE (name, rank)
) STRICT;

-- Most entities are pictures, and they are never listed by kind: views list them.
CREATE INDEX entity_kind ON entity(kind) WHERE kind <> 'picture';

CREATE TABLE cite (                        -- what an entry names beyond stream, box, bath and session
  entity INTEGER NOT NULL,
  seq    INTEGER NOT NULL,
  PRIMARY KEY (entity, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE correction (                  -- which entry amends or voids which
  target INTEGER NOT NULL,
  seq    INTEGER NOT NULL,
  PRIMARY KEY (target, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE view (
  stream INTEGER PRIMARY KEY,
  kind   TEXT    NOT NULL,
  rank   INTEGER NOT NULL,
  open   INTEGER NOT NULL,
  last   INTEGER NOT NULL,
  stock  INTEGER NOT NULL,
  state  TEXT    NOT NULL
) STRICT;

CREATE INDEX view_rank ON view(kind, rank);
CREATE INDEX view_open ON view(kind, last) WHERE open = 1;
-- What was closed after a moment was open at it; of pictures this is not asked.
CREATE INDEX view_last ON view(kind, last) WHERE kind <> 'picture';
