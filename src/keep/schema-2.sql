-- Version 2: what was told to whom, and the browsers that asked to be told.

-- Each attempt to tell a person of an alert, as it ended. raised_ms is when the alert was raised, on
-- the batch's clock: with leg and alert the mark of that one time.
CREATE TABLE deliveries (
  id INTEGER PRIMARY KEY,
  leg INTEGER NOT NULL REFERENCES legs (id),
  at_ms INTEGER NOT NULL,
  alert TEXT NOT NULL,
  raised_ms INTEGER NOT NULL,
  person TEXT NOT NULL,
  way TEXT NOT NULL,
  because TEXT NOT NULL,
  attempts INTEGER NOT NULL,
  arrived INTEGER NOT NULL CHECK (arrived IN (0, 1)),
  answer TEXT NOT NULL
) STRICT;
CREATE INDEX deliveries_of_leg ON deliveries (leg);

CREATE TABLE browsers (
  endpoint TEXT PRIMARY KEY,
  person TEXT NOT NULL,
  p256dh TEXT NOT NULL,
  auth TEXT NOT NULL
) STRICT;

CREATE VIEW delivery AS
SELECT batch, at_ms / 1000.0 AS t_s, at_ms + utc_minus_batch_ms AS utc_ms, clock_set, alert,
       raised_ms / 1000.0 AS raised_s, person, way, because, attempts, arrived, answer
FROM deliveries JOIN leg_utc USING (leg);
