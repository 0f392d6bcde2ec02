package store

import (
	"context"

	"nightfloor/store/schema"
)

// checkFile tells why the database behind dsn cannot be read by this program, without writing.
func checkFile(ctx context.Context, dsn, path string) error {
	db, err := openHandle(dsn, 1)
	if err != nil {
		return err
	}
	h, err := schema.ReadHeader(ctx, db)
	if err == nil {
		err = h.Check(len(schema.Steps()))
	}
	return explain("open database "+path, first(err, db.Close()))
}

// migrate brings the database to the last of steps, all in one transaction:
// after a power cut it is either what it was or complete. The transaction
// begins by taking the write lock, so that of two programs that open a new
// file one waits for the other.
func (s *Store) migrate(ctx context.Context, steps []string) error {
	return s.writeOnce(ctx, "open database "+s.path, func(c change) error { return schema.Apply(c.ctx, c.tx, steps) })
}
