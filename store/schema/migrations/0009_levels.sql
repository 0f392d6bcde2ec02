-- How well is known what a level reference rests on, and noise sources as what it may rest on; what feed lines,
-- idle antennas and chokes were during a visit; standard errors of what an attenuator took off, that without the
-- receiver's own noise, and what changed meanwhile; what the receiver's filters take off, and which calibration's
-- curve of that was taken out of what. The text of the schema alone is changed, as in step 8: SQLite takes
-- last columns that a row lacks for their defaults.

PRAGMA writable_schema = on;

UPDATE sqlite_schema SET sql = replace(replace(sql, 'CHECK (basis IN (''generator'', ''noise figure'')),', 'CHECK (basis IN (''generator'', ''noise source'', ''noise figure'')),
  uncertainty_db REAL,'), ') STRICT', ',
  CHECK (uncertainty_db BETWEEN 0 AND 400)
) STRICT') WHERE type = 'table' AND name = 'level_references';

UPDATE sqlite_schema SET sql = replace(sql, 'said        TEXT NOT NULL,', 'said        TEXT NOT NULL,
  feed_lines  TEXT NOT NULL DEFAULT '''',
  idle        TEXT NOT NULL DEFAULT '''',
  chokes      TEXT NOT NULL DEFAULT '''',') WHERE type = 'table' AND name = 'visits';

UPDATE sqlite_schema SET sql = replace(replace(sql, 'verdict         TEXT NOT NULL,', 'verdict         TEXT NOT NULL,
  floor_drop_sigma_db   REAL,
  outside_drop_db       REAL,
  outside_drop_sigma_db REAL,
  carrier_drop_sigma_db REAL,
  out_change_db         REAL,'), ') STRICT', ',
  CHECK (floor_drop_sigma_db BETWEEN 0 AND 400),
  CHECK (outside_drop_db BETWEEN -400 AND 400),
  CHECK (outside_drop_sigma_db BETWEEN 0 AND 400),
  CHECK (carrier_drop_sigma_db BETWEEN 0 AND 400),
  CHECK (out_change_db BETWEEN -400 AND 400)
) STRICT') WHERE type = 'table' AND name = 'linearity';

UPDATE sqlite_schema SET sql = replace(sql, 'ending       TEXT NOT NULL', 'ending       TEXT NOT NULL,
  droop_calibration INTEGER') WHERE type = 'table' AND name = 'surveys';

UPDATE sqlite_schema SET sql = replace(replace(sql, '''clock''))', '''clock'', ''passband''))'), 'note     TEXT NOT NULL', 'note     TEXT NOT NULL,
  droop_calibration INTEGER') WHERE type = 'table' AND name = 'calibrations';

PRAGMA writable_schema = reset;
-- A change that other connections notice: they read the schema anew. The name is none that a user's
-- own table has.
CREATE TABLE nightfloor_step_9 (x INTEGER);
DROP TABLE nightfloor_step_9;

CREATE TABLE droop (
  calibration INTEGER NOT NULL REFERENCES calibrations (id) ON DELETE CASCADE,
  number      INTEGER NOT NULL,
  offset_hz   REAL NOT NULL,
  response_db REAL NOT NULL,
  sigma_db    REAL NOT NULL,
  PRIMARY KEY (calibration, number),
  CHECK (number BETWEEN 0 AND 100000000),
  CHECK (offset_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (response_db BETWEEN -400 AND 400),
  CHECK (sigma_db BETWEEN 0 AND 400)
) STRICT, WITHOUT ROWID;
