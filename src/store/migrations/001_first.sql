-- Schema 1. Never edit a migration that has been released: add the next one.
--
-- Words in columns named *_word are kept as text without a list of allowed
-- values, so that a word from a newer program survives. Codes are small
-- integers, explained in src/store/record.rs.

CREATE TABLE layouts (
    layout_id   INTEGER PRIMARY KEY,
    hash_sha256 BLOB NOT NULL UNIQUE CHECK (length(hash_sha256) = 32),
    name        TEXT NOT NULL,
    title       TEXT NOT NULL,
    text        TEXT NOT NULL
) STRICT;
CREATE INDEX layouts_by_name ON layouts (name);

CREATE TABLE layers (
    layout_id    INTEGER NOT NULL REFERENCES layouts,
    layer        INTEGER NOT NULL CHECK (layer BETWEEN 0 AND 255),
    name         TEXT NOT NULL,
    cluster_word TEXT NOT NULL,
    PRIMARY KEY (layout_id, layer)
) STRICT, WITHOUT ROWID;

CREATE TABLE sessions (
    session_id          INTEGER PRIMARY KEY,
    uid                 BLOB NOT NULL UNIQUE CHECK (length(uid) = 16),
    layout_id           INTEGER NOT NULL REFERENCES layouts,
    -- years 1970 to 9999
    started_at_ms_utc   INTEGER NOT NULL CHECK (started_at_ms_utc BETWEEN 0 AND 253402300799999),
    utc_offset_min      INTEGER NOT NULL CHECK (utc_offset_min BETWEEN -1440 AND 1440),
    -- the 64 bits of the seed, read as a signed number
    seed_bits           INTEGER NOT NULL,
    program_version     TEXT NOT NULL,
    terminal_level_word TEXT NOT NULL,
    score_version       INTEGER NOT NULL CHECK (score_version >= 1),
    ended_word          TEXT NOT NULL,
    active_us           INTEGER NOT NULL CHECK (active_us >= 0)
) STRICT;
CREATE INDEX sessions_by_start ON sessions (started_at_ms_utc);

CREATE TABLE drills (
    drill_id              INTEGER PRIMARY KEY,
    uid                   BLOB NOT NULL UNIQUE CHECK (length(uid) = 16),
    session_id            INTEGER NOT NULL REFERENCES sessions,
    ordinal               INTEGER NOT NULL CHECK (ordinal >= 0),
    title                 TEXT NOT NULL,
    cluster_word          TEXT NOT NULL,
    flow_word             TEXT NOT NULL,
    source_word           TEXT NOT NULL,
    started_at_us         INTEGER NOT NULL CHECK (started_at_us >= 0),
    active_us             INTEGER NOT NULL CHECK (active_us >= 0),
    ended_word            TEXT NOT NULL,
    n_keystrokes          INTEGER NOT NULL CHECK (n_keystrokes >= 0),
    n_hits                INTEGER NOT NULL CHECK (n_hits >= 0),
    n_misses              INTEGER NOT NULL CHECK (n_misses >= 0),
    n_repairs             INTEGER NOT NULL CHECK (n_repairs >= 0),
    n_left_out            INTEGER NOT NULL CHECK (n_left_out >= 0),
    -- The counts from which the text-entry rates follow; none where the drill
    -- was cut short before they were known.
    n_transcribed         INTEGER CHECK (n_transcribed >= 0),
    n_correct             INTEGER CHECK (n_correct >= 0),
    n_incorrect_not_fixed INTEGER CHECK (n_incorrect_not_fixed >= 0),
    n_incorrect_fixed     INTEGER CHECK (n_incorrect_fixed >= 0),
    n_fixes               INTEGER CHECK (n_fixes >= 0),
    UNIQUE (session_id, ordinal),
    CHECK (n_hits + n_misses + n_repairs <= n_keystrokes)
) STRICT;
CREATE INDEX drills_by_cluster ON drills (cluster_word, session_id);

