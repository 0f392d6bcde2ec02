-- What was asked of whatever changes antennas, and what was reached; and antennas
-- that were peaked anew.

CREATE TABLE visits (
  survey      INTEGER NOT NULL REFERENCES surveys (id) ON DELETE CASCADE,
  visit       INTEGER NOT NULL,
  round       INTEGER NOT NULL,
  asked       INTEGER NOT NULL REFERENCES setups (id),
  reached     INTEGER REFERENCES setups (id),
  bearing_deg REAL CHECK (bearing_deg >= 0 AND bearing_deg < 360),
  start_ms    INTEGER NOT NULL,
  said        TEXT NOT NULL,
  PRIMARY KEY (survey, visit)
) STRICT, WITHOUT ROWID;

ALTER TABLE events ADD COLUMN repeaked TEXT NOT NULL DEFAULT '';
