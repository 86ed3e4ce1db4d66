-- The journal's tables. Views for people follow in the next migration.
--
-- tick is a count of milliseconds that never decreases and is carried across boots. Wall time stands
-- beside it in clock_map only, so that a late time sync corrects the past and a step back collides
-- with nothing. Small numbers (point, output, alarm, reason, word.number) are explained by the look-up
-- tables at the end, which the daemon refills whenever it opens the file.

-- Each run of the daemon. A run that was killed has no stopped_tick.
CREATE TABLE boot (
  number       INTEGER PRIMARY KEY,
  tick         INTEGER NOT NULL,
  version      TEXT    NOT NULL,
  clean_before INTEGER NOT NULL,
  stopped_tick INTEGER,
  stopped_why  TEXT
) STRICT;
CREATE INDEX boot_tick ON boot (tick);

-- What the wall clock said at a tick, as it was read.
CREATE TABLE clock_map (
  tick         INTEGER PRIMARY KEY,
  boot         INTEGER NOT NULL,
  unix_ms      INTEGER NOT NULL,
  utc_offset_s INTEGER NOT NULL,
  quality      INTEGER NOT NULL  -- word 'time_quality'
) STRICT;

-- What is believed of it now: from from_tick on, unix_ms = tick + ahead_ms; NULL is 'not known'. Kept
-- by the daemon out of clock_map: within a boot the rows from its first one of the best quality on
-- count, and the first of these reaches back to the boot's beginning.
CREATE TABLE clock_span (
  from_tick    INTEGER PRIMARY KEY,
  ahead_ms     INTEGER,
  utc_offset_s INTEGER NOT NULL
) STRICT;

-- k = tick * 256 + point; v = value * point.per_unit, rounded, or NULL; q = fault * 4 + quality.
CREATE TABLE reading (
  k INTEGER PRIMARY KEY,
  v INTEGER,
  q INTEGER NOT NULL
) STRICT;

-- All that happened, numbered without a gap. A column that says nothing about a kind is NULL.
CREATE TABLE event (
  number      INTEGER PRIMARY KEY,
  tick        INTEGER NOT NULL,
  kind        INTEGER NOT NULL,  -- word 'event'
  reason      INTEGER NOT NULL,
  a0          REAL,              -- the reason's arguments; NULL is 0
  a1          REAL,
  a2          REAL,
  output      INTEGER,
  level       INTEGER,           -- thousandths
  point       INTEGER,
  alarm       INTEGER,
  alarm_from  INTEGER,           -- word 'alarm_state'
  alarm_to    INTEGER,
  latch       INTEGER,           -- word 'latch'
  phase       INTEGER,           -- word 'phase'
  slot_date   INTEGER,           -- days since 1970-01-01 of the photoperiod's lights-on
  slot_number INTEGER,
  cycle       INTEGER,           -- cycle.started
  day         INTEGER,           -- day.began
  value       INTEGER,
  request     INTEGER,
  accepted    INTEGER,
  name        TEXT               -- stage entered, simulated fault, or what a request was about
) STRICT;
CREATE INDEX event_tick ON event (tick);

-- One row a flood cycle; the dip is filled in when the VPD has recovered.
CREATE TABLE cycle (
  started        INTEGER PRIMARY KEY,  -- tick
  slot_date      INTEGER NOT NULL,
  slot_number    INTEGER NOT NULL,
  origin         INTEGER NOT NULL,     -- word 'origin'
  outcome        INTEGER NOT NULL,     -- word 'outcome'
  fill_ms        INTEGER NOT NULL,
  soak_ms        INTEGER NOT NULL,
  drain_ms       INTEGER NOT NULL,
  pump_on_ms     INTEGER NOT NULL,
  litres_out     REAL,
  litres_back    REAL,
  vpd_before_kpa REAL,
  vpd_lowest_kpa REAL,
  recovery_ms    INTEGER NOT NULL,
  recovered      INTEGER NOT NULL
) STRICT;

-- One row a photoperiod, lights-on to lights-on.
CREATE TABLE day (
  began               INTEGER PRIMARY KEY,  -- tick
  closed              INTEGER NOT NULL,     -- tick
  date                INTEGER NOT NULL,     -- days since 1970-01-01
  day_known_ms        INTEGER NOT NULL,
  day_in_band_ms      INTEGER NOT NULL,
  night_known_ms      INTEGER NOT NULL,
  night_in_band_ms    INTEGER NOT NULL,
  below_ms            INTEGER NOT NULL,
  above_ms            INTEGER NOT NULL,
  kpa_h_out           REAL    NOT NULL,
  humid_ms            INTEGER NOT NULL,
  floods_planned      INTEGER NOT NULL,
  floods_started      INTEGER NOT NULL,
  floods_complete     INTEGER NOT NULL,
  litres_out          REAL    NOT NULL,
  litres_back         REAL    NOT NULL,
  pump_on_ms          INTEGER NOT NULL,
  dehumidifier_on_ms  INTEGER NOT NULL,
  dehumidifier_starts INTEGER NOT NULL,
  humidifier_on_ms    INTEGER NOT NULL,
  fan_hours           REAL    NOT NULL,
  fan_moves           INTEGER NOT NULL,
  vpd_lowest_kpa      REAL,
  vpd_highest_kpa     REAL
) STRICT;

