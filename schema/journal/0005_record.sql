-- The record of a grow: what a person tells of it in words, and what of a day's readings is to stay
-- when the readings themselves are thinned. Nothing here is ever deleted.

-- What a person told beside figures: a grow and its harvest, care of a part, a look, a step of the
-- turnover. An entry is never changed; one of kind 'withdrawal' has the id of another as its subject.
CREATE TABLE diary (
  number           INTEGER PRIMARY KEY,
  id               TEXT    NOT NULL UNIQUE,  -- taken in once
  tick             INTEGER NOT NULL,         -- when it was handed in
  happened_unix_ms INTEGER NOT NULL,
  kind             TEXT    NOT NULL,
  subject          TEXT    NOT NULL,         -- the grow's name, the part, what was looked at, the step
  figure           REAL,                     -- plants at a start, grams of a harvest
  mark             TEXT    NOT NULL,         -- 'good' of a harvest, 'done' of a step
  says             TEXT    NOT NULL          -- the crop at a start; a person's words
) STRICT;

-- What the readings of a photoperiod came to; its other figures are in `day`, which stays, as
-- measurement, alarm_span and cycle stay. A day has its row here once all its readings are stored.
CREATE TABLE day_summary (
  began         INTEGER PRIMARY KEY,  -- day.began
  level_first_l REAL,                 -- of the reservoir, with no flood under way
  level_last_l  REAL
) STRICT;
CREATE TABLE day_point (
  began   INTEGER NOT NULL,
  point   INTEGER NOT NULL,
  usable  INTEGER NOT NULL,  -- readings that had a value, not bad
  missing INTEGER NOT NULL,
  lowest  REAL,              -- in the point's unit
  mean    REAL,              -- of the readings
  highest REAL,
  PRIMARY KEY (began, point)
) STRICT, WITHOUT ROWID;

-- Stages are asked for over months, among some hundred events a day.
CREATE INDEX event_stage ON event (tick) WHERE kind = 9;
-- So are the hours of the light, which moves twice a day.
CREATE INDEX event_light ON event (tick) WHERE kind = 1 AND output = 6;

CREATE VIEW v_diary AS
SELECT
  d.number AS number,
  datetime(d.happened_unix_ms / 1000 + coalesce((SELECT utc_offset_s FROM clock_span
    WHERE from_tick <= d.tick ORDER BY from_tick DESC LIMIT 1), 0), 'unixepoch') AS local,
  d.kind AS kind, d.subject AS subject, d.figure AS figure, d.mark AS mark, d.says AS says
FROM diary d
WHERE d.kind <> 'withdrawal'
  AND d.id NOT IN (SELECT subject FROM diary WHERE kind = 'withdrawal');

CREATE VIEW v_day_points AS
SELECT
  date(d.date * 86400, 'unixepoch') AS date,
  p.name AS point, s.lowest AS lowest, s.mean AS mean, s.highest AS highest, p.unit AS unit,
  s.usable AS usable, s.missing AS missing
FROM day_point s JOIN day d ON d.began = s.began JOIN point p ON p.number = s.point;

-- One row a photoperiod, the whole of it on one line. What a person told of a day later, corrected or
-- withdrew, counts. water_used_l has what was topped up in it; a day with a change of the solution
-- has none, nor one in which the level rose by more than was told of.
CREATE VIEW v_daily AS
WITH told AS (
  SELECT m.taken_unix_ms AS at, m.quantity AS quantity,
    CASE WHEN a.number IS NULL THEN m.value ELSE a.value END AS value
  FROM measurement m LEFT JOIN amendment a
    ON a.number = (SELECT max(number) FROM amendment WHERE of = m.id)
  WHERE a.number IS NULL OR a.value IS NOT NULL
), dated AS (
  SELECT d.*,
    d.began + (SELECT ahead_ms FROM clock_span WHERE from_tick <= d.began
      ORDER BY from_tick DESC LIMIT 1) AS from_unix_ms,
    d.closed + (SELECT ahead_ms FROM clock_span WHERE from_tick <= d.closed
      ORDER BY from_tick DESC LIMIT 1) AS to_unix_ms
  FROM day d
), water AS (
  SELECT d.began AS began, t.level_first_l - t.level_last_l + coalesce((SELECT sum(value) FROM told
    WHERE quantity = 'topup' AND at >= d.from_unix_ms AND at < d.to_unix_ms), 0) AS used_l
  FROM dated d JOIN day_summary t ON t.began = d.began
  WHERE NOT EXISTS (SELECT 1 FROM told WHERE quantity = 'change'
    AND at >= d.from_unix_ms AND at < d.to_unix_ms)
), means AS (
  SELECT s.began AS began, p.name AS name, s.mean AS mean
  FROM day_point s JOIN point p ON p.number = s.point
)
SELECT
  date(d.date * 86400, 'unixepoch') AS date,
  (SELECT name FROM event WHERE kind = 9 AND tick <= d.began ORDER BY tick DESC LIMIT 1) AS stage,
  round(100.0 * d.day_in_band_ms / nullif(d.day_known_ms, 0), 1) AS day_in_band_percent,
  round(100.0 * d.night_in_band_ms / nullif(d.night_known_ms, 0), 1) AS night_in_band_percent,
  (SELECT round(mean, 2) FROM means m WHERE m.began = d.began AND m.name = 'canopy.temperature')
    AS canopy_mean_c,
  (SELECT round(mean, 1) FROM means m WHERE m.began = d.began AND m.name = 'canopy.humidity')
    AS humidity_mean_percent,
  round(d.vpd_lowest_kpa, 3) AS vpd_lowest_kpa,
  (SELECT round(mean, 3) FROM means m WHERE m.began = d.began AND m.name = 'canopy.vpd')
    AS vpd_mean_kpa,
  round(d.vpd_highest_kpa, 3) AS vpd_highest_kpa,
  d.floods_planned AS floods_planned,
  d.floods_complete AS floods_complete,
  round(d.litres_out, 2) AS litres_out,
  round(d.litres_back, 2) AS litres_back,
  round(t.level_last_l, 2) AS level_last_l,
  (SELECT round(used_l, 2) FROM water w WHERE w.began = d.began AND used_l > -0.5)
    AS water_used_l,
  (SELECT count(*) FROM alarm_span a WHERE a.raised >= d.began AND a.raised < d.closed) AS alarms,
  (SELECT count(*) FROM told WHERE at >= d.from_unix_ms AND at < d.to_unix_ms)
    AS hand_measurements,
  d.began AS tick
FROM dated d LEFT JOIN day_summary t ON t.began = d.began;