CREATE TABLE outputs (
    output_id INTEGER PRIMARY KEY,
    text      TEXT NOT NULL UNIQUE
) STRICT;

-- Raw and append-only; the clustered key keeps a drill's rows together and
-- saves the second tree that a rowid table would need.
CREATE TABLE keystrokes (
    drill_id       INTEGER NOT NULL REFERENCES drills,
    seq            INTEGER NOT NULL CHECK (seq BETWEEN 0 AND 4294967295),
    prompt         INTEGER NOT NULL CHECK (prompt BETWEEN 0 AND 65535),
    place          INTEGER NOT NULL CHECK (place BETWEEN 0 AND 65535),
    at_us          INTEGER NOT NULL CHECK (at_us >= 0),
    expected_id    INTEGER NOT NULL REFERENCES outputs,
    got_id         INTEGER NOT NULL REFERENCES outputs,
    verdict_code   INTEGER NOT NULL CHECK (verdict_code BETWEEN 0 AND 255),
    latency_us     INTEGER CHECK (latency_us >= 0),
    down_us        INTEGER CHECK (down_us >= 0),
    layer          INTEGER NOT NULL CHECK (layer BETWEEN 0 AND 255),
    previous_layer INTEGER NOT NULL CHECK (previous_layer BETWEEN 0 AND 255),
    position_code  INTEGER NOT NULL CHECK (position_code BETWEEN 0 AND 65535),
    finger_code    INTEGER NOT NULL CHECK (finger_code BETWEEN 0 AND 255),
    flag_bits      INTEGER NOT NULL CHECK (flag_bits BETWEEN 0 AND 65535),
    PRIMARY KEY (drill_id, seq)
) STRICT, WITHOUT ROWID;

-- Sums a day. day_local counts local days since 1970-01-01. own = 1 holds what
-- came from texts of the person's own, of which nothing else is kept.
CREATE TABLE item_days (
    layout_id      INTEGER NOT NULL REFERENCES layouts,
    layer          INTEGER NOT NULL CHECK (layer BETWEEN 0 AND 255),
    day_local      INTEGER NOT NULL,
    position_code  INTEGER NOT NULL CHECK (position_code BETWEEN 0 AND 65535),
    output_id      INTEGER NOT NULL REFERENCES outputs,
    own            INTEGER NOT NULL CHECK (own IN (0, 1)),
    n_keystrokes   INTEGER NOT NULL CHECK (n_keystrokes >= 0),
    n_hits         INTEGER NOT NULL CHECK (n_hits >= 0),
    n_misses       INTEGER NOT NULL CHECK (n_misses >= 0),
    n_timed        INTEGER NOT NULL CHECK (n_timed BETWEEN 0 AND n_hits),
    latency_sketch BLOB NOT NULL,
    PRIMARY KEY (layout_id, layer, day_local, position_code, output_id, own),
    CHECK (n_hits + n_misses <= n_keystrokes)
) STRICT, WITHOUT ROWID;

-- Arrivals on a layer by the layer they came from; within a layer the two are
-- the same.
CREATE TABLE switch_days (
    layout_id      INTEGER NOT NULL REFERENCES layouts,
    from_layer     INTEGER NOT NULL CHECK (from_layer BETWEEN 0 AND 255),
    to_layer       INTEGER NOT NULL CHECK (to_layer BETWEEN 0 AND 255),
    day_local      INTEGER NOT NULL,
    own            INTEGER NOT NULL CHECK (own IN (0, 1)),
    n_keystrokes   INTEGER NOT NULL CHECK (n_keystrokes >= 0),
    n_hits         INTEGER NOT NULL CHECK (n_hits >= 0),
    n_misses       INTEGER NOT NULL CHECK (n_misses >= 0),
    n_timed        INTEGER NOT NULL CHECK (n_timed BETWEEN 0 AND n_hits),
    latency_sketch BLOB NOT NULL,
    PRIMARY KEY (layout_id, from_layer, to_layer, day_local, own),
    CHECK (n_hits + n_misses <= n_keystrokes)
) STRICT, WITHOUT ROWID;
