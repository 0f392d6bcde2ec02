-- What figures can be: the limits of package ranges, as CHECKs. SQLite cannot add a CHECK to a table, and
-- copying each table would write a database of a year anew and take its size again on the disk. A CHECK
-- changes nothing in the rows, so that the text of the schema alone is changed
-- (sqlite.org/lang_altertable.html, section 7, the second procedure). Rows that break a CHECK stay as
-- they are, and nothing is lost: reports leave them out, and `nightfloor database check` names them.
-- ADD COLUMN refuses a table with such a row from now on: later steps add tables.

PRAGMA writable_schema = on;

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (low_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (high_hz BETWEEN -1000000000 AND 10000000000)
) STRICT') WHERE type = 'table' AND name = 'segments';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (mains_hz BETWEEN 0 AND 10000000000),
  CHECK (start_ms BETWEEN 0 AND 7258118400000),
  CHECK (end_ms BETWEEN 0 AND 7258118400000)
) STRICT') WHERE type = 'table' AND name = 'surveys';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (round BETWEEN 0 AND 100000000),
  CHECK (visit BETWEEN 0 AND 100000000),
  CHECK (start_ms BETWEEN 0 AND 7258118400000)
) STRICT') WHERE type = 'table' AND name = 'sweeps';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (start_ms BETWEEN 0 AND 7258118400000),
  CHECK (duration_ns BETWEEN 0 AND 1e+15),
  CHECK (centre_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (sample_rate_hz BETWEEN 0 AND 10000000000),
  CHECK (bin_hz BETWEEN 0 AND 10000000000),
  CHECK (resolution_hz BETWEEN 0 AND 10000000000),
  CHECK (gain_db BETWEEN -400 AND 400),
  CHECK (floor_dbfs_hz BETWEEN -400 AND 400 OR floor_dbfs_hz = -9e999),
  CHECK (floor_sigma_db BETWEEN 0 AND 400),
  CHECK (quiet_dbfs_hz BETWEEN -400 AND 400 OR quiet_dbfs_hz = -9e999),
  CHECK (vd_db BETWEEN -400 AND 400),
  CHECK (vd_bandwidth_hz BETWEEN 0 AND 10000000000),
  CHECK (occupancy BETWEEN 0 AND 1),
  CHECK (clipped_share BETWEEN 0 AND 1),
  CHECK (dropped_samples BETWEEN 0 AND 1e+15),
  CHECK (dc_dbfs BETWEEN -400 AND 400 OR dc_dbfs = -9e999),
  CHECK (iq_imbalance_dbc BETWEEN -400 AND 400 OR iq_imbalance_dbc = -9e999)
) STRICT') WHERE type = 'table' AND name = 'readings';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (frequency_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (power BETWEEN -1e+15 AND 1e+15),
  CHECK (sigma BETWEEN 0 AND 1e+15)
) STRICT') WHERE type = 'table' AND name = 'carriers';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (first_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (step_hz BETWEEN 0 AND 10000000000),
  CHECK (enbw BETWEEN 0 AND 10000),
  CHECK (looks BETWEEN 0 AND 1000000000000)
) STRICT') WHERE type = 'table' AND name = 'spectra';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (from_ms BETWEEN 0 AND 7258118400000),
  CHECK (to_ms BETWEEN 0 AND 7258118400000)
) STRICT') WHERE type = 'table' AND name = 'gaps';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (at_ms BETWEEN 0 AND 7258118400000)
) STRICT') WHERE type = 'table' AND name = 'events';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (at_ms BETWEEN 0 AND 7258118400000)
) STRICT') WHERE type = 'table' AND name = 'calibrations';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (number BETWEEN 0 AND 100000000),
  CHECK (gain_db BETWEEN -400 AND 400),
  CHECK (density_dbfs_hz BETWEEN -400 AND 400),
  CHECK (sigma_db BETWEEN 0 AND 400)
) STRICT') WHERE type = 'table' AND name = 'self_noise';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (number BETWEEN 0 AND 100000000),
  CHECK (frequency_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (gain_db BETWEEN -400 AND 400),
  CHECK (full_scale_dbm BETWEEN -400 AND 400),
  CHECK (sigma_db BETWEEN 0 AND 400)
) STRICT') WHERE type = 'table' AND name = 'level_references';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (number BETWEEN 0 AND 100000000),
  CHECK (frequency_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (gain_db BETWEEN -400 AND 400),
  CHECK (level_dbfs BETWEEN -400 AND 400)
) STRICT') WHERE type = 'table' AND name = 'own_lines';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (number BETWEEN 0 AND 100000000),
  CHECK (gain_db BETWEEN -400 AND 400),
  CHECK (attenuation_db BETWEEN -400 AND 400),
  CHECK (floor_drop_db BETWEEN -400 AND 400),
  CHECK (carrier_drop_db BETWEEN -400 AND 400),
  CHECK (carriers BETWEEN 0 AND 100000000)
) STRICT') WHERE type = 'table' AND name = 'linearity';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (error_ppm BETWEEN -1000000 AND 1000000),
  CHECK (sigma_ppm BETWEEN 0 AND 1000000),
  CHECK (stations BETWEEN 0 AND 100000000)
) STRICT') WHERE type = 'table' AND name = 'clock_errors';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (visit BETWEEN 0 AND 100000000),
  CHECK (round BETWEEN 0 AND 100000000),
  CHECK (start_ms BETWEEN 0 AND 7258118400000)
) STRICT') WHERE type = 'table' AND name = 'visits';

UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ',
  CHECK (number BETWEEN 0 AND 100000000),
  CHECK (low_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (high_hz BETWEEN -1000000000 AND 10000000000),
  CHECK (spacing_hz BETWEEN 0 AND 10000000000),
  CHECK (width_hz BETWEEN 0 AND 10000000000),
  CHECK (lines BETWEEN 0 AND 100000000),
  CHECK (envelope_hz BETWEEN 0 AND 10000000000),
  CHECK (mains_hz BETWEEN 0 AND 10000000000),
  CHECK (depth BETWEEN 0 AND 1),
  CHECK (rate_hz BETWEEN 0 AND 10000000000),
  CHECK (strength_db BETWEEN -400 AND 400),
  CHECK (confidence BETWEEN 0 AND 1),
  CHECK (power BETWEEN -1e+15 AND 1e+15),
  CHECK (sigma BETWEEN 0 AND 1e+15)
) STRICT') WHERE type = 'table' AND name = 'findings';

PRAGMA writable_schema = reset;
-- A change that other connections notice: they read the schema anew. The name is none that a user's
-- own table has.
CREATE TABLE nightfloor_step_6 (x INTEGER);
DROP TABLE nightfloor_step_6;
