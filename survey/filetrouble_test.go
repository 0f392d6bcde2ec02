package survey

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// What the system says of files is told in plain words, without its calls and without the path.
func TestFileTrouble(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "file")
	if err := os.WriteFile(file, []byte("text"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, missing := os.Stat(filepath.Join(folder, "none"))
	_, isFolder := os.ReadFile(folder)
	_, below := os.Stat(filepath.Join(file, "below"))
	other := errors.New("another one")
	for want, err := range map[string]error{
		"no such file or folder":                    missing,
		"it is a folder":                            isFolder,
		"a file stands where the path has a folder": below,
		"permission denied":                         exec.Command(file).Run(),
		"another one":                               &fs.PathError{Op: "stat", Path: "x", Err: other},
		"no call: another one":                      fmt.Errorf("no call: %w", other),
	} {
		if got := FileTrouble(err); got.Error() != want || !errors.Is(got, err) {
			t.Errorf("%v: %q, want %q", err, got, want)
		}
	}
	if !errors.Is(FileTrouble(missing), fs.ErrNotExist) {
		t.Error("what it is, is lost")
	}
}
