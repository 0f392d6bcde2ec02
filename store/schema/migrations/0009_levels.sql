-- What feed lines, idle antennas and chokes were during a visit. As in step 8 the text of the schema alone is
-- changed: SQLite takes last columns that a row lacks for their defaults.

PRAGMA writable_schema = on;

UPDATE sqlite_schema SET sql = replace(sql, 'said        TEXT NOT NULL,', 'said        TEXT NOT NULL,
  feed_lines  TEXT NOT NULL DEFAULT '''',
  idle        TEXT NOT NULL DEFAULT '''',
  chokes      TEXT NOT NULL DEFAULT '''',') WHERE type = 'table' AND name = 'visits';

PRAGMA writable_schema = reset;
-- A change that other connections notice: they read the schema anew. The name is none that a user's
-- own table has.
CREATE TABLE nightfloor_step_9 (x INTEGER);
DROP TABLE nightfloor_step_9;
