-- The store of dekchi, version 1.
--
-- Times of a batch are milliseconds on the batch's own clock, which begins at its first leg. A leg
-- is a stretch watched by one start of the daemon; it ties the batch's clock to that start's
-- monotonic clock, and the start ties that to UTC. So a board that boots without knowing the time
-- stores everything at once, and when it learns the time one row is rewritten.
--
-- Rows that come every ten seconds carry only their leg and are found through the first and last id
-- of the leg: an index would cost a page more at every commit.

CREATE TABLE starts (
  id INTEGER PRIMARY KEY,
  boot TEXT NOT NULL,
  mono_ms INTEGER NOT NULL,
  utc_minus_mono_ms INTEGER NOT NULL,
  clock_set INTEGER NOT NULL CHECK (clock_set IN (0, 1))
) STRICT;

-- Each time the wall clock was set or jumped.
CREATE TABLE clocks (
  id INTEGER PRIMARY KEY,
  start INTEGER NOT NULL REFERENCES starts (id),
  mono_ms INTEGER NOT NULL,
  utc_minus_mono_ms INTEGER NOT NULL,
  clock_set INTEGER NOT NULL CHECK (clock_set IN (0, 1))
) STRICT;

CREATE TABLE batches (
  id INTEGER PRIMARY KEY,
  pot TEXT NOT NULL,
  name TEXT NOT NULL,
  kitchen_toml TEXT NOT NULL,
  batch_toml TEXT NOT NULL,
  -- What was known of the pot when the batch began.
  bottom_log_scale REAL NOT NULL,
  bottom_verdicts INTEGER NOT NULL,
  ended_ms INTEGER,
  outcome TEXT,
  CHECK ((ended_ms IS NULL) = (outcome IS NULL))
) STRICT;

CREATE TABLE legs (
  id INTEGER PRIMARY KEY,
  batch INTEGER NOT NULL REFERENCES batches (id),
  start INTEGER NOT NULL REFERENCES starts (id),
  mono_ms INTEGER NOT NULL,
  batch_ms INTEGER NOT NULL,
  first_sample INTEGER NOT NULL,
  last_sample INTEGER,
  first_reading INTEGER NOT NULL,
  last_reading INTEGER
) STRICT;
CREATE INDEX legs_of_batch ON legs (batch);

-- Raw samples, packed.
CREATE TABLE samples (
  id INTEGER PRIMARY KEY,
  leg INTEGER NOT NULL REFERENCES legs (id),
  from_ms INTEGER NOT NULL,
  for_ms INTEGER NOT NULL,
  events INTEGER NOT NULL,
  block BLOB NOT NULL
) STRICT;

-- The pot as the judgement saw it. Masses in mg, temperatures in m°C, fractions in parts a million.
CREATE TABLE readings (
  id INTEGER PRIMARY KEY,
  leg INTEGER NOT NULL REFERENCES legs (id),
  at_ms INTEGER NOT NULL,
  pot_mc INTEGER,
  contents_mg INTEGER,
  contents_sd_mg INTEGER,
  water_mg INTEGER,
  fat_mg INTEGER,
  salt_mg INTEGER,
  total_solids_ppm INTEGER,
  evaporation_mg_h INTEGER,
  evaporation_sd_mg_h INTEGER,
  heat_mw INTEGER,
  lid TEXT,
  boiling INTEGER,
  boil_mc INTEGER,
  target_mg INTEGER,
  target_p10_ms INTEGER,
  target_p50_ms INTEGER,
  target_p90_ms INTEGER,
  catch_ppm INTEGER,
  stir_within_ms INTEGER,
  since_stir_ms INTEGER,
  served_mg INTEGER,
  runs_out_ms INTEGER,
  top_up_ml INTEGER,
  next_name TEXT,
  next_mg INTEGER,
  raised TEXT
) STRICT;

-- What was recognised, when it began and when it was known. for_s is how long it lasted; of a
-- correction, how long before it the addition began.
CREATE TABLE happenings (
  id INTEGER PRIMARY KEY,
  leg INTEGER NOT NULL REFERENCES legs (id),
  at_ms INTEGER NOT NULL,
  seen_ms INTEGER NOT NULL,
  what TEXT NOT NULL,
  kg REAL,
  sd_kg REAL,
  name TEXT,
  for_s REAL,
  sensor TEXT,
  why TEXT
) STRICT;
CREATE INDEX happenings_of_leg ON happenings (leg);

