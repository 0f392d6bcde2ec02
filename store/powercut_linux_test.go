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
	"slices"
	"strconv"
	"strings"
	"testing"
)

var cuts = flag.Int("cuts", 50, "power cuts that TestPowerCuts makes")

// TestPowerCuts records what a process that stores asks of the disk, and rebuilds the files as
// a power cut at any moment may leave them, the making of the database included: what was not
// synced is there, or not, or torn. Every such database opens, is whole, and has all that was
// called stored before the cut. With a disk that leaves syncs out, all or those of one file or
// of the folder, the same must lose something: a recorder that left that sync out would fail.
func TestPowerCuts(t *testing.T) {
	if testing.Short() {
		t.Skip("it rebuilds files, a hundred times")
	}
	folder := t.TempDir()
	calls := traceStoring(t, folder, 100, os.Args[0])
	count := *cuts
	rng := seeded()
	if *fresh {
		rng = rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64()))
	}
	all := func(call) bool { return true }
	got := cutPower(t, calls, folder, rng, count, all, foundPromises)
	t.Logf("%d calls, the log written back %d times; %v", len(calls), writtenBack(calls, folder), got)
	t.Logf("fault | the power is cut, at %d instants | nothing | %d of %d databases open, and are whole; of %d sweeps reported before %d are missing | -1", count, got.opened, count, got.sweeps, got.sweepsLost)
	if got.opened != count || got.sweepsLost+got.othersLost != 0 || got.sweeps == 0 || got.others == 0 {
		t.Errorf("want all %d open, and nothing missing of something: %v", count, got.why)
	}
	for what, syncs := range map[string]func(call) bool{
		"anything":     func(call) bool { return false },
		"the database": func(c call) bool { return !strings.HasSuffix(c.path, ".db") },
		"the log":      func(c call) bool { return !strings.HasSuffix(c.path, "-wal") },
		"the folder":   func(c call) bool { return c.path != folder },
	} {
		got := cutPower(t, calls, folder, rng, 10, syncs, foundPromises)
		t.Logf("on a disk that does not sync %s: %v", what, got)
		if got.sweepsLost == 0 {
			t.Errorf("a disk that does not sync %s lost nothing: the test sees nothing", what)
		}
	}
}

// TestPowerCutsOfRecord does the same to the program itself, which records in the simulated house
// until its log is closed: visits, gaps, its lock and the survey's end are stored beside sweeps.
func TestPowerCutsOfRecord(t *testing.T) {
	if testing.Short() {
		t.Skip("it builds the program and records")
	}
	program, folder := filepath.Join(t.TempDir(), "nightfloor"), t.TempDir()
	if said, err := exec.Command("go", "build", "-o", program, "nightfloor/cmd/nightfloor").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	text, err := os.ReadFile("../cmd/nightfloor/testdata/two-setups.toml")
	must(t, err)
	plan := filepath.Join(t.TempDir(), "plan.toml")
	must(t, os.WriteFile(plan, bytes.ReplaceAll(text, []byte("200ms"), []byte("40ms")), 0o644))
	calls := traceStoring(t, folder, 16, program, "record", "--verbose", "--plan", plan, "--receiver", "scene:house", "--db", filepath.Join(folder, "night.db"))
	count := max(*cuts/5, 5)
	got := cutPower(t, calls, folder, seeded(), count, func(call) bool { return true }, recordedSweeps)
	t.Logf("%d calls of record; %v", len(calls), got)
	if got.opened != count || got.sweepsLost != 0 || got.sweeps == 0 {
		t.Errorf("want all %d open, and nothing missing of something: %v", count, got.why)
	}
}

// recordedSweeps gives the sweeps that are there, and those that were stored by half.
func recordedSweeps(t *testing.T, s *Store) (found map[string]bool, half []string) {
	t.Helper()
	found = map[string]bool{}
	for _, sweep := range all(t, s, Filter{}) {
		found["sweep "+strconv.FormatInt(sweep.ID, 10)] = true
		if len(sweep.Readings) != 2 {
			half = append(half, fmt.Sprintf("sweep %d has %d readings, want 2", sweep.ID, len(sweep.Readings)))
		}
	}
	return found, half
}

// writtenBack counts how often the log was written back.
func writtenBack(calls []call, folder string) (times int) {
	for _, c := range calls {
		if c.what == "sync" && c.path == filepath.Join(folder, "night.db") {
			times++
		}
	}
	return times
}

// A cutTally counts what was found behind power cuts.
type cutTally struct {
	states, opened, sweeps, sweepsLost, others, othersLost int

	why error // of the first that does not open
}

