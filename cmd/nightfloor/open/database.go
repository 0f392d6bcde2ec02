package open

import (
	"context"
	"errors"
	"os"
	"slices"
	"time"

	"nightfloor/capture/droop"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/output"
	"nightfloor/store"
	"nightfloor/store/files"
	"nightfloor/survey"
	"nightfloor/survey/passband"
)

// ToWrite opens the database that was named, or the default, by open for the one process that
// writes sweeps into it, or changes those that are stored, and gives its path as it was named. One that is
// damaged is refused.
func ToWrite(ctx context.Context, named string, open func(context.Context, string) (*store.Store, error)) (db *store.Store, path string, release func(), err error) {
	if db, path, err = Database(ctx, named, open); err != nil {
		return nil, "", nil, err
	}
	unlock, err := db.LockWriter(time.Now())
	if err != nil {
		return nil, "", nil, errors.Join(err, db.Close())
	}
	if err := db.Sound(ctx); err != nil {
		return nil, "", nil, errors.Join(err, unlock(), db.Close())
	}
	return db, path, func() { unlock(); db.Close() }, nil
}

// Database opens the database that was named, or the default, by open, and gives its
// path as it was named.
func Database(ctx context.Context, named string, open func(context.Context, string) (*store.Store, error)) (db *store.Store, path string, err error) {
	if path, err = databasePath(named); err != nil {
		return nil, "", err
	}
	db, err = open(ctx, path)
	return db, path, err
}

// databasePath gives the path of the database that was named, or of the default.
func databasePath(named string) (string, error) {
	switch named {
	case "":
		return files.DefaultPath()
	case output.Dash:
		return "", console.Usagef("--db -: - is no file name here; name a file")
	}
	return named, nil
}

// databaseThere tells whether there is something at the database's path.
func databaseThere(named string) bool {
	path, err := databasePath(named)
	if err == nil {
		_, err = os.Stat(path)
	}
	return err == nil
}

// There opens a database for writing that is there and of this version. It reads
// first: nothing is made where there is no database, and an older one that record may be
// writing stays as it is (ErrOlder).
func There(ctx context.Context, path string) (*store.Store, error) {
	reading, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return nil, err
	}
	if err := reading.Close(); err != nil {
		return nil, err
	}
	return store.Open(ctx, path)
}

// Droop gives what a receiver's filters take off, by the newest calibration of it that measured that,
// and the calibration's number; nil where none did. Those after a moment do not count; zero: all do.
func Droop(ctx context.Context, db *store.Store, receiver string, until time.Time) (response func(offset survey.Hz) float64, by int64, err error) {
	all, err := db.Calibrations(ctx)
	if err != nil {
		return nil, 0, err
	}
	all = slices.DeleteFunc(all, func(c survey.Calibration) bool { return !until.IsZero() && c.At.After(until) })
	c := droop.Newest(all, receiver)
	if c == nil {
		return nil, 0, nil
	}
	return passband.Response(c.Droop), c.ID, nil
}
