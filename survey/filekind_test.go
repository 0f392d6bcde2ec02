package survey

import (
	"io/fs"
	"strings"
	"testing"
)

func TestFileKind(t *testing.T) {
	for mode, want := range map[fs.FileMode]string{
		0o644: "a file", fs.ModeDir | 0o755: "a folder", fs.ModeSymlink: "a link", fs.ModeNamedPipe: "a pipe",
		fs.ModeSocket: "a socket", fs.ModeDevice: "a device", fs.ModeDevice | fs.ModeCharDevice: "a device", fs.ModeIrregular: "something else",
	} {
		if got := FileKind(mode); !strings.HasPrefix(got, want) {
			t.Errorf("%v: %q, want %q", mode, got, want)
		}
	}
}
