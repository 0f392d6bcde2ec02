// Package files asks the system for the files of a database, and copies and keeps them.
package files

import (
	"cmp"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// A Set is those of a database at one moment; nil: there is none. The log of an open one has
// an index in shared memory, the file "-shm", by which all who have it open know of each other.
type Set struct{ Main, Log, Shared os.FileInfo }

// At asks for the files of the database at path, itself first. On Windows a comparison of a
// file with itself asks for its number at once, and not when it is first compared with another.
func At(path string) (f Set, err error) {
	if f.Main, err = os.Stat(path); err != nil {
		return f, err
	}
	os.SameFile(f.Main, f.Main)
	for suffix, into := range map[string]*os.FileInfo{"-wal": &f.Log, "-shm": &f.Shared} {
		info, statErr := os.Stat(path + suffix)
		if errors.Is(statErr, fs.ErrNotExist) {
			continue
		}
		os.SameFile(info, info)
		*into, err = info, cmp.Or(err, statErr)
	}
	return f, err
}

// Another tells what a file is now in place of what it was, "" where it is the same, or was not
// there.
func Another(was, is os.FileInfo) string {
	switch {
	case was == nil || is != nil && os.SameFile(was, is):
		return ""
	case is == nil:
		return "removed"
	}
	return "replaced by another file"
}

// Whereabouts gives the path that an open file has now, "" where it has none any more, or the
// system does not tell (proc(5)).
func Whereabouts(file os.FileInfo) string {
	links, _ := filepath.Glob("/proc/self/fd/*") // its only error is about the pattern
	for _, link := range links {
		if is, err := os.Stat(link); err != nil || !os.SameFile(is, file) {
			continue
		}
		path, err := os.Readlink(link)
		if is, statErr := os.Stat(path); cmp.Or(err, statErr) == nil && os.SameFile(is, file) {
			return path
		}
	}
	return ""
}

// Copy copies a file to one that must not exist.
func Copy(from, to string) error {
	content, err := os.Open(from)
	if err != nil {
		return err
	}
	defer content.Close()
	file, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(file, content)
	return cmp.Or(err, file.Close())
}

// Keep gives a new database these permissions and puts it onto the disk. No connection may have
// it open.
func Keep(path string, mode os.FileMode) error {
	if err := os.Chmod(path, mode); err != nil {
		return err
	}
	for _, name := range []string{path, filepath.Dir(path)} {
		file, err := os.Open(name)
		if err != nil {
			return err
		}
		err = file.Sync()
		if closeErr := file.Close(); name == path { // not every system syncs folders
			if err := cmp.Or(err, closeErr); err != nil {
				return err
			}
		}
	}
	return nil
}