func (n cutTally) String() string {
	return fmt.Sprintf("%d states of the files rebuilt, %d databases opened whole; of %d sweeps reported stored before %d are missing after, of %d carriers and combs reported %d",
		n.states, n.opened, n.sweeps, n.sweepsLost, n.others, n.othersLost)
}

// A call is one that changes files or puts them onto the disk, or a promise.
type call struct {
	what string // "create", "write", "truncate", "unlink", "sync", "promise"
	path string
	at   int64 // offset, or length
	data []byte
}

// traceStoring lets a program, the test as storeForEver or another, make promises under strace.
func traceStoring(t *testing.T, folder string, promises int, program ...string) []call {
	t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("needs strace")
	}
	trace := filepath.Join(t.TempDir(), "trace")
	calls := strings.Join(slices.Concat(changing, []string{"fsync", "fdatasync"}), ",?")
	cmd := exec.Command(strace, "-f", "--seccomp-bpf", "-y", "-xx", "-s", "100000", "-o", trace, "-e", "trace=?"+calls)
	cmd.Args = append(cmd.Args, program...)
	cmd.Env = append(os.Environ(), crashEnv+"="+filepath.Join(folder, "night.db"), "GOMAXPROCS=1")
	out, to, err := os.Pipe()
	must(t, err)
	cmd.Stdout, cmd.Stderr = to, to
	must(t, cmd.Start())
	must(t, to.Close())
	for lines := bufio.NewScanner(out); promises > 0; {
		if !lines.Scan() {
			cmd.Wait()
			t.Skip("strace cannot trace here")
		}
		if promised(lines.Text()) != "" {
			promises--
		}
	}
	out.Close() // ends the child at its next promise
	cmd.Wait()  // gives "broken pipe"
	file, err := os.Open(trace)
	must(t, err)
	defer file.Close()
	done, err := readTrace(file, folder)
	must(t, err)
	return done
}

// promised gives what a line of output promises, "" for nothing.
func promised(line string) string {
	if words := strings.Fields(strings.TrimPrefix(line, "stored ")); len(words) > 1 && slices.Contains([]string{"sweep", "forced", "comb"}, words[0]) {
		return words[0] + " " + words[1]
	}
	return ""
}

// changing are the calls that may change a file or a folder.
var changing = []string{"open", "openat", "openat2", "creat", "write", "writev", "pwrite64", "pwritev", "pwritev2", "truncate", "ftruncate",
	"fallocate", "copy_file_range", "sendfile", "unlink", "unlinkat", "rename", "renameat", "renameat2", "link", "linkat", "symlink", "symlinkat",
	"mkdir", "mkdirat", "rmdir", "mknod", "mknodat"}

// readTrace reads what strace wrote, as far as it is about files of a folder and standard
// output. What is asked for counts from the moment when it is asked, a sync from its end.
func readTrace(r io.Reader, folder string) (calls []call, err error) {
	lines, begun, inFolder := bufio.NewReaderSize(r, 1<<20), map[string]call{}, asHex(folder)
	for {
		line, err := lines.ReadString('\n')
		if errors.Is(err, io.EOF) {
			return calls, nil
		}
		if err != nil {
			return nil, err
		}
		process, line, _ := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
		asked, result, _ := strings.Cut(line, " = ")
		failed := strings.HasPrefix(result, "-")
		name, args, ok := strings.Cut(strings.TrimSpace(asked), "(")
		if strings.HasPrefix(name, "<... ") { // resumed
			if c, ok := begun[process]; ok && !failed {
				calls = append(calls, c)
			}
			delete(begun, process)
			continue
		}
		promise := name == "write" && (strings.HasPrefix(args, "1<") || strings.HasPrefix(args, "2<"))
		if !ok || failed || !promise && !strings.Contains(args, inFolder) || strings.Contains(args, ">(deleted)") { // SQLite's temporary files have no name
			continue
		}
		args, unfinished := strings.CutSuffix(args, " <unfinished ...>")
		c, ok := parseCall(name, strings.TrimSuffix(strings.TrimRight(args, " "), ")"), promise)
		switch {
		case !ok:
			return nil, fmt.Errorf("%.200s: a call that this test does not know", line)
		case c.what == "":
		case c.what == "sync" && unfinished:
			begun[process] = c
		default:
			calls = append(calls, c)
		}
	}
}

// asHex writes a text as strace does: \x and two digits for every byte.
func asHex(text string) string {
	var b strings.Builder
	for _, c := range []byte(text) {
		fmt.Fprintf(&b, `\x%02x`, c)
	}
	return b.String()
}

