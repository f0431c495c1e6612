-- Who plays.
CREATE TABLE player (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
) STRICT;

-- Lines by content: takes are judged against the line that they were played to, whatever becomes of its file.
CREATE TABLE line (
    id           INTEGER PRIMARY KEY,
    content_hash TEXT NOT NULL UNIQUE, -- SHA-256 of source, hexadecimal
    notes_hash   TEXT NOT NULL,        -- SHA-256 of what the line asks for: comments and layout do not matter
    title        TEXT NOT NULL,
    file         TEXT NOT NULL,        -- as it was given
    source       TEXT NOT NULL         -- the whole file
) STRICT;
CREATE INDEX line_of_notes ON line (notes_hash);

-- Takes of one player without a long rest between them.
CREATE TABLE session (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    uid      TEXT NOT NULL UNIQUE, -- the same in every logbook that it was merged into
    player   INTEGER NOT NULL REFERENCES player (id),
    begun_ms INTEGER NOT NULL,     -- since 1970, UTC
    note     TEXT NOT NULL DEFAULT '',
    note_ms  INTEGER NOT NULL DEFAULT 0 -- when it was written
) STRICT;
CREATE INDEX session_of_player ON session (player, begun_ms);

-- Its number is never given to another take.
CREATE TABLE take (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    uid        TEXT NOT NULL UNIQUE,
    session    INTEGER NOT NULL REFERENCES session (id),
    line       INTEGER NOT NULL REFERENCES line (id),
    begun_ms   INTEGER NOT NULL,
    begun      TEXT NOT NULL,    -- RFC 9557, with the player's time zone
    length_ms  INTEGER NOT NULL, -- of what there is to play, count-in included; a take that is not over after that broke off
    speed      INTEGER NOT NULL, -- thousandths of a percent
    first_bar  INTEGER,          -- null: all of the line
    last_bar   INTEGER,
    head       BLOB NOT NULL,    -- the take as a Standard MIDI File, up to the first event
    track      BLOB,             -- all events, delta times and messages as in the file; null until the take is over
    note       TEXT NOT NULL DEFAULT '',
    note_ms    INTEGER NOT NULL DEFAULT 0,
    removed_ms INTEGER           -- null: it is there
) STRICT;
CREATE INDEX take_of_session ON take (session, begun_ms);
CREATE INDEX take_of_line ON take (line, begun_ms);

-- What a take that is being played, or broke off, has of its events so far.
CREATE TABLE chunk (
    take   INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    track  BLOB NOT NULL,
    PRIMARY KEY (take, number)
) STRICT, WITHOUT ROWID;

-- A take judged; the latest one holds.
CREATE TABLE judgement (
    id       INTEGER PRIMARY KEY,
    uid      TEXT NOT NULL UNIQUE,
    take     INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
    at_ms    INTEGER NOT NULL,
    program  TEXT NOT NULL, -- its version
    settings TEXT NOT NULL, -- JSON: windows, latency, intake, cleaning up
    trust    TEXT,          -- JSON, as in leadsman.check/1
    figures  TEXT NOT NULL  -- JSON: what progress is told from
) STRICT;
CREATE INDEX judgement_of_take ON judgement (take);

-- One row an expected note. Line time; negative offsets are early.
CREATE TABLE reading (
    judgement    INTEGER NOT NULL REFERENCES judgement (id) ON DELETE CASCADE,
    note         INTEGER NOT NULL, -- from 0
    expected_key INTEGER,
    expected_ns  INTEGER NOT NULL,
    expected_length_ns INTEGER NOT NULL,
    key          INTEGER, -- null from here on: nothing was played for it
    onset_ns     INTEGER,
    length_ns    INTEGER,
    velocity     INTEGER,
    offset_ns    INTEGER,
    displaced    INTEGER, -- ticks, 3840 to the whole note
    ring_ns      INTEGER,
    pitch        TEXT,
    timing       TEXT,
    length       TEXT,
    PRIMARY KEY (judgement, note)
) STRICT, WITHOUT ROWID;

-- What was played and belongs nowhere.
CREATE TABLE extra (
    judgement INTEGER NOT NULL REFERENCES judgement (id) ON DELETE CASCADE,
    number    INTEGER NOT NULL,
    key       INTEGER NOT NULL,
    onset_ns  INTEGER NOT NULL,
    length_ns INTEGER,
    velocity  INTEGER NOT NULL,
    PRIMARY KEY (judgement, number)
) STRICT, WITHOUT ROWID;

-- What was said, that which hurts most first.
CREATE TABLE finding (
    judgement INTEGER NOT NULL REFERENCES judgement (id) ON DELETE CASCADE,
    rank      INTEGER NOT NULL,
    id        TEXT NOT NULL,
    count     INTEGER NOT NULL,
    of        INTEGER NOT NULL,
    mean_ms   REAL,
    low_ms    REAL,
    high_ms   REAL,
    text      TEXT NOT NULL,
    PRIMARY KEY (judgement, rank)
) STRICT, WITHOUT ROWID;

-- Takes that were thrown away for good: no merge brings them back.
CREATE TABLE thrown_away (
    uid TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;
