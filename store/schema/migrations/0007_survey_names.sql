-- Names of surveys of imports, which keep them apart: there may be several from now on. A table of
-- its own, for ADD COLUMN refuses a table with a row that breaks a CHECK (step 6).

CREATE TABLE survey_names (
  survey INTEGER PRIMARY KEY REFERENCES surveys (id) ON DELETE CASCADE,
  name   TEXT NOT NULL UNIQUE CHECK (name <> '')
) STRICT;

DROP INDEX surveys_one_import;
