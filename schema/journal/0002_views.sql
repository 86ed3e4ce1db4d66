-- What a person reads in the sqlite3 shell. `local` is the tent's own time, NULL where no clock was
-- known. The raw tables keep every figure; a view rounds only what it makes out of several.

-- One point's day: SELECT local, value, unit FROM v_readings WHERE point = 'canopy.vpd'
--   AND k > (SELECT max(k) FROM reading) - 86400000 * 256;
-- A bound on k (tick * 256) keeps a long journal fast.
CREATE VIEW v_readings AS
SELECT
  (SELECT datetime(((r.k >> 8) + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= (r.k >> 8) ORDER BY from_tick DESC LIMIT 1) AS local,
  p.name AS point,
  r.v / p.per_unit AS value,
  p.unit AS unit,
  (SELECT name FROM word WHERE family = p.name AND number = r.v) AS says,  -- contacts: dry, wet
  (SELECT name FROM word WHERE family = 'quality' AND number = (r.q & 3)) AS quality,
  CASE WHEN r.q >> 2 <> 0 THEN
    (SELECT name FROM word WHERE family = 'fault' AND number = (r.q >> 2)) END AS fault,
  r.k >> 8 AS tick,
  r.k AS k
FROM reading r LEFT JOIN point p ON p.number = r.k & 255;

-- The sentence of each event's reason.
CREATE VIEW v_because AS
SELECT e.number AS number,
  (SELECT group_concat(piece, '') FROM (
    SELECT CASE
        WHEN needs <> 0 AND NOT (needs & 1 AND coalesce(e.a0, 0) <> 0
                              OR needs & 2 AND coalesce(e.a1, 0) <> 0
                              OR needs & 4 AND coalesce(e.a2, 0) <> 0) THEN ''
        WHEN argument IS NULL THEN words
        ELSE words || CASE kind
          WHEN 't' THEN CASE
            WHEN a >= 3600 THEN printf('%d h %02d min', a / 3600, CAST(a AS INTEGER) / 60 % 60)
            WHEN a >= 60 THEN printf('%d min %02d s', a / 60, CAST(a AS INTEGER) % 60)
            ELSE printf('%d s', a) END
          WHEN 'c' THEN printf('%.1f C', a)
          WHEN 'k' THEN printf('%.1f K', a)
          WHEN 'o' THEN coalesce((SELECT title FROM output WHERE number = a), 'an output')
          WHEN 'p' THEN coalesce((SELECT title FROM point WHERE number = a), 'a probe')
          WHEN 'l' THEN coalesce((SELECT name FROM word WHERE family = 'latch' AND number = a), a)
          WHEN 'a' THEN coalesce((SELECT name FROM alarm WHERE number = a), a)
          WHEN 'f' THEN coalesce((SELECT name FROM word WHERE family = 'fault' AND number = a), a)
          WHEN 'y' THEN date(a * 86400, 'unixepoch')
          ELSE printf(kind, a)
        END
      END AS piece
    FROM (
      SELECT part, words, argument, kind, needs,
        coalesce(CASE argument WHEN 0 THEN e.a0 WHEN 1 THEN e.a1 ELSE e.a2 END, 0.0) AS a
      FROM reason_part WHERE reason = e.reason)
    ORDER BY part)) AS because
FROM event e;

CREATE VIEW v_events AS
SELECT
  e.number AS number,
  (SELECT datetime((e.tick + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= e.tick ORDER BY from_tick DESC LIMIT 1) AS local,
  (SELECT name FROM word WHERE family = 'event' AND number = e.kind) AS event,
  coalesce(e.name, o.name, p.name, a.name,
    (SELECT name FROM word WHERE family = 'latch' AND number = e.latch),
    (SELECT name FROM word WHERE family = 'phase' AND number = e.phase),
    date(coalesce(e.slot_date, c.slot_date) * 86400, 'unixepoch') || ' no. ' ||
      coalesce(e.slot_number, c.slot_number),
    date(d.date * 86400, 'unixepoch')) AS subject,
  CASE
    WHEN e.kind IN (19, 20) THEN iif(e.value, 'begun', 'ended')
    WHEN e.level = 0 THEN o.stopped_word
    WHEN e.level = 1000 THEN o.running_word
    WHEN e.level IS NOT NULL THEN printf('%.1f %%', e.level / 10.0)
    WHEN e.alarm_to IS NOT NULL THEN
      (SELECT name FROM word WHERE family = 'alarm_state' AND number = e.alarm_from) || ' > ' ||
      (SELECT name FROM word WHERE family = 'alarm_state' AND number = e.alarm_to)
    WHEN c.started IS NOT NULL THEN
      (SELECT name FROM word WHERE family = 'outcome' AND number = c.outcome)
    WHEN e.accepted IS NOT NULL THEN iif(e.accepted, 'accepted', 'refused')
    WHEN e.kind = 9 THEN 'number ' || (e.value + 1)
    ELSE e.value
  END AS detail,
  (SELECT because FROM v_because b WHERE b.number = e.number) AS because,
  e.tick AS tick
FROM event e
LEFT JOIN output o ON o.number = e.output
LEFT JOIN point p ON p.number = e.point
LEFT JOIN alarm a ON a.number = e.alarm
LEFT JOIN cycle c ON c.started = e.cycle
LEFT JOIN day d ON d.began = e.day;

CREATE VIEW v_actuations AS
SELECT local, subject AS output, detail AS level, because, tick, number
FROM v_events WHERE event = 'actuation';

CREATE VIEW v_floods AS
SELECT
  (SELECT datetime((c.started + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= c.started ORDER BY from_tick DESC LIMIT 1) AS local,
  CASE WHEN c.slot_number > 0 THEN
    date(c.slot_date * 86400, 'unixepoch') || ' no. ' || c.slot_number END AS slot,
  (SELECT name FROM word WHERE family = 'origin' AND number = c.origin) AS origin,
  (SELECT name FROM word WHERE family = 'outcome' AND number = c.outcome) AS outcome,
  c.fill_ms / 1000.0 AS fill_s,
  c.soak_ms / 1000.0 AS soak_s,
  c.drain_ms / 1000.0 AS drain_s,
  c.pump_on_ms / 1000.0 AS pump_on_s,
  round(c.litres_out, 2) AS litres_out,
  round(c.litres_back, 2) AS litres_back,
  round(c.vpd_before_kpa, 3) AS vpd_before_kpa,
  round(c.vpd_lowest_kpa, 3) AS vpd_lowest_kpa,
  CASE WHEN c.recovered THEN round(c.recovery_ms / 60000.0, 1) END AS recovery_min,
  c.started AS tick
FROM cycle c;

CREATE VIEW v_days AS
SELECT
  date(d.date * 86400, 'unixepoch') AS date,
  (SELECT datetime((d.began + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= d.began ORDER BY from_tick DESC LIMIT 1) AS began,
  (SELECT datetime((d.closed + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= d.closed ORDER BY from_tick DESC LIMIT 1) AS closed,
  round(100.0 * d.day_in_band_ms / nullif(d.day_known_ms, 0), 1) AS day_in_band_percent,
  round(100.0 * d.night_in_band_ms / nullif(d.night_known_ms, 0), 1) AS night_in_band_percent,
  round(d.below_ms / 3600000.0, 2) AS below_h,
  round(d.above_ms / 3600000.0, 2) AS above_h,
  round(d.kpa_h_out, 3) AS kpa_h_out,
  round(d.humid_ms / 3600000.0, 2) AS humid_h,
  d.vpd_lowest_kpa AS vpd_lowest_kpa,
  d.vpd_highest_kpa AS vpd_highest_kpa,
  d.floods_planned AS floods_planned,
  d.floods_started AS floods_started,
  d.floods_complete AS floods_complete,
  round(d.litres_out, 2) AS litres_out,
  round(d.litres_back, 2) AS litres_back,
  d.pump_on_ms / 1000.0 AS pump_on_s,
  round(d.dehumidifier_on_ms / 3600000.0, 2) AS dehumidifier_h,
  d.dehumidifier_starts AS dehumidifier_starts,
  round(d.humidifier_on_ms / 3600000.0, 2) AS humidifier_h,
  round(d.fan_hours, 2) AS fan_h,
  d.fan_moves AS fan_moves
FROM day d;

CREATE VIEW v_alarms AS
SELECT
  (SELECT datetime((s.raised + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= s.raised ORDER BY from_tick DESC LIMIT 1) AS local,
  a.name AS alarm,
  a.title AS title,
  (SELECT name FROM word WHERE family = 'priority' AND number = a.priority) AS priority,
  (SELECT datetime((s.acknowledged + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= s.acknowledged ORDER BY from_tick DESC LIMIT 1) AS acknowledged,
  (SELECT datetime((s.cleared + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= s.cleared ORDER BY from_tick DESC LIMIT 1) AS cleared,
  (SELECT because FROM v_because b WHERE b.number = s.event) AS because,
  a.remedy AS remedy,
  s.raised AS tick
FROM alarm_span s LEFT JOIN alarm a ON a.number = s.alarm;

CREATE VIEW v_measurements AS
SELECT
  datetime(m.taken_unix_ms / 1000 + coalesce((SELECT utc_offset_s FROM clock_span
    WHERE from_tick <= m.tick ORDER BY from_tick DESC LIMIT 1), 0), 'unixepoch') AS local,
  m.quantity AS quantity,
  m.value AS value,
  CASE m.quantity WHEN 'ph' THEN 'pH' WHEN 'ec' THEN 'mS/cm' WHEN 'level' THEN 'L'
    WHEN 'temperature' THEN 'C' END AS unit,
  m.note AS note,
  m.id AS id
FROM measurement m;

CREATE VIEW v_settings AS
SELECT
  (SELECT datetime((s.tick + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= s.tick ORDER BY from_tick DESC LIMIT 1) AS local,
  printf('%016x', s.hash) AS hash,
  iif(s.accepted, 'accepted', 'refused') AS answer,
  s.note AS note,
  s.text AS text,
  s.tick AS tick
FROM settings_revision s;

CREATE VIEW v_boots AS
SELECT
  (SELECT datetime((b.tick + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= b.tick ORDER BY from_tick DESC LIMIT 1) AS local,
  b.version AS version,
  iif(b.clean_before, 'stopped properly', 'cut short') AS run_before,
  (SELECT datetime((b.stopped_tick + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= b.stopped_tick ORDER BY from_tick DESC LIMIT 1) AS stopped,
  b.stopped_why AS stopped_why,
  b.tick AS tick
FROM boot b;

CREATE VIEW v_clients AS
SELECT
  (SELECT datetime((c.tick + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= c.tick ORDER BY from_tick DESC LIMIT 1) AS local,
  c.uid AS uid,
  c.pid AS pid,
  c.verb AS verb,
  iif(c.accepted, 'accepted', 'refused') AS answer,
  c.detail AS detail,
  c.tick AS tick
FROM client c;

CREATE VIEW v_losses AS
SELECT
  (SELECT datetime((l.tick + ahead_ms) / 1000 + utc_offset_s, 'unixepoch')
     FROM clock_span WHERE from_tick <= l.tick ORDER BY from_tick DESC LIMIT 1) AS local,
  l.readings AS readings,
  l.events AS events,
  l.why AS why
FROM loss l;
