package files

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"

	"nightfloor/survey"
)

// Make makes a new database. fill is given an empty file beside, which nobody else may read; once it is filled it gets the permissions of the
// file at like, stands on the disk and gets its name. Where anything fails there is no new file.
// fs.ErrExist: one of its files is there already, and stays as it is.
func Make(path, like string, fill func(beside string) error) error {
	fails := func(err error) error {
		return fmt.Errorf("write %s: %w; name a file in a folder that you may write", path, survey.FileTrouble(err))
	}
	info, err := os.Stat(like)
	if err != nil {
		return fails(err)
	}
	if err := vacant(Names(path)); err != nil {
		return err
	}
	beside := filepath.Join(filepath.Dir(path), fmt.Sprintf(".nightfloor-%016x.part", rand.Uint64()))
	file, err := os.OpenFile(beside, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fails(err)
	}
	defer func() {
		for _, name := range Names(beside) {
			os.Remove(name) // what is there of one that failed
		}
	}()
	if err := file.Close(); err != nil {
		return fails(err)
	}
	if err := fill(beside); err != nil {
		return err
	}
	if err := Keep(beside, info.Mode().Perm()); err != nil {
		return fails(err)
	}
	if err := vacant(Names(path)); err != nil {
		return err
	}
	if err := os.Rename(beside, path); err != nil {
		return fails(err)
	}
	return nil
}

// vacant tells why a database cannot be made: something is in its place, or where its log would be,
// left by one that is gone.
func vacant(all []string) error {
	for _, file := range all {
		if _, err := os.Lstat(file); !errors.Is(err, fs.ErrNotExist) {
			return survey.Told(file+" is there already, and is left as it is; name another file", fs.ErrExist)
		}
	}
	return nil
}
