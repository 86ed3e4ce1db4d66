-- Figures that `neap commission` measures stand among the hand measurements, with their units.
DROP VIEW v_measurements;
CREATE VIEW v_measurements AS
SELECT
  datetime(m.taken_unix_ms / 1000 + coalesce((SELECT utc_offset_s FROM clock_span
    WHERE from_tick <= m.tick ORDER BY from_tick DESC LIMIT 1), 0), 'unixepoch') AS local,
  m.quantity AS quantity,
  m.value AS value,
  CASE m.quantity WHEN 'ph' THEN 'pH' WHEN 'ec' THEN 'mS/cm' WHEN 'level' THEN 'L'
    WHEN 'temperature' THEN 'C' WHEN 'pump_flow' THEN 'L/h' WHEN 'fill' THEN 's'
    WHEN 'drain' THEN 's' WHEN 'fan_least' THEN '%' END AS unit,
  m.note AS note,
  m.id AS id
FROM measurement m;
