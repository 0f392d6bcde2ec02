package survey

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// fileTroubles are what systems have against files, in plain words. Where a system has none of these
// numbers, they stand for what Go makes of its own.
var fileTroubles = []struct {
	is    error
	words string
}{
	{syscall.EISDIR, "it is a folder"},
	{syscall.ENOTDIR, "a file stands where the path has a folder"},
	{syscall.EROFS, "the disk can only be read"},
	{syscall.ENOSPC, "no room is left on the disk"},
	{fs.ErrNotExist, "no such file or folder"},
	{fs.ErrPermission, "permission denied"},
}

// FileTrouble gives what the system has against a file or a program, in plain words and without the
// path, which the caller names, and the call that met it. errors.Is and As find what they did before.
func FileTrouble(err error) error {
	for _, t := range fileTroubles {
		if errors.Is(err, t.is) {
			return Told(t.words, err)
		}
	}
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return Told(path.Err.Error(), err)
	case errors.As(err, &link):
		return Told(link.Err.Error(), err)
	}
	return err
}

// Told gives an error that reads as the words say, and is each of the others to errors.Is and As.
func Told(words string, is ...error) error { return told{words, is} }

type told struct {
	words string
	is    []error
}

func (t told) Error() string   { return t.words }
func (t told) Unwrap() []error { return t.is }
