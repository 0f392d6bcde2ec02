-- What runs of calibrate found out about receivers. Units as in step 1; SCHEMA.md
-- describes every table and column. No index but the keys: the rows are few, and each
-- index takes a page of a database that may stand on a small disk.

CREATE TABLE calibrations (
  id       INTEGER PRIMARY KEY AUTOINCREMENT,
  kind     TEXT NOT NULL CHECK (kind IN ('noise', 'level', 'linearity', 'lines', 'clock')),
  receiver TEXT NOT NULL,
  at_ms    INTEGER NOT NULL,
  note     TEXT NOT NULL
) STRICT;

CREATE TABLE self_noise (
  calibration     INTEGER NOT NULL REFERENCES calibrations (id) ON DELETE CASCADE,
  number          INTEGER NOT NULL,
  segment         INTEGER NOT NULL REFERENCES segments (id),
  gain_db         REAL NOT NULL,
  density_dbfs_hz REAL NOT NULL,
  sigma_db        REAL NOT NULL,
  PRIMARY KEY (calibration, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE level_references (
  calibration    INTEGER NOT NULL REFERENCES calibrations (id) ON DELETE CASCADE,
  number         INTEGER NOT NULL,
  frequency_hz   REAL NOT NULL,
  gain_db        REAL NOT NULL,
  full_scale_dbm REAL NOT NULL,
  sigma_db       REAL NOT NULL,
  basis          TEXT NOT NULL CHECK (basis IN ('generator', 'noise figure')),
  PRIMARY KEY (calibration, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE own_lines (
  calibration  INTEGER NOT NULL REFERENCES calibrations (id) ON DELETE CASCADE,
  number       INTEGER NOT NULL,
  frequency_hz REAL NOT NULL,
  gain_db      REAL NOT NULL,
  level_dbfs   REAL NOT NULL,
  PRIMARY KEY (calibration, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE linearity (
  calibration     INTEGER NOT NULL REFERENCES calibrations (id) ON DELETE CASCADE,
  number          INTEGER NOT NULL,
  segment         INTEGER NOT NULL REFERENCES segments (id),
  gain_db         REAL NOT NULL,
  attenuation_db  REAL NOT NULL,
  floor_drop_db   REAL,
  carrier_drop_db REAL,
  carriers        INTEGER NOT NULL,
  verdict         TEXT NOT NULL,
  PRIMARY KEY (calibration, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE clock_errors (
  calibration INTEGER PRIMARY KEY REFERENCES calibrations (id) ON DELETE CASCADE,
  error_ppm   REAL NOT NULL,
  sigma_ppm   REAL NOT NULL,
  stations    INTEGER NOT NULL
) STRICT;
