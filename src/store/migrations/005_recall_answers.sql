-- Schema 5: what had to be remembered, and how well it was.
--
-- One row for each answer to something that a prompt named without showing it,
-- so that what is remembered is found without reading all keystrokes. What
-- follows from the answers is worked out when they are read
-- (src/model/recall/). Each row can be made anew from the keystroke with the
-- same drill and seq; outcome_code is explained in src/store/recall.rs.

CREATE TABLE recall_answers (
    layout_id    INTEGER NOT NULL REFERENCES layouts,
    day_local    INTEGER NOT NULL,
    drill_id     INTEGER NOT NULL REFERENCES drills,
    seq          INTEGER NOT NULL CHECK (seq BETWEEN 0 AND 4294967295),
    output_id    INTEGER NOT NULL REFERENCES outputs,
    outcome_code INTEGER NOT NULL CHECK (outcome_code BETWEEN 0 AND 255),
    PRIMARY KEY (layout_id, day_local, drill_id, seq)
) STRICT, WITHOUT ROWID;
