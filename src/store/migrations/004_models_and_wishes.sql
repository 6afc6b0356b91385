-- Schema 4: what the model comes to, and what the person asked of the plan.

-- One row a layout, by name. Nothing but a store of what can be worked out
-- again from the keystrokes: a row that is missing, of another format or of
-- other layers is made anew.
CREATE TABLE models (
    layout_name   TEXT NOT NULL PRIMARY KEY,
    format        INTEGER NOT NULL CHECK (format >= 0),
    -- The names of the layers that its numbers stand for, one a line.
    layers_text   TEXT NOT NULL,
    -- The last drill that it has taken in.
    through_drill INTEGER NOT NULL,
    day_local     INTEGER NOT NULL,
    findings      BLOB NOT NULL,
    hands         BLOB NOT NULL
) STRICT;

-- what_word is what `etude practice` takes: a layer, a cluster or thumbs.
CREATE TABLE wishes (
    layout_name TEXT NOT NULL,
    what_word   TEXT NOT NULL,
    -- 'pinned' or 'left_out'
    wish_word   TEXT NOT NULL,
    PRIMARY KEY (layout_name, what_word)
) STRICT, WITHOUT ROWID;
