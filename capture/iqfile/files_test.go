package iqfile

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestFiles(t *testing.T) {
	folder := t.TempDir()
	for _, name := range []string{"night/b.cu8", "night/a.sigmf-meta", "night/a.sigmf-data", "night/lone.sigmf-data", "night/notes.txt", "night/noending",
		"night/._b.cu8", "night/deeper/c.cu8", "empty/notes.txt", "a[1].cu8"} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(folder, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		put(t, folder, name, []byte{128})
	}
	for _, test := range []struct {
		given, want string
		left        int
	}{
		{"night", "night/a.sigmf-meta night/b.cu8 night/lone.sigmf-data", 3},
		{"night/*.cu8", "night/b.cu8", 1},
		{"night/*", "night/a.sigmf-meta night/b.cu8 night/deeper/c.cu8 night/lone.sigmf-data", 3},
		{"n*", "night/a.sigmf-meta night/b.cu8 night/lone.sigmf-data", 3},
		{"night/a.sigmf-data", "night/a.sigmf-data", 0},
		{"night/a.sigmf-data night/a.sigmf-meta", "night/a.sigmf-meta", 0},
		{"a[1].cu8", "a[1].cu8", 0},                                       // the file itself, not a1.cu8
		{"night/notes.txt night/b.cu8", "night/notes.txt night/b.cu8", 0}, // what is named is not left out
		{"empty", "empty", 0}, {"missing", "missing", 0}, {"z*", "z*", 0}, {"night/[", "night/[", 0},
	} {
		var given []string
		for name := range strings.FieldsSeq(test.given) {
			given = append(given, filepath.Join(folder, name))
		}
		files, left := Files(given)
		for i := range files {
			files[i] = strings.TrimPrefix(filepath.ToSlash(files[i]), filepath.ToSlash(folder)+"/")
		}
		if want := strings.Fields(test.want); !slices.Equal(files, want) || left != test.left {
			t.Errorf("%s: %q and %d left, want %q and %d", test.given, files, left, want, test.left)
		}
	}
	if _, err := Open(filepath.Join(folder, "empty"), Options{}); !errors.Is(err, ErrFormat) || !strings.Contains(err.Error(), "no recording lies") {
		t.Errorf("a folder without recordings: %v", err)
	}
}
