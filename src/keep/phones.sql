-- The phones that may speak to the pots, version 1. Neither a token nor a code stands here, only
-- their SHA-256.

CREATE TABLE phones (
  id INTEGER PRIMARY KEY,
  token BLOB NOT NULL UNIQUE CHECK (length(token) = 32),
  name TEXT NOT NULL,
  paired_utc_ms INTEGER NOT NULL,
  clock_set INTEGER NOT NULL CHECK (clock_set IN (0, 1))
) STRICT;

-- The one-time code that is good now. Its end is on the monotonic clock of one boot, so that a wall
-- clock that is set meanwhile neither ends it nor keeps it.
CREATE TABLE code (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  hash BLOB NOT NULL CHECK (length(hash) = 32),
  boot TEXT NOT NULL,
  until_mono_ms INTEGER NOT NULL,
  tries_left INTEGER NOT NULL
) STRICT;
