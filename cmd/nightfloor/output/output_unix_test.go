//go:build unix

package output

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

const mark = "<!-- ours -->"

// words writes a text, or fails half-way.
func words(text string, fault error) func(io.Writer) error {
	return func(w io.Writer) error {
		if fault == nil {
			_, err := io.WriteString(w, text)
			return err
		}
		_, err := io.WriteString(w, text[:len(text)/2])
		return errors.Join(err, fault)
	}
}

func mustWrite(t *testing.T, path, text string, mode fs.FileMode) {
	t.Helper()
	if err := errors.Join(os.WriteFile(path, []byte(text), mode), os.Chmod(path, mode)); err != nil {
		t.Fatal(err)
	}
}

// names lists a folder.
func names(t *testing.T, folder string) string {
	t.Helper()
	found, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, f := range found {
		all = append(all, f.Name())
	}
	return strings.Join(all, " ")
}

// What is there stays unless it is of the same kind, or by force; some things stay always.
func TestWriteReplaces(t *testing.T) {
	for _, test := range []struct {
		name     string
		make     func(path string) error
		kept     string // why it stays; "": it is replaced
		forced   string // why it stays in spite of force
		unmarked string // why it stays where the kind has no mark
	}{
		{"nothing", func(string) error { return nil }, "", "", ""},
		{"ours", func(path string) error { return os.WriteFile(path, []byte("<html>\n"+mark), 0o644) }, "", "", "left as it is"},
		{"mark behind the head", func(path string) error {
			return os.WriteFile(path, []byte(strings.Repeat(" ", headLength-len(mark)+1)+mark), 0o644)
		}, "is no page", "", "left as it is"},
		{"another's", func(path string) error { return os.WriteFile(path, []byte("mine"), 0o644) }, "is no page", "", "left as it is"},
		{"empty", func(path string) error { return os.WriteFile(path, nil, 0o644) }, "is no page", "", "left as it is"},
		{"folder", func(path string) error { return os.Mkdir(path, 0o755) }, "a folder", "a folder", "a folder"},
		{"link", func(path string) error { return os.Symlink(filepath.Dir(path), path) }, "a link", "a link", "a link"},
		{"link to nothing", func(path string) error { return os.Symlink("nothing", path) }, "a link", "a link", "a link"},
		{"pipe", func(path string) error { return syscall.Mkfifo(path, 0o644) }, "a pipe", "a pipe", "a pipe"},
		{"socket", func(path string) error {
			l, err := net.Listen("unix", path)
			if err == nil {
				t.Cleanup(func() { l.Close() })
			}
			return err
		}, "a socket", "a socket", "a socket"},
	} {
		for _, f := range []struct {
			File
			why string
		}{
			{File{Mark: mark}, test.kept}, {File{Mark: mark, Force: true}, test.forced}, {File{}, test.unmarked},
		} {
			folder := t.TempDir()
			f.What, f.Path = "page", filepath.Join(folder, "p.html")
			if err := test.make(f.Path); err != nil {
				t.Fatal(err)
			}
			before, _ := os.Lstat(f.Path)
			checked, err := f.Check(), f.Write(words("new", nil))
			after, lost := os.Lstat(f.Path)
			switch {
			case lost != nil || names(t, folder) != "p.html":
				t.Errorf("%s, %+v: the folder holds %s", test.name, f, names(t, folder))
			case f.why == "":
				if text, _ := os.ReadFile(f.Path); err != nil || checked != nil || string(text) != "new" {
					t.Errorf("%s, %+v: %v, %v, %q", test.name, f, checked, err, text)
				}
			case err == nil || checked == nil || !strings.Contains(err.Error(), f.why) || !os.SameFile(before, after):
				t.Errorf("%s, %+v: %v, %v; want %q", test.name, f, checked, err, f.why)
			}
		}
	}
	if err := (File{What: "page", Path: os.DevNull, Force: true}).Write(words("new", nil)); err == nil || !strings.Contains(err.Error(), "a device") {
		t.Errorf("a device: %v", err)
	}
}

// Neither the database nor a recording is replaced, under whatever name, there or not.
func TestWriteKeepsWhatItIsMadeFrom(t *testing.T) {
	folder := t.TempDir()
	at := func(name string) string { return filepath.Join(folder, name) }
	mustWrite(t, at("night.db"), mark, 0o644)
	mustWrite(t, at("night.cu8"), mark, 0o644)
	if err := errors.Join(os.Link(at("night.db"), at("hard.db")), os.Mkdir(at("real"), 0o755), os.Symlink("real", at("linked"))); err != nil {
		t.Fatal(err)
	}
	before := names(t, folder)
	for _, path := range []string{"night.db", "night.db-wal", "hard.db", "linked/../night.db", "night.cu8", "linked/far.db-wal"} {
		f := File{What: "page", Path: folder + "/" + path, Mark: mark, Force: true,
			Database: []string{at("night.db"), at("night.db-wal"), at("real/far.db-wal")}, Inputs: []string{at("night.cu8")}}
		if err := f.Write(words("new", nil)); err == nil {
			t.Errorf("%s was written", path)
		}
	}
	if names(t, folder) != before || names(t, at("real")) != "" {
		t.Errorf("the folder holds %s", names(t, folder))
	}
}

