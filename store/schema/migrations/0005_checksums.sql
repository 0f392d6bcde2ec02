-- A checksum of what is stored of a sweep (package checksum): a figure that was changed since, and can be,
-- is told all the same. NULL: stored before there were checksums.

ALTER TABLE sweeps ADD COLUMN checksum INTEGER;
