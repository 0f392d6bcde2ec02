// Package output writes the files that a command line asks for, and destroys none.
//
// A File is written beside its place, synced, and only then renamed into it: whoever looks finds
// the old file or the whole new one, whatever fails in between. Nothing is put where a folder, a
// device, a pipe or a link is, or in place of the database and the recordings that it is made
// from; another file is replaced if it is of the same kind, marked so in its head, or by force.
package output

import (
	"bufio"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"syscall"

	"nightfloor/survey"
)

// headLength is how many bytes of a file are searched for its mark. The page's is
// in the first 100 (TestMarkStandsInFront in reports/page).
const headLength = 4096

// Dash is what others take for standard output. Here it is no name: a file of it would surprise.
const Dash = "-"

var errDash = errors.New(Dash + " is no file name here; name a file")

// A File is a file to be written.
type File struct {
	What  string // what it is, for messages: "page", "plan"
	Path  string
	Mark  string // stands in the head of all of the kind; "": none is told from another
	Force bool   // replaces another file, too

	// Database are the files of the database that it is made from, Inputs the recordings: none
	// is replaced, whatever Force says. Who may not read the database may not read the file.
	Database, Inputs []string
}

// Check tells, before anything is made, why the file would not be written.
func (f File) Check() error {
	if err := f.check(); err != nil {
		return fmt.Errorf("write %s %s: %w", f.What, f.Path, err)
	}
	return nil
}

func (f File) check() error {
	if f.Path == Dash {
		return errDash
	}
	if f.isOneOf(f.Database) {
		return errors.New("it belongs to the database; name another file")
	}
	if f.isOneOf(f.Inputs) {
		return errors.New("it is a recording that was to be read; name another file")
	}
	info, err := os.Lstat(f.Path)
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(filepath.Dir(f.Path)); err != nil {
			return fmt.Errorf("%s: %w; name a file in a folder that is there", filepath.Dir(f.Path), survey.FileTrouble(err))
		}
		return nil
	}
	if err != nil {
		return fmt.Errorf("%w; name a file in a folder that may be read", survey.FileTrouble(err))
	}
	switch kind := info.Mode().Type(); {
	case kind == fs.ModeDir:
		return errors.New("a folder is there; name a file in it")
	case kind == fs.ModeSymlink:
		return errors.New("a link is there, which may lead anywhere; name the file itself")
	case kind != 0:
		return fmt.Errorf("%s is there; name a file", survey.FileKind(kind))
	case f.Force:
		return nil
	}
	own, err := f.marked()
	switch {
	case err != nil:
		return fmt.Errorf("%w; name another file, or replace it with --force", survey.FileTrouble(err))
	case !own && f.Mark == "":
		return errors.New("it is there already, and is left as it is; name another file, or replace it with --force")
	case !own:
		return fmt.Errorf("it is there, is no %s made by nightfloor, and is left as it is; name another file, or replace it with --force", f.What)
	}
	return nil
}

// isOneOf tells whether the file is, or would be, one of others, under whatever name.
func (f File) isOneOf(others []string) bool {
	info, err := os.Stat(f.Path)
	return slices.ContainsFunc(others, func(other string) bool {
		if err == nil {
			if there, err := os.Stat(other); err == nil && os.SameFile(info, there) {
				return true
			}
		}
		return place(f.Path) == place(other)
	})
}

// place gives the one name of a file that need not be there, links among its folders followed.
func place(path string) string {
	folder, name := filepath.Split(path)
	if real, err := filepath.EvalSymlinks(cmp.Or(folder, ".")); err == nil {
		folder = real
	}
	if full, err := filepath.Abs(folder); err == nil {
		folder = full
	}
	return filepath.Join(folder, name)
}

// marked tells whether a file of the same kind is there.
func (f File) marked() (bool, error) {
	if f.Mark == "" {
		return false, nil
	}
	file, err := os.Open(f.Path)
	if err != nil {
		return false, err
	}
	defer file.Close()
	head, err := io.ReadAll(io.LimitReader(file, headLength))
	return bytes.Contains(head, []byte(f.Mark)), err
}

// Write writes what fill writes, whole or not at all: on an error all is as it was.
func (f File) Write(fill func(io.Writer) error) error {
	if err := f.Check(); err != nil {
		return err
	}
	err := f.write(fill)
	var disk *fs.PathError
	switch trouble := survey.FileTrouble(err); {
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		err = fmt.Errorf("%w; name a file in a folder that you may write", trouble)
	case errors.As(err, &disk): // its path is that of the file beside
		err = fmt.Errorf("%w; make room, or name a file in another folder", trouble)
	}
	if err != nil {
		return fmt.Errorf("write %s %s: %w", f.What, f.Path, err)
	}
	return nil
}

func (f File) write(fill func(io.Writer) error) error {
	beside, err := f.open()
	if err != nil {
		return err
	}
	buffered := bufio.NewWriter(beside)
	if err = fill(buffered); err == nil {
		err = buffered.Flush()
	}
	if err == nil {
		err = beside.Sync()
	}
	if closed := beside.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = f.check() // another file may be there by now
	}
	if err == nil {
		err = os.Rename(beside.Name(), f.Path)
	}
	if err != nil {
		os.Remove(beside.Name())
		return err
	}
	syncFolder(filepath.Dir(f.Path))
	return nil
}

// open makes the file beside, which has the permissions of the one to be: the system takes the umask off.
func (f File) open() (*os.File, error) {
	for tries := 0; ; tries++ {
		name := filepath.Join(filepath.Dir(f.Path), fmt.Sprintf(".nightfloor-%016x.part", rand.Uint64()))
		file, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, f.mode())
		if !errors.Is(err, fs.ErrExist) || tries == 100 {
			return file, err
		}
	}
}

// mode lets none read or write the file who may not do so with the database, or the file that it replaces.
func (f File) mode() fs.FileMode {
	mode := fs.FileMode(0o666)
	for _, path := range append(slices.Clone(f.Database), f.Path) {
		info, err := os.Stat(path)
		if err != nil {
			continue // none that keeps anything from anyone
		}
		if info.Mode()&0o040 == 0 {
			mode &^= 0o060
		}
		if info.Mode()&0o004 == 0 {
			mode &^= 0o006
		}
	}
	return mode
}

// syncFolder puts a new name on the disk, where the system does that for folders: elsewhere
// a cut finds the old file or the new one.
func syncFolder(path string) {
	if folder, err := os.Open(path); err == nil {
		_ = folder.Sync()
		folder.Close()
	}
}
