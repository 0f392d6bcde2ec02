-- How well is known what a level reference rests on, and noise sources as what it may rest on; what feed lines,
-- idle antennas and chokes were during a visit. The text of the schema alone is changed, as in step 8: SQLite takes
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

PRAGMA writable_schema = reset;
-- A change that other connections notice: they read the schema anew. The name is none that a user's
-- own table has.
CREATE TABLE nightfloor_step_9 (x INTEGER);
DROP TABLE nightfloor_step_9;
