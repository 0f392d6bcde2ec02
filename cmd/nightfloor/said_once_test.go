package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func putFile(t *testing.T, folder, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(folder, name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// A line that names a file names it once.
func TestFilesAreNamedOnce(t *testing.T) {
	folder := t.TempDir()
	empty, nan := putFile(t, folder, "empty.cu8", nil), putFile(t, folder, "9650kHz 48ksps 20261103T210410Z.cf32", append(notANumber(), make([]byte, 100_000)...))
	for _, args := range [][]string{{"measure", empty, nan}, {"import", empty, nan, "--antenna", "loop", "--db", filepath.Join(folder, "x.db")}} {
		status, _, errOut := command(t, append(args, "--quiet")...)
		lines := strings.Split(strings.TrimSpace(errOut), "\n")
		if status != 1 || len(lines) != 2 {
			t.Errorf("%q: status %d, %q", args, status, errOut)
		}
		for _, line := range lines {
			if strings.Count(line, folder) != 1 {
				t.Errorf("%q names a file twice", line)
			}
		}
	}
}