-- One row a raising of an alarm, kept by the daemon out of the alarm events.
CREATE TABLE alarm_span (
  number       INTEGER PRIMARY KEY,
  alarm        INTEGER NOT NULL,
  raised       INTEGER NOT NULL,  -- ticks
  acknowledged INTEGER,
  cleared      INTEGER,
  event        INTEGER NOT NULL   -- event.number of the raising; it has the reason
) STRICT;
CREATE INDEX alarm_span_alarm ON alarm_span (alarm);

CREATE TABLE measurement (
  number        INTEGER PRIMARY KEY,
  id            TEXT    NOT NULL UNIQUE,  -- taken in once
  tick          INTEGER NOT NULL,         -- when it was handed in
  taken_unix_ms INTEGER NOT NULL,         -- when it was taken
  quantity      TEXT    NOT NULL,
  value         REAL    NOT NULL,
  note          TEXT    NOT NULL
) STRICT;

CREATE TABLE settings_revision (
  number   INTEGER PRIMARY KEY,
  tick     INTEGER NOT NULL,
  hash     INTEGER NOT NULL,  -- 64 bits, shown in hexadecimal by v_settings
  accepted INTEGER NOT NULL,
  note     TEXT    NOT NULL,
  text     TEXT    NOT NULL
) STRICT;

CREATE TABLE client (
  number   INTEGER PRIMARY KEY,
  tick     INTEGER NOT NULL,
  uid      INTEGER NOT NULL,
  pid      INTEGER NOT NULL,
  verb     TEXT    NOT NULL,
  accepted INTEGER NOT NULL,
  detail   TEXT    NOT NULL
) STRICT;

-- What the journal itself missed: entries that found no room in memory while the disk refused them,
-- entries that could not be stored, and damaged files that were set aside.
CREATE TABLE loss (
  number   INTEGER PRIMARY KEY,
  tick     INTEGER NOT NULL,  -- of the newest entry known when it was written
  readings INTEGER NOT NULL,
  events   INTEGER NOT NULL,
  why      TEXT    NOT NULL
) STRICT;

-- The batch of events that was committed last, and by which writer. After a failed sync nobody knows
-- whether the batch reached the file; this row says so once the file is open again.
CREATE TABLE last_batch (
  id     INTEGER PRIMARY KEY CHECK (id = 1),
  writer INTEGER NOT NULL,
  batch  INTEGER NOT NULL
) STRICT;
INSERT INTO last_batch VALUES (1, 0, 0);

CREATE TABLE point (
  number   INTEGER PRIMARY KEY,
  name     TEXT    NOT NULL UNIQUE,
  title    TEXT    NOT NULL,
  unit     TEXT    NOT NULL,
  per_unit REAL    NOT NULL
) STRICT;
CREATE TABLE output (
  number       INTEGER PRIMARY KEY,
  name         TEXT    NOT NULL UNIQUE,
  title        TEXT    NOT NULL,
  stopped_word TEXT    NOT NULL,
  running_word TEXT    NOT NULL
) STRICT;
CREATE TABLE alarm (
  number   INTEGER PRIMARY KEY,
  name     TEXT    NOT NULL UNIQUE,
  title    TEXT    NOT NULL,
  remedy   TEXT    NOT NULL,
  priority INTEGER NOT NULL  -- word 'priority'
) STRICT;
CREATE TABLE reason (
  number INTEGER PRIMARY KEY,
  key    TEXT    NOT NULL UNIQUE
) STRICT;
-- A reason's sentence in pieces: the words before a figure, then the figure. kind is a printf format, or
-- t seconds, c a temperature, k a difference of temperatures, o output, p point, l latch, a alarm,
-- f fault, y days since 1970-01-01. A piece is left out when all arguments of the bit mask `needs` are zero.
CREATE TABLE reason_part (
  reason   INTEGER NOT NULL,
  part     INTEGER NOT NULL,
  words    TEXT    NOT NULL,
  argument INTEGER,           -- 0 to 2; NULL: words only
  kind     TEXT    NOT NULL,
  needs    INTEGER NOT NULL,
  PRIMARY KEY (reason, part)
) STRICT, WITHOUT ROWID;
-- The names of small numbers. What a contact's number says stands under the point's name.
CREATE TABLE word (
  family TEXT    NOT NULL,
  number INTEGER NOT NULL,
  name   TEXT    NOT NULL,
  PRIMARY KEY (family, number)
) STRICT, WITHOUT ROWID;
