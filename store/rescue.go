package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"nightfloor/store/checksum"
	"nightfloor/store/density"
	"nightfloor/store/files"
	"nightfloor/store/handle"
	"nightfloor/store/salvage"
	"nightfloor/store/tally"
	"nightfloor/store/trouble"
	"nightfloor/survey"
)

// rescue saves what this process still has of a database that was taken away under it into a
// file beside it, and gives the error that says what happened, what was saved and what to do.
// Nothing may be written through the open connections afterwards.
func (s *Store) rescue(ctx context.Context, happened fault, now time.Time) error {
	beside := strings.TrimSuffix(s.path, filepath.Ext(s.path)) + "-rescued-" + now.UTC().Format("20060102T150405Z")
	for _, err := os.Lstat(beside + ".db"); err == nil; _, err = os.Lstat(beside + ".db") {
		beside += "b" // an earlier one of the same second
	}
	path := beside + ".db"
	if happened.apart && !happened.logGone {
		if err := s.lookAnew(ctx, path); !trouble.OfContent(err) {
			s.leave = true
			return lost(happened, s.inPlace(err == nil))
		}
	}
	err := s.saveWhole(ctx, path)
	whole := false // the file is, wherever it is now
	switch {
	case happened.apart: // others may have stored into what is at the path now
		s.leave = true
	case happened.damaged || trouble.OfContent(err):
		s.leave = true
		s.setLogAside(beside + ".wal")
	default:
		// The file gets all of the log, and the log is empty: it cannot be taken for that of another
		// file at this path.
		whole = s.shrinkLog(ctx)
		s.setLogAside(beside + ".wal")
	}
	if err == nil {
		return lost(happened, s.savedWhole(path, happened.apart))
	}
	os.Remove(path) // where it fails the next step does too
	if at := files.Whereabouts(s.guard.seen.Main); whole && at != "" {
		return lost(happened, fmt.Sprintf("it is whole, with the %s that this process stored, and is now %s; move it to %s, and start again (no copy of it could be made: %v)",
			s.storedSweeps(), at, s.path, err))
	}
	return lost(happened, s.savedPart(ctx, path, whole, s.salvage(ctx, path)))
}

func (s *Store) storedSweeps() string { return survey.Count(int(s.guard.stored.Sweeps), "sweep") }

func lost(happened fault, saved string) error {
	return fmt.Errorf("%w: %s; nothing more is stored; %s", ErrLost, happened.what, saved)
}

// inPlace says that the files have all that anybody stored, for who opens them anew.
func (s *Store) inPlace(looked bool) string {
	holds := "holds"
	if !looked {
		holds = "should hold"
	}
	return fmt.Sprintf("%s %s all of it, with the %s that this process stored; check it with `nightfloor database check`, and start again", s.path, holds, s.storedSweeps())
}

// savedWhole says that all of the database is in the file at path, and what to do.
func (s *Store) savedWhole(path string, apart bool) string {
	said := fmt.Sprintf("all of it, with the %s that this process stored, is in %s; ", s.storedSweeps(), path)
	if apart {
		return said + fmt.Sprintf("what other programs stored since is in %s, so keep both, and go on with the first", s.path)
	}
	return said + fmt.Sprintf("move that to %s, and start again", s.path)
}

// savedPart says how much of the database is in the file at path, and what to do. err: nothing
// is. whole: the database's file is, if it still has a name.
func (s *Store) savedPart(ctx context.Context, path string, whole bool, err error) string {
	elsewhere := ""
	if whole {
		elsewhere = "if it was moved, it is whole where it is now: move it back; otherwise "
	}
	if err != nil {
		return fmt.Sprintf("nothing could be saved: %v; %sgo back to the last backup", err, elsewhere)
	}
	is, all := s.countSaved(ctx, path), s.guard.stored
	return fmt.Sprintf("what could be read is in %s, with %d of the %d sweeps that this process stored, %d of %d readings, %d of %d carriers, %d of %d findings and %d of %d spectra; %sgo on with it, or with the last backup",
		path, is.Sweeps, all.Sweeps, is.Readings, all.Readings, is.Carriers, all.Carriers, is.Findings, all.Findings, is.Spectra, all.Spectra, elsewhere)
}

