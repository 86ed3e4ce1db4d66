-- Readings of months and years: those of an hour that is over are packed, and counted for ever.

-- One row a point and hour of the tick (tick / 3600000), kept when its readings are deleted. Figures
-- are the point's quanta (value * point.per_unit); those of no usable reading are NULL. Usable has
-- a value and is not bad. The _ms count from the hour's beginning.
CREATE TABLE reading_hour (
  point      INTEGER NOT NULL,
  hour       INTEGER NOT NULL,
  first_ms   INTEGER NOT NULL,  -- of the first and the last reading
  last_ms    INTEGER NOT NULL,
  usable     INTEGER NOT NULL,
  missing    INTEGER NOT NULL,
  lowest     INTEGER,
  highest    INTEGER,
  sum        REAL    NOT NULL,
  newest     INTEGER,           -- the last usable one, and when
  newest_ms  INTEGER,
  worst      INTEGER NOT NULL,  -- quality of the worst usable one; word 'quality'
  fault      INTEGER NOT NULL,  -- the highest there was; word 'fault'
  ended_missing INTEGER NOT NULL,
  PRIMARY KEY (point, hour)
) STRICT, WITHOUT ROWID;

-- The readings of such an hour, bit for bit; k = hour * 256 + point. A reading stands either in
-- `reading` or in a block. What is in a block is told by schema/README.md; the sqlite3 shell reads
-- it by the table neap_readings of the extension neap_journal.so.
CREATE TABLE reading_block (
  k      INTEGER PRIMARY KEY,
  packed BLOB NOT NULL
) STRICT;

-- Closed days are asked for over years.
CREATE INDEX event_day ON event (tick) WHERE kind = 15;

CREATE VIEW v_hours AS
SELECT
  (SELECT datetime((h.hour * 3600000 + h.first_ms + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= h.hour * 3600000 + h.first_ms
     ORDER BY from_tick DESC LIMIT 1) AS local,
  p.name AS point,
  h.lowest / p.per_unit AS lowest,
  h.sum / nullif(h.usable, 0) / p.per_unit AS mean,
  h.highest / p.per_unit AS highest,
  p.unit AS unit,
  h.usable AS usable,
  h.missing AS missing,
  h.hour * 3600000 + h.first_ms AS tick
FROM reading_hour h JOIN point p ON p.number = h.point;