// unhex reads a string of strace: every byte is written as \x and two digits.
func unhex(s string) []byte {
	b, _ := hex.DecodeString(strings.ReplaceAll(s, `\x`, "")) // what is no such string is no path
	return b
}

// parseCall reads one call with its arguments; what is "" for one that changes nothing.
func parseCall(name, args string, promise bool) (c call, ok bool) {
	parts := strings.Split(args, `"`) // before a string, it, behind it
	numbers := strings.Split(parts[len(parts)-1], ", ")
	c.at, _ = strconv.ParseInt(numbers[len(numbers)-1], 10, 64) // 0 where there is none
	if _, file, found := strings.Cut(parts[0], "<"); found {
		file, _, _ = strings.Cut(file, ">")
		c.path = string(unhex(file))
	}
	if len(parts) > 1 {
		c.data = unhex(parts[1])
	}
	switch {
	case promise:
		if len(parts) == 3 && promised(string(c.data)) != "" {
			c.what = "promise"
		}
	case (name == "open" || name == "openat") && len(parts) == 3 && !strings.Contains(parts[2], "O_TRUNC"):
		if c.path, c.data = string(c.data), nil; strings.Contains(parts[2], "O_CREAT") {
			c.what = "create"
		}
	case (name == "unlink" || name == "unlinkat") && len(parts) == 3:
		c.what, c.path, c.data = "unlink", string(c.data), nil
	case name == "pwrite64" && len(parts) == 3 && !strings.HasPrefix(parts[2], "..."): // that: cut short
		c.what = "write"
	case name == "ftruncate":
		c.what = "truncate"
	case name == "fsync" || name == "fdatasync":
		c.what = "sync"
	default:
		return c, false
	}
	return c, true
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
// was done, or not, or, of a write, only some of the sectors of the disk that it touches.
func (f *diskFile) afterCut(rng *rand.Rand) []byte {
	content := slices.Clone(f.synced)
	for _, c := range f.since {
		switch rng.IntN(3) {
		case 0:
			content = c.apply(content)
		case 1:
			for c.what == "write" && len(c.data) > 0 {
				rest := call{what: "write", at: (c.at/sector + 1) * sector}
				here := c
				if n := rest.at - c.at; n < int64(len(c.data)) {
					here.data, rest.data = c.data[:n], c.data[n:]
				}
				if rng.IntN(2) == 0 {
					content = here.apply(content)
				}
				c = rest
			}
		}
	}
	return content
}

// cutPower cuts the power at random moments and looks what is left. The disk does those syncs
// that syncs names.
func cutPower(t *testing.T, calls []call, folder string, rng *rand.Rand, count int, syncs func(call) bool, find func(*testing.T, *Store) (found map[string]bool, half []string)) (n cutTally) {
	t.Helper()
	at := make([]int, count)
	for i := range at {
		at[i] = rng.IntN(len(calls) + 1)
	}
	slices.Sort(at)
	d := &disk{names: map[string]*diskFile{}, synced: map[string]*diskFile{}}
	promises := map[string]bool{}
	for i, c := range append(calls, call{}) {
		for ; n.states < count && at[n.states] == i; n.states++ {
			left := t.TempDir()
			for name, file := range d.entries(rng.IntN(len(d.since) + 1)) {
				if !strings.HasSuffix(name, "-shm") { // made anew by who opens it
					must(t, os.WriteFile(filepath.Join(left, filepath.Base(name)), file.afterCut(rng), 0o600))
				}
			}
			n.add(t, filepath.Join(left, "night.db"), promises, find)
			must(t, os.RemoveAll(left))
		}
		if c.what == "promise" {
			promises[promised(string(c.data))] = true
		} else if c.what != "sync" || syncs(c) {
			d.do(c, folder)
		}
	}
	return n
}

// add opens a database and counts the promises that are not kept.
func (n *cutTally) add(t *testing.T, path string, promises map[string]bool, find func(*testing.T, *Store) (found map[string]bool, half []string)) {
	t.Helper()
	s, err := Open(t.Context(), path)
	if err == nil {
		defer s.Close()
		err = s.Check(t.Context())
	}
	if err != nil && n.why == nil {
		n.why = err
	}
	var found map[string]bool // of a damaged one: nothing
	if err == nil {
		var half []string
		if found, half = find(t, s); len(half) == 0 {
			n.opened++
		}
	}
	for p := range promises {
		all, lost := &n.others, &n.othersLost
		if strings.HasPrefix(p, "sweep ") {
			all, lost = &n.sweeps, &n.sweepsLost
		}
		if *all++; !found[p] {
			*lost++
		}
	}
}
