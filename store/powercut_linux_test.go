package store

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var cuts = flag.Int("cuts", 50, "power cuts that TestPowerCuts makes")

// TestPowerCuts records what a process that stores asks of the disk, and rebuilds the files as
// a power cut at any moment may leave them: what was not synced is there, or not, or torn.
// Every such database opens, is whole, and has all that was called stored before the cut. With
// a disk that does not sync, the same must lose something, else the test sees nothing.
func TestPowerCuts(t *testing.T) {
	folder := t.TempDir()
	calls := traceStoring(t, folder, 60)
	count := *cuts
	if testing.Short() {
		count = min(count, 10)
	}
	rng := seeded()
	if *fresh {
		rng = rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64()))
	}
	opened, promised, missing := cutPower(t, calls, folder, rng, count, true)
	t.Logf("%d calls: %d cuts, %d databases opened, %d promises before the cut, %d missing after it", len(calls), count, opened, promised, missing)
	if opened != count || missing != 0 || promised == 0 {
		t.Errorf("%d of %d opened, %d of %d promises missing", opened, count, missing, promised)
	}
	opened, promised, missing = cutPower(t, calls, folder, rng, 10, false)
	t.Logf("with a disk that does not sync: 10 cuts, %d databases opened, %d of %d promises missing", opened, missing, promised)
	if missing == 0 {
		t.Error("a disk that does not sync lost nothing: the test sees nothing")
	}
}

// A call is one that changes files or puts them onto the disk, or a promise.
type call struct {
	what string // "create", "write", "truncate", "unlink", "sync", "promise"
	path string
	at   int64 // offset, or length
	data []byte
}

// traceStoring lets a child of the test (storeForEver) make promises under strace.
func traceStoring(t *testing.T, folder string, promises int) []call {
	t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("needs strace")
	}
	trace := filepath.Join(t.TempDir(), "trace")
	cmd := exec.Command(strace, "-f", "--seccomp-bpf", "-y", "-xx", "-s", "100000", "-o", trace, "-e", "trace=?open,openat,pwrite64,write,ftruncate,fsync,fdatasync,?unlink,unlinkat", os.Args[0])
	cmd.Env = append(os.Environ(), crashEnv+"="+filepath.Join(folder, "night.db"), "GOMAXPROCS=1")
	out, err := cmd.StdoutPipe()
	must(t, err)
	must(t, cmd.Start())
	lines := bufio.NewScanner(out)
	for range promises {
		if !lines.Scan() {
			cmd.Wait()
			t.Skip("strace cannot trace here")
		}
	}
	out.Close() // ends the child at its next promise
	cmd.Wait()  // gives "broken pipe"
	file, err := os.Open(trace)
	must(t, err)
	defer file.Close()
	calls, err := readTrace(file, folder)
	must(t, err)
	return calls
}

var (
	callLine = regexp.MustCompile(`^(\d+) +(\w+)\((.*?)(\) += (-?\d+).*| <unfinished \.\.\.>)$`)
	resumed  = regexp.MustCompile(`^(\d+) +<\.\.\. (\w+) resumed>.* = (-?\d+)`)
	deleted  = regexp.MustCompile(`^\d+<[^>]*>\(deleted\)`)
	ofFile   = regexp.MustCompile(`^(\d+)<([^>]*)>(?:, "([^"]*)"(\.\.\.)?)?((?:, \d+)*)$`)
)

// readTrace reads what strace wrote, as far as it is about files of a folder and standard
// output. What is asked for counts from the moment when it is asked, a sync from its end.
func readTrace(r io.Reader, folder string) (calls []call, err error) {
	lines, begun := bufio.NewReaderSize(r, 1<<20), map[string]call{}
	for {
		line, err := lines.ReadString('\n')
		if errors.Is(err, io.EOF) {
			return calls, nil
		}
		if err != nil {
			return nil, err
		}
		line = strings.TrimSuffix(line, "\n")
		if end := resumed.FindStringSubmatch(line); end != nil {
			if c, ok := begun[end[1]]; ok && c.what == "sync" {
				calls = append(calls, c)
			}
			delete(begun, end[1])
			continue
		}
		m := callLine.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		delete(begun, m[1])
		c, ok, err := parseCall(m[2], m[3])
		if err != nil {
			return nil, fmt.Errorf("%.200s: %w", line, err)
		}
		if failed := strings.HasPrefix(m[5], "-"); !ok || failed || c.what != "promise" && c.path != folder && filepath.Dir(c.path) != folder {
			continue
		}
		if c.what == "sync" && m[5] == "" {
			begun[m[1]] = c
		} else {
			calls = append(calls, c)
		}
	}
}

// unhex reads a string of strace: every byte is written as \x and two digits.
func unhex(s string) []byte {
	b, _ := hex.DecodeString(strings.ReplaceAll(s, `\x`, "")) // what is no such string is no path
	return b
}

