-- How well is known what a level reference rests on, and noise sources as what it may rest on. The text of the
-- schema alone is changed, as in step 8: what was stored before lacks the last column, which reads as NULL.

PRAGMA writable_schema = on;

UPDATE sqlite_schema SET sql = replace(replace(sql, 'CHECK (basis IN (''generator'', ''noise figure'')),', 'CHECK (basis IN (''generator'', ''noise source'', ''noise figure'')),
  uncertainty_db REAL,'), ') STRICT', ',
  CHECK (uncertainty_db BETWEEN 0 AND 400)
) STRICT') WHERE type = 'table' AND name = 'level_references';

PRAGMA writable_schema = reset;
-- A change that other connections notice: they read the schema anew.
CREATE TABLE nightfloor_step_9 (x INTEGER);
DROP TABLE nightfloor_step_9;
