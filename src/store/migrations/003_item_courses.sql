-- Schema 3: the days of an item, a month in a row.
--
-- A curve over years needs of each day only counts and a median. Reading them
-- from item_days means a row and a sketch for every item and day, a third of a
-- million after ten years; here it is a row for every item and month. Shipped
-- drills and own texts of a day are merged. What is there already is packed
-- when the database is brought to this schema (src/store/course.rs, which also
-- explains days_packed).

CREATE TABLE item_courses (
    layout_id     INTEGER NOT NULL REFERENCES layouts,
    layer         INTEGER NOT NULL CHECK (layer BETWEEN 0 AND 255),
    position_code INTEGER NOT NULL CHECK (position_code BETWEEN 0 AND 65535),
    output_id     INTEGER NOT NULL REFERENCES outputs,
    month_local   INTEGER NOT NULL,
    days_packed   BLOB NOT NULL,
    PRIMARY KEY (layout_id, layer, position_code, output_id, month_local)
) STRICT, WITHOUT ROWID;
