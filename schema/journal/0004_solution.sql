-- The solution: corrections of hand measurements, and calibrations of the probes in it.

-- A measurement is never changed. What is said of it afterwards stands here, by its id, and the
-- newest counts: another value, or none for one that was withdrawn.
CREATE TABLE amendment (
  number INTEGER PRIMARY KEY,
  id     TEXT    NOT NULL UNIQUE,  -- taken in once
  tick   INTEGER NOT NULL,
  of     TEXT    NOT NULL,         -- measurement.id
  value  REAL,
  reason TEXT    NOT NULL
) STRICT;
CREATE INDEX amendment_of ON amendment (of);

-- Where a photo of the moment is, as the person wrote it.
ALTER TABLE measurement ADD COLUMN photo TEXT NOT NULL DEFAULT '';

-- Each calibration that was accepted: which probe, what it showed in which standards, and what came
-- of it.
CREATE TABLE calibration (
  number        INTEGER PRIMARY KEY,
  tick          INTEGER NOT NULL,
  point         INTEGER NOT NULL,
  readings      TEXT    NOT NULL,  -- '7=6.91 4=4.05'
  temperature_c REAL    NOT NULL,
  zero          REAL    NOT NULL,  -- what the probe shows at pH 7, or in nothing that conducts
  slope         REAL    NOT NULL   -- of pH: share of the ideal one; of EC: shown for each mS/cm
) STRICT;

DROP VIEW v_measurements;
CREATE VIEW v_measurements AS
SELECT
  m.number AS number,
  datetime(m.taken_unix_ms / 1000 + coalesce((SELECT utc_offset_s FROM clock_span
    WHERE from_tick <= m.tick ORDER BY from_tick DESC LIMIT 1), 0), 'unixepoch') AS local,
  m.quantity AS quantity,
  CASE WHEN a.number IS NULL THEN m.value ELSE a.value END AS value,
  CASE m.quantity WHEN 'ph' THEN 'pH' WHEN 'ec' THEN 'mS/cm' WHEN 'level' THEN 'L'
    WHEN 'temperature' THEN 'C' WHEN 'pump_flow' THEN 'L/h' WHEN 'fill' THEN 's'
    WHEN 'drain' THEN 's' WHEN 'fan_least' THEN '%' WHEN 'ph_down' THEN 'mL' WHEN 'ph_up' THEN 'mL'
    WHEN 'stock_a' THEN 'mL' WHEN 'stock_b' THEN 'mL' WHEN 'topup' THEN 'L' WHEN 'change' THEN 'L' END AS unit,
  m.note AS note,
  m.photo AS photo,
  CASE WHEN a.number IS NULL THEN 'as told' WHEN a.value IS NULL THEN 'withdrawn'
    ELSE 'corrected' END AS state,
  CASE WHEN a.number IS NOT NULL THEN m.value END AS first_value,
  a.reason AS reason,
  m.id AS id
FROM measurement m LEFT JOIN amendment a
  ON a.number = (SELECT max(number) FROM amendment WHERE of = m.id);

CREATE VIEW v_calibrations AS
SELECT
  datetime((c.tick + s.ahead_ms) / 1000 + s.utc_offset_s, 'unixepoch') AS local,
  p.name AS point, c.readings AS readings, c.temperature_c AS temperature_c,
  c.zero AS zero, c.slope AS slope
FROM calibration c JOIN point p ON p.number = c.point
LEFT JOIN clock_span s ON s.from_tick = (SELECT max(from_tick) FROM clock_span WHERE from_tick <= c.tick);
