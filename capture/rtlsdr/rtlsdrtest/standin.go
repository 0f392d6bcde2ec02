// Package rtlsdrtest builds the stand-in for librtlsdr and tells it what to do,
// for tests where no dongle is. See ../standin/README.md.
package rtlsdrtest

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
)

// ErrNoCompiler is what Build gives where no C compiler is to be had.
var ErrNoCompiler = errors.New("no C compiler: the stand-in for librtlsdr cannot be built; ./check installs one")

// ControlEnv names the control file to the stand-in.
const ControlEnv = "NIGHTFLOOR_STANDIN"

// Build compiles the stand-in into a folder and gives the environment with which
// a program finds it: the loader's path, the control file (control.txt in the
// same folder), and where it keeps its noise, which a process after another need
// not draw again.
func Build(folder string) (env []string, err error) {
	compiler, err := exec.LookPath("cc")
	if err != nil {
		return nil, ErrNoCompiler
	}
	_, here, _, ok := runtime.Caller(0)
	if !ok {
		return nil, errors.New("the sources of the stand-in are not known")
	}
	sources, err := filepath.Glob(filepath.Join(filepath.Dir(here), "..", "standin", "*.c"))
	if err != nil || len(sources) == 0 {
		return nil, fmt.Errorf("no sources of the stand-in beside %s (%v)", here, err)
	}
	args := append([]string{"-O2", "-shared", "-fPIC", "-o", filepath.Join(folder, libraryName())}, sources...)
	said, err := exec.Command(compiler, append(args, "-lm", "-lpthread")...).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("build the stand-in: %w\n%s", err, said)
	}
	return []string{"LD_LIBRARY_PATH=" + folder, "DYLD_LIBRARY_PATH=" + folder, "NIGHTFLOOR_STANDIN_TABLES=" + folder,
		ControlEnv + "=" + filepath.Join(folder, "control.txt")}, nil
}

// libraryName is what the loader knows the stand-in by.
func libraryName() string {
	if runtime.GOOS == "darwin" {
		return "librtlsdr.dylib"
	}
	return "librtlsdr.so.0"
}

// Control writes the stand-in's control file, whole at once. Several may write at a
// time; the last one's stays.
func Control(path string, lines ...string) error {
	fresh, err := os.CreateTemp(filepath.Dir(path), "control-*.new")
	if err != nil {
		return err
	}
	if _, err := fresh.WriteString(strings.Join(lines, "\n") + "\n"); err != nil {
		fresh.Close()
		return err
	}
	if err := fresh.Close(); err != nil {
		return err
	}
	return os.Rename(fresh.Name(), path)
}