-- Alerts as they changed.
CREATE TABLE notices (
  id INTEGER PRIMARY KEY,
  leg INTEGER NOT NULL REFERENCES legs (id),
  at_ms INTEGER NOT NULL,
  alert TEXT NOT NULL,
  state TEXT NOT NULL,
  why TEXT NOT NULL
) STRICT;
CREATE INDEX notices_of_leg ON notices (leg);

-- What the cook said. The samples hold the place of each by its number.
CREATE TABLE words (
  id INTEGER PRIMARY KEY,
  leg INTEGER NOT NULL REFERENCES legs (id),
  number INTEGER NOT NULL,
  at_ms INTEGER NOT NULL,
  said TEXT NOT NULL,
  by_whom TEXT NOT NULL
) STRICT;
CREATE INDEX words_of_leg ON words (leg);

-- What earlier batches taught about a pot.
CREATE TABLE learnt (
  pot TEXT PRIMARY KEY,
  bottom_log_scale REAL NOT NULL,
  bottom_verdicts INTEGER NOT NULL
) STRICT;

-- What a broker has not acknowledged yet. kind: 0 telemetry, 1 event, 2 alert.
CREATE TABLE outbox (
  id INTEGER PRIMARY KEY,
  key TEXT NOT NULL UNIQUE,
  start INTEGER NOT NULL REFERENCES starts (id),
  mono_ms INTEGER NOT NULL,
  kind INTEGER NOT NULL,
  topic TEXT NOT NULL,
  payload BLOB NOT NULL
) STRICT;

-- For people: `sqlite3 dekchi.sqlite 'SELECT * FROM batch'`.

CREATE VIEW leg_utc AS
SELECT legs.id AS leg, legs.batch AS batch,
       legs.mono_ms + starts.utc_minus_mono_ms - legs.batch_ms AS utc_minus_batch_ms,
       starts.clock_set AS clock_set
FROM legs JOIN starts ON starts.id = legs.start;

CREATE VIEW batch AS
SELECT batches.id AS batch, pot, name,
       strftime('%Y-%m-%dT%H:%M:%SZ', utc_minus_batch_ms / 1000, 'unixepoch') AS began_utc,
       clock_set, ended_ms / 1000.0 AS lasted_s, outcome
FROM batches JOIN leg_utc ON leg_utc.leg = (SELECT min(id) FROM legs WHERE batch = batches.id);

CREATE VIEW reading AS
SELECT batch, at_ms / 1000.0 AS t_s, at_ms + utc_minus_batch_ms AS utc_ms, clock_set,
       pot_mc / 1e3 AS pot_c, contents_mg / 1e6 AS contents_kg,
       contents_sd_mg / 1e6 AS contents_sd_kg, water_mg / 1e6 AS water_kg,
       fat_mg / 1e6 AS fat_kg, salt_mg / 1e6 AS salt_kg, total_solids_ppm / 1e6 AS total_solids,
       evaporation_mg_h / 1e6 AS evaporation_kg_h,
       evaporation_sd_mg_h / 1e6 AS evaporation_sd_kg_h, heat_mw / 1e3 AS heat_w, lid, boiling,
       boil_mc / 1e3 AS boil_c, target_mg / 1e6 AS target_kg,
       target_p10_ms / 1e3 AS target_p10_s, target_p50_ms / 1e3 AS target_p50_s,
       target_p90_ms / 1e3 AS target_p90_s, catch_ppm / 1e6 AS catch_index,
       stir_within_ms / 1e3 AS stir_within_s, since_stir_ms / 1e3 AS since_stir_s,
       served_mg / 1e6 AS served_kg, runs_out_ms / 1e3 AS runs_out_in_s, top_up_ml / 1e3 AS top_up_l,
       next_name AS next_addition, next_mg / 1e6 AS next_addition_kg, raised
FROM readings JOIN leg_utc USING (leg);

CREATE VIEW happening AS
SELECT batch, at_ms / 1000.0 AS t_s, seen_ms / 1000.0 AS seen_s,
       at_ms + utc_minus_batch_ms AS utc_ms, clock_set, what, kg, sd_kg, name, for_s, sensor, why
FROM happenings JOIN leg_utc USING (leg);

CREATE VIEW notice AS
SELECT batch, at_ms / 1000.0 AS t_s, at_ms + utc_minus_batch_ms AS utc_ms, clock_set, alert, state,
       why
FROM notices JOIN leg_utc USING (leg);

CREATE VIEW word AS
SELECT batch, at_ms / 1000.0 AS t_s, at_ms + utc_minus_batch_ms AS utc_ms, clock_set, said,
       by_whom
FROM words JOIN leg_utc USING (leg);