// Whatever fails, the old file is there and nothing else.
func TestWriteFails(t *testing.T) {
	for _, there := range []string{"", mark + "old"} {
		for what, fault := range map[string]error{
			"disk full": &fs.PathError{Op: "write", Path: ".part", Err: syscall.ENOSPC}, "our own mistake": errors.New("no template")} {
			folder := t.TempDir()
			f := File{What: "page", Path: filepath.Join(folder, "p.html"), Mark: mark}
			want := ""
			if there != "" {
				mustWrite(t, f.Path, there, 0o644)
				want = "p.html"
			}
			err := f.Write(words(strings.Repeat("new ", 100_000), fault))
			if text, _ := os.ReadFile(f.Path); err == nil || strings.Contains(err.Error(), ".part") || names(t, folder) != want || string(text) != there {
				t.Errorf("%s over %q: %v, and %s", what, there, err, names(t, folder))
			}
		}
	}
}

// A file that comes while the new one is made stays.
func TestWriteLooksAgain(t *testing.T) {
	folder := t.TempDir()
	f := File{What: "page", Path: filepath.Join(folder, "p.html"), Mark: mark}
	err := f.Write(func(w io.Writer) error { return os.WriteFile(f.Path, []byte("mine"), 0o644) })
	if text, _ := os.ReadFile(f.Path); err == nil || string(text) != "mine" || names(t, folder) != "p.html" {
		t.Errorf("%v, %q, %s", err, text, names(t, folder))
	}
}

// While the new file is made, the old one is there as it was.
func TestWriteIsWholeAtOnce(t *testing.T) {
	f := File{What: "page", Path: filepath.Join(t.TempDir(), "p.html"), Mark: mark}
	mustWrite(t, f.Path, mark, 0o644)
	err := f.Write(func(w io.Writer) error {
		for range 100 {
			fmt.Fprintf(w, "%10000d", 1)
			if text, err := os.ReadFile(f.Path); err != nil || string(text) != mark {
				return fmt.Errorf("half-way: %q, %w", text, err)
			}
		}
		return nil
	})
	if info, there := os.Stat(f.Path); err != nil || there != nil || info.Size() != 1_000_000 {
		t.Errorf("%v, %v", err, info)
	}
}

// Permissions are 0666 less the umask, and less what the database or the old file keep from others.
func TestPermissions(t *testing.T) {
	folder := t.TempDir()
	for _, test := range []struct {
		umask               int
		database, old, want fs.FileMode
	}{
		{0o022, 0, 0, 0o644},
		{0o002, 0, 0, 0o664},
		{0o077, 0, 0, 0o600},
		{0o022, 0o644, 0, 0o644},
		{0o022, 0o600, 0, 0o600},
		{0o000, 0o600, 0, 0o600},
		{0o022, 0o640, 0, 0o640},
		{0o022, 0o644, 0o600, 0o600},
		{0o022, 0o600, 0o644, 0o600},
	} {
		f := File{What: "page", Path: filepath.Join(folder, "p.html"), Mark: mark}
		if test.database != 0 {
			f.Database = []string{filepath.Join(folder, "night.db")}
			mustWrite(t, f.Database[0], "", test.database)
		}
		os.Remove(f.Path)
		if test.old != 0 {
			mustWrite(t, f.Path, mark, test.old)
		}
		before := syscall.Umask(test.umask)
		err := f.Write(words("new", nil))
		syscall.Umask(before)
		if info, lost := os.Stat(f.Path); err != nil || lost != nil || info.Mode() != test.want {
			t.Errorf("%+v: %v, %v", test, info.Mode(), err)
		}
	}
}

// What to do about a disk depends on what is wrong with it: room helps a full one only.
func TestAdviceOnDisks(t *testing.T) {
	for trouble, want := range map[error]string{
		syscall.EROFS:  "the disk can only be read; name a file in a folder that you may write",
		syscall.EACCES: "permission denied; name a file in a folder that you may write",
		syscall.ENOSPC: "no room is left on the disk; make room, or name a file in another folder",
	} {
		path := filepath.Join(t.TempDir(), "p.html")
		err := File{What: "page", Path: path}.Write(words("new", &fs.PathError{Op: "write", Path: path + ".part", Err: trouble}))
		if err == nil || err.Error() != "write page "+path+": "+want {
			t.Errorf("%v: %v, want %q", trouble, err, want)
		}
	}
}
