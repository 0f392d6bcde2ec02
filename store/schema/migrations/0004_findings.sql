-- Interference seen in readings.

CREATE TABLE findings (
  reading     INTEGER NOT NULL REFERENCES readings (id) ON DELETE CASCADE,
  number      INTEGER NOT NULL,
  kind        TEXT NOT NULL,
  low_hz      REAL NOT NULL,
  high_hz     REAL NOT NULL,
  spacing_hz  REAL,
  width_hz    REAL,
  lines       INTEGER,
  envelope_hz REAL,
  mains_hz    REAL,
  depth       REAL,
  shape       TEXT,
  rate_hz     REAL,
  regular     INTEGER CHECK (regular IN (0, 1)),
  strength_db REAL,
  confidence  REAL NOT NULL,
  power       REAL,
  sigma       REAL,
  PRIMARY KEY (reading, number)
) STRICT, WITHOUT ROWID;