// parseCall reads one call with its arguments; ok is false for what changes nothing.
func parseCall(name, args string) (c call, ok bool, err error) {
	switch name {
	case "open", "openat":
		parts := strings.SplitN(args, `"`, 3)
		return call{what: "create", path: string(unhex(parts[1]))}, strings.Contains(parts[2], "O_CREAT"), nil
	case "unlink", "unlinkat":
		return call{what: "unlink", path: string(unhex(strings.SplitN(args, `"`, 3)[1]))}, true, nil
	}
	if deleted.MatchString(args) { // SQLite's temporary files: they have no name
		return c, false, nil
	}
	m := ofFile.FindStringSubmatch(args)
	if m == nil || m[4] != "" {
		return c, false, fmt.Errorf("arguments that this test does not know")
	}
	c.path, c.data = string(unhex(m[2])), unhex(m[3])
	numbers := strings.Split(m[5], ", ")
	c.at, _ = strconv.ParseInt(numbers[len(numbers)-1], 10, 64) // 0 where there is none
	switch name {
	case "fsync", "fdatasync":
		c.what = "sync"
	case "ftruncate":
		c.what = "truncate"
	case "pwrite64":
		c.what = "write"
	case "write":
		c.what = "promise"
		return c, m[1] == "1", nil
	}
	return c, true, nil
}

// A diskFile is what a file holds for certain, and what was asked for since.
type diskFile struct {
	synced []byte
	since  []call
}

// A disk is a folder on it: names that are there for certain, and what was asked for since.
type disk struct {
	names, synced map[string]*diskFile
	since         []call
	files         []*diskFile // that names asked for mean, in the order of since
}

// do carries a call out.
func (d *disk) do(c call, folder string) {
	file := d.names[c.path]
	switch {
	case c.what == "create" && file == nil:
		file = &diskFile{}
		d.names[c.path], d.since, d.files = file, append(d.since, c), append(d.files, file)
	case c.what == "unlink":
		delete(d.names, c.path)
		d.since, d.files = append(d.since, c), append(d.files, nil)
	case c.what == "sync" && c.path == folder:
		d.synced = d.entries(len(d.since))
		d.since, d.files = nil, nil
	case c.what == "sync" && file != nil:
		for _, c := range file.since {
			file.synced = c.apply(file.synced)
		}
		file.since = nil
	case file != nil && (c.what == "write" || c.what == "truncate"):
		file.since = append(file.since, c)
	}
}

// entries gives the folder with the first few of what was asked for since it was synced.
func (d *disk) entries(first int) map[string]*diskFile {
	there := map[string]*diskFile{}
	for name, file := range d.synced {
		there[name] = file
	}
	for i, c := range d.since[:first] {
		if there[c.path] = d.files[i]; d.files[i] == nil {
			delete(there, c.path)
		}
	}
	return there
}

// apply gives a content after a write or a truncation, in the same memory where there is room.
func (c call) apply(content []byte) []byte {
	if c.what == "truncate" {
		return append(content, make([]byte, max(0, c.at-int64(len(content))))...)[:c.at]
	}
	if end := c.at + int64(len(c.data)); end > int64(len(content)) {
		content = append(content, make([]byte, end-int64(len(content)))...)
	}
	copy(content[c.at:], c.data)
	return content
}

// sector is what a disk writes whole, in bytes.
const sector = 512

// afterCut gives a file as a power cut may leave it: each thing asked for since the last sync
// was done, or not, or, of a write, only some of its sectors.
func (f *diskFile) afterCut(rng *rand.Rand) []byte {
	content := slices.Clone(f.synced)
	for _, c := range f.since {
		switch rng.IntN(3) {
		case 0:
			content = c.apply(content)
		case 1:
			for from := int64(0); c.what == "write" && from < int64(len(c.data)); from += sector {
				if rng.IntN(2) == 0 {
					content = call{what: "write", at: c.at + from, data: c.data[from:min(from+sector, int64(len(c.data)))]}.apply(content)
				}
			}
		}
	}
	return content
}

// cutPower cuts the power at random moments and looks what is left. With syncs false the disk
// does not sync after the first promise.
func cutPower(t *testing.T, calls []call, folder string, rng *rand.Rand, count int, syncs bool) (opened, promised, missing int) {
	t.Helper()
	first := slices.IndexFunc(calls, func(c call) bool { return c.what == "promise" })
	at := make([]int, count)
	for i := range at {
		at[i] = first + 1 + rng.IntN(len(calls)-first)
	}
	slices.Sort(at)
	d := &disk{names: map[string]*diskFile{}, synced: map[string]*diskFile{}}
	promises, next := map[string]bool{}, 0
	for i, c := range append(calls, call{}) {
		for ; next < count && at[next] == i; next++ {
			left := filepath.Join(t.TempDir(), "night.db")
			for name, file := range d.entries(rng.IntN(len(d.since) + 1)) {
				if !strings.HasSuffix(name, "-shm") { // made anew by who opens it
					must(t, os.WriteFile(filepath.Join(filepath.Dir(left), filepath.Base(name)), file.afterCut(rng), 0o600))
				}
			}
			ok, lost := lostPromises(t, left, promises)
			if promised, missing = promised+len(promises), missing+lost; ok {
				opened++
			}
			must(t, os.RemoveAll(filepath.Dir(left)))
		}
		if c.what == "promise" {
			promises[string(bytes.TrimSpace(c.data))] = true
		} else if syncs || c.what != "sync" || len(promises) == 0 {
			d.do(c, folder)
		}
	}
	return opened, promised, missing
}

// lostPromises opens a database and counts the promises that are not kept; ok tells whether it
// opens and is whole.
func lostPromises(t *testing.T, path string, promises map[string]bool) (ok bool, lost int) {
	t.Helper()
	s, err := Open(t.Context(), path)
	if err == nil {
		defer s.Close()
		err = s.Check(t.Context())
	}
	if err != nil {
		return false, len(promises)
	}
	found, half := foundPromises(t, s)
	for p := range promises {
		if !found[p] {
			lost++
		}
	}
	return len(half) == 0, lost
}
