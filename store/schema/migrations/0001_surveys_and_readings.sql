-- The first schema. Every table and column is described in SCHEMA.md.
-- Times are Unix milliseconds in UTC, frequencies hertz, levels dB against the
-- reference their name ends with; NULL is "does not apply" or "not known".

CREATE TABLE setups (
  id          INTEGER PRIMARY KEY,
  antenna     TEXT NOT NULL,
  placement   TEXT NOT NULL,
  bearing_deg REAL CHECK (bearing_deg >= 0 AND bearing_deg < 360)
) STRICT;
-- In a plain unique index every NULL differs from every other.
CREATE UNIQUE INDEX setups_once ON setups (antenna, placement, ifnull(bearing_deg, -1));

CREATE TABLE segments (
  id      INTEGER PRIMARY KEY,
  name    TEXT NOT NULL,
  low_hz  REAL NOT NULL,
  high_hz REAL NOT NULL,
  UNIQUE (name, low_hz, high_hz)
) STRICT;

CREATE TABLE surveys (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  kind         TEXT NOT NULL CHECK (kind IN ('record', 'import')),
  simulated    INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  site         TEXT NOT NULL,
  locator      TEXT NOT NULL,
  mains_hz     REAL NOT NULL,
  surroundings TEXT NOT NULL,
  plan         TEXT NOT NULL,
  first_setup  INTEGER REFERENCES setups (id),
  receiver     TEXT NOT NULL,
  seed         INTEGER NOT NULL,
  version      TEXT NOT NULL,
  start_ms     INTEGER,
  end_ms       INTEGER,
  ending       TEXT NOT NULL
) STRICT;
-- One survey holds all imports of a database.
CREATE UNIQUE INDEX surveys_one_import ON surveys (kind) WHERE kind = 'import';

CREATE TABLE sweeps (
  id       INTEGER PRIMARY KEY AUTOINCREMENT,
  survey   INTEGER NOT NULL REFERENCES surveys (id) ON DELETE CASCADE,
  round    INTEGER NOT NULL,
  visit    INTEGER NOT NULL,
  setup    INTEGER NOT NULL REFERENCES setups (id),
  start_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX sweeps_by_start ON sweeps (survey, start_ms);

CREATE TABLE recordings (
  id     INTEGER PRIMARY KEY AUTOINCREMENT,
  digest TEXT NOT NULL UNIQUE,
  file   TEXT NOT NULL
) STRICT;

CREATE TABLE readings (
  id              INTEGER PRIMARY KEY AUTOINCREMENT,
  sweep           INTEGER NOT NULL REFERENCES sweeps (id) ON DELETE CASCADE,
  recording       INTEGER REFERENCES recordings (id),
  segment         INTEGER NOT NULL REFERENCES segments (id),
  start_ms        INTEGER NOT NULL,
  duration_ns     INTEGER NOT NULL,
  centre_hz       REAL NOT NULL,
  sample_rate_hz  REAL NOT NULL,
  bin_hz          REAL NOT NULL,
  resolution_hz   REAL NOT NULL,
  gain_db         REAL,
  gain_exact      INTEGER NOT NULL CHECK (gain_exact IN (0, 1)),
  floor_dbfs_hz   REAL,
  floor_sigma_db  REAL,
  quiet_dbfs_hz   REAL,
  vd_db           REAL,
  vd_bandwidth_hz REAL NOT NULL,
  occupancy       REAL NOT NULL,
  clipped_share   REAL NOT NULL,
  dropped_samples INTEGER NOT NULL,
  dc_dbfs         REAL,
  iq_imbalance_dbc REAL,
  flags           TEXT NOT NULL
) STRICT;
CREATE INDEX readings_by_sweep ON readings (sweep);
CREATE INDEX readings_by_recording ON readings (recording) WHERE recording IS NOT NULL;

CREATE TABLE carriers (
  reading      INTEGER NOT NULL REFERENCES readings (id) ON DELETE CASCADE,
  frequency_hz REAL NOT NULL,
  power        REAL NOT NULL,
  sigma        REAL NOT NULL,
  detected     INTEGER NOT NULL CHECK (detected IN (0, 1)),
  PRIMARY KEY (reading, frequency_hz)
) STRICT, WITHOUT ROWID;

CREATE TABLE spectra (
  reading  INTEGER PRIMARY KEY REFERENCES readings (id) ON DELETE CASCADE,
  first_hz REAL NOT NULL,
  step_hz  REAL NOT NULL,
  enbw     REAL NOT NULL,
  looks    REAL NOT NULL,
  density  BLOB NOT NULL
) STRICT;

CREATE TABLE gaps (
  id      INTEGER PRIMARY KEY,
  survey  INTEGER NOT NULL REFERENCES surveys (id) ON DELETE CASCADE,
  from_ms INTEGER NOT NULL,
  to_ms   INTEGER NOT NULL,
  why     TEXT NOT NULL
) STRICT;
CREATE INDEX gaps_by_survey ON gaps (survey, from_ms);

CREATE TABLE events (
  id     INTEGER PRIMARY KEY,
  survey INTEGER NOT NULL REFERENCES surveys (id) ON DELETE CASCADE,
  at_ms  INTEGER NOT NULL,
  text   TEXT NOT NULL
) STRICT;
CREATE INDEX events_by_survey ON events (survey, at_ms);
