-- Schema 2: sums by layer, and all sums by month as well.
--
-- A chart of a layer over days reads one row a day instead of merging the
-- sketches of all its items; a table over years reads months, and days only at
-- the ends of the range. What is there already is summed up when the database
-- is brought to this schema (src/store/rollup.rs).

-- active_us: the time up to each key that was due on the layer, pauses and
-- interruptions left out.
CREATE TABLE layer_days (
    layout_id      INTEGER NOT NULL REFERENCES layouts,
    layer          INTEGER NOT NULL CHECK (layer BETWEEN 0 AND 255),
    day_local      INTEGER NOT NULL,
    own            INTEGER NOT NULL CHECK (own IN (0, 1)),
    n_keystrokes   INTEGER NOT NULL CHECK (n_keystrokes >= 0),
    n_hits         INTEGER NOT NULL CHECK (n_hits >= 0),
    n_misses       INTEGER NOT NULL CHECK (n_misses >= 0),
    n_timed        INTEGER NOT NULL CHECK (n_timed BETWEEN 0 AND n_hits),
    active_us      INTEGER NOT NULL DEFAULT 0 CHECK (active_us >= 0),
    latency_sketch BLOB NOT NULL,
    PRIMARY KEY (layout_id, layer, day_local, own),
    CHECK (n_hits + n_misses <= n_keystrokes)
) STRICT, WITHOUT ROWID;

-- month_local counts local months since January 1970. Each row is the merge of
-- the rows of its days.
CREATE TABLE layer_months (
    layout_id      INTEGER NOT NULL REFERENCES layouts,
    layer          INTEGER NOT NULL CHECK (layer BETWEEN 0 AND 255),
    month_local    INTEGER NOT NULL,
    own            INTEGER NOT NULL CHECK (own IN (0, 1)),
    n_keystrokes   INTEGER NOT NULL CHECK (n_keystrokes >= 0),
    n_hits         INTEGER NOT NULL CHECK (n_hits >= 0),
    n_misses       INTEGER NOT NULL CHECK (n_misses >= 0),
    n_timed        INTEGER NOT NULL CHECK (n_timed BETWEEN 0 AND n_hits),
    active_us      INTEGER NOT NULL DEFAULT 0 CHECK (active_us >= 0),
    latency_sketch BLOB NOT NULL,
    PRIMARY KEY (layout_id, layer, month_local, own),
    CHECK (n_hits + n_misses <= n_keystrokes)
) STRICT, WITHOUT ROWID;

CREATE TABLE item_months (
    layout_id      INTEGER NOT NULL REFERENCES layouts,
    layer          INTEGER NOT NULL CHECK (layer BETWEEN 0 AND 255),
    month_local    INTEGER NOT NULL,
    position_code  INTEGER NOT NULL CHECK (position_code BETWEEN 0 AND 65535),
    output_id      INTEGER NOT NULL REFERENCES outputs,
    own            INTEGER NOT NULL CHECK (own IN (0, 1)),
    n_keystrokes   INTEGER NOT NULL CHECK (n_keystrokes >= 0),
    n_hits         INTEGER NOT NULL CHECK (n_hits >= 0),
    n_misses       INTEGER NOT NULL CHECK (n_misses >= 0),
    n_timed        INTEGER NOT NULL CHECK (n_timed BETWEEN 0 AND n_hits),
    latency_sketch BLOB NOT NULL,
    PRIMARY KEY (layout_id, layer, month_local, position_code, output_id, own),
    CHECK (n_hits + n_misses <= n_keystrokes)
) STRICT, WITHOUT ROWID;

CREATE TABLE switch_months (
    layout_id      INTEGER NOT NULL REFERENCES layouts,
    from_layer     INTEGER NOT NULL CHECK (from_layer BETWEEN 0 AND 255),
    to_layer       INTEGER NOT NULL CHECK (to_layer BETWEEN 0 AND 255),
    month_local    INTEGER NOT NULL,
    own            INTEGER NOT NULL CHECK (own IN (0, 1)),
    n_keystrokes   INTEGER NOT NULL CHECK (n_keystrokes >= 0),
    n_hits         INTEGER NOT NULL CHECK (n_hits >= 0),
    n_misses       INTEGER NOT NULL CHECK (n_misses >= 0),
    n_timed        INTEGER NOT NULL CHECK (n_timed BETWEEN 0 AND n_hits),
    latency_sketch BLOB NOT NULL,
    PRIMARY KEY (layout_id, from_layer, to_layer, month_local, own),
    CHECK (n_hits + n_misses <= n_keystrokes)
) STRICT, WITHOUT ROWID;
