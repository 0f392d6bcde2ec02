-- The error that a carrier's power would have with no line there, in steps that take a byte. ADD COLUMN
-- refuses a table with a row that breaks a CHECK, which a database may have (step 6), so the text of the
-- schema alone is changed, as there: SQLite takes a last column that a row lacks for NULL, as it does after
-- ADD COLUMN.

PRAGMA writable_schema = on;

UPDATE sqlite_schema SET sql = replace(replace(sql, 'CHECK (detected IN (0, 1)),', 'CHECK (detected IN (0, 1)),
  quiet_quarters INTEGER,'), ') STRICT', ',
  CHECK (quiet_quarters BETWEEN 0 AND 20000)
) STRICT') WHERE type = 'table' AND name = 'carriers';

PRAGMA writable_schema = reset;
-- A change that other connections notice: they read the schema anew. The name is none that a user's
-- own table has.
CREATE TABLE nightfloor_step_8 (x INTEGER);
DROP TABLE nightfloor_step_8;