// saveWhole copies the database, as the open connection sees it, to path, and gives an error
// where the copy is not sound or lacks sweeps.
func (s *Store) saveWhole(ctx context.Context, path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil { // the folder may have been moved too
		return err
	}
	if _, err := s.writer.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		return explain("save "+path, err)
	}
	if err := lookIntoAll(ctx, path, s.guard.stored); err != nil {
		return err
	}
	return files.Keep(path, s.guard.seen.Main.Mode().Perm())
}

// lookAnew looks into copies of the files, which it makes at path and removes again: in this process
// every connection has the index of the log that is gone. Closing the files drops SQLite's locks on
// them, which guard nothing any more.
func (s *Store) lookAnew(ctx context.Context, path string) error {
	defer func() {
		for _, file := range files.Names(path) {
			os.Remove(file) // where it fails the next step does too
		}
	}()
	for _, suffix := range []string{"", "-wal"} {
		if err := files.Copy(s.path+suffix, path+suffix); err != nil {
			return err
		}
	}
	return lookIntoAll(ctx, path, s.guard.stored)
}

// setLogAside renames a write-ahead log that is left beside the database or is the database's:
// the next who opens a file at this path would take it for that file's.
func (s *Store) setLogAside(to string) {
	is, err := files.At(s.path)
	if is.Log == nil {
		is.Log, _ = os.Stat(s.path + "-wal") // nil: there is none
	}
	seen := s.guard.seen
	ours := is.Log != nil && seen.Log != nil && os.SameFile(is.Log, seen.Log)
	ours = ours || err == nil && is.Log != nil && os.SameFile(is.Main, seen.Main)
	if ours && is.Log.Size() > 0 {
		os.Rename(s.path+"-wal", to) // where it fails all is as it was
	}
}

// countSaved counts how much of what this process stored is in the file at path.
func (s *Store) countSaved(ctx context.Context, path string) (is tally.Counts) {
	err := aloneBy(ctx, handle.ArchiveDSN(path), func(c change) (err error) { // leaves no log beside it
		is, err = tally.Of(c.ctx, c.tx, s.guard.stored.own)
		return err
	})
	if err != nil {
		return tally.Counts{}
	}
	return is
}

// salvageTime is how long rows are sought in a damaged database: enough to copy those of many
// nights, while each that cannot be read is sought by halves. Chosen.
const salvageTime = 5 * time.Minute

// salvage copies the rows that can still be read into a new database at path: as the open
// connection reads them, and then what the file by itself has more. A row comes with what it
// belongs to or not at all.
func (s *Store) salvage(ctx context.Context, path string) error {
	empty, err := Open(ctx, path)
	if err != nil {
		return err
	}
	if err := empty.Close(); err != nil {
		return err
	}
	conn, err := s.writer.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close() // back into the pool: gives no error
	last, _ := s.guard.stored.own.FromLast(0)
	last *= 2 // a sweep has at least one reading; those of imports are numbered anew
	limited, cancel := context.WithTimeout(ctx, salvageTime)
	defer cancel()
	err = salvage.Copy(limited, conn, path, handle.ArchiveDSN(s.path), last)
	return explain("save "+path, first(err, tidySaved(ctx, path), files.Keep(path, s.guard.seen.Main.Mode().Perm())))
}

// tidySaved takes out spectra that were read as something else, and the checksums of sweeps
// that were saved in part.
func tidySaved(ctx context.Context, path string) error {
	saved, err := Open(ctx, path)
	if err != nil {
		return err
	}
	var bad []int64
	err = saved.read(ctx, "read spectra", func(snap snapshot) error {
		return snap.each(ctx, func(row []driver.Value) error {
			blob, _ := row[1].([]byte)
			if _, err := density.Decode(blob); err != nil {
				bad = append(bad, integer(row[0]))
			}
			return nil
		}, `SELECT reading, density FROM spectra`)
	})
	for _, reading := range bad {
		if err == nil {
			_, err = saved.writer.ExecContext(ctx, "DELETE FROM spectra WHERE reading = ?", reading)
		}
	}
	return first(err, saved.unsealParts(ctx), saved.Close())
}

// unsealParts takes the checksums off sweeps that were saved in part: what is missing was told
// when it was saved, and what is there is as good as it was.
func (s *Store) unsealParts(ctx context.Context) error {
	return s.write(ctx, "save sweeps", func(c change) error {
		_, bad, err := checksum.Judge(ctx, c.each, `SELECT id FROM sweeps`)
		for _, sweep := range bad {
			_, runErr := c.run(`UPDATE sweeps SET checksum = NULL WHERE id = ?`, sweep)
			err = first(err, runErr)
		}
		return err
	})
}
