package open

import (
	"context"
	"errors"
	"fmt"
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

// Droop gives what a receiver's filters take off as a calibration measured it, the calibration's number
// and what to tell the operator; nil, 0 and nothing where none did. For a new survey (nil) the newest of the receiver
// counts, for one that goes on that of its readings. The error: that is not there any more.
func Droop(ctx context.Context, db *store.Store, receiver string, goesOn *survey.Survey) (response func(offset survey.Hz) float64, by int64, said string, err error) {
	all, err := db.Calibrations(ctx)
	if err != nil {
		return nil, 0, "", err
	}
	c := droop.Newest(all, receiver)
	if goesOn != nil {
		if by = goesOn.DroopCalibration; by == 0 {
			return nil, 0, "", nil
		}
		i := slices.IndexFunc(all, func(c survey.Calibration) bool { return c.ID == by && len(c.Droop) > 0 })
		if i < 0 {
			return nil, 0, "", fmt.Errorf("go on with survey %d: the passband was corrected as calibration %d measured it, and that is not there any more; begin another survey with --new", goesOn.ID, by)
		}
		c = &all[i]
	}
	if c == nil {
		return nil, 0, "", nil
	}
	said = fmt.Sprintf("the passband is corrected as calibration %d measured it", c.ID)
	if c.Kind == survey.CalibratePassband {
		said += ", which was removed: its curve was kept for this survey, and --new begins one without it"
	}
	return passband.Response(c.Droop), c.ID, said, nil
}
