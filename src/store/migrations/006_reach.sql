-- Schema 6: the reach to an access key, told by the marker key of its layer.
--
-- Of latency_us, the time from the press before to the marker of the due layer;
-- what is left of latency_us is the strike. None where no marker told it. The
-- index holds those alone that have it, so that it costs nothing without
-- markers.

ALTER TABLE keystrokes ADD COLUMN reach_us INTEGER CHECK (reach_us >= 0);
CREATE INDEX keystrokes_by_reach ON keystrokes (drill_id) WHERE reach_us IS NOT NULL;
