//go:build unix

package main

import (
	"bufio"
	"bytes"
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"nightfloor/store"
	"nightfloor/store/files"
	"nightfloor/survey"
)

// A nightFault is what happens to a record with the dongle, and what comes of it.
type nightFault struct {
	sky     []string                      // of the stand-in, from the beginning
	dwell   string                        // "": 40ms
	rounds  int                           // 0: 6
	happens func(t *testing.T, r *runner) // while the antenna of the fourth visit is changed, for which it waits
	then    func(t *testing.T, r *runner) // while it goes on
	says    string                        // one line has this
	gap     string                        // one gap is called this; "": there is none
	flag    string                        // of some readings, and no other
	sweeps  int                           // 24 are all
	lost    bool                          // the database is gone: what it had is saved beside it
	status  int
}

// faultyNights are the faults that a record with a dongle must survive.
var faultyNights = map[string]nightFault{
	"the kernel's television driver has the dongle": {sky: []string{"kernel_driver 1"}, says: "television driver", status: 1},
	"another program has the dongle":                {sky: []string{"busy 1"}, says: "in use by another program", status: 1},
	"the dongle may not be opened":                  {sky: []string{"denied 1"}, says: "no permission", status: 1},
	"the dongle is pulled out for good, and SIGTERM": {
		happens: func(t *testing.T, r *runner) { r.bench.set(t, "plugged", "0") },
		then:    func(t *testing.T, r *runner) { r.hears("still away"); r.signal(t, syscall.SIGTERM) },
		says:    "fault began: receiver", gap: "receiver unplugged", sweeps: 6},
	"the dongle opens and every tuning fails, for a while": {
		happens: func(t *testing.T, r *runner) { r.bench.set(t, "refuse", "-9") },
		then:    func(t *testing.T, r *runner) { r.hears("still away"); r.bench.set(t, "refuse", "0") },
		says:    "fault cleared: receiver", gap: "receiver stuck: ", sweeps: 24},
	"no samples come, for a while": {
		happens: func(t *testing.T, r *runner) { r.bench.set(t, "wedge", "1") },
		then:    func(t *testing.T, r *runner) { r.hears("fault began"); r.bench.set(t, "wedge", "0") },
		says:    "fault cleared: receiver", gap: "receiver stuck: ", sweeps: 24},
	"samples are 1.7 s old after each tuning": {sky: []string{"queue 1.7"}, sweeps: 24},
	"samples are lost": {
		happens: func(*testing.T, *runner) {},
		then: func(t *testing.T, r *runner) {
			for i := range 100 {
				r.bench.set(t, "lose", fmt.Sprint(100_000+i))
				time.Sleep(2 * time.Millisecond)
			}
		},
		dwell: "500ms", rounds: 3, says: "samples lost: USB or the host was late; give the dongle a port of its own, and the host less to do", flag: "dropped-samples", sweeps: 12},
	"a transmitter overloads the receiver": {sky: []string{"carrier 6100000 8", "carrier 9700000 8"},
		says: `stays as it is; its readings are marked; weaken what reaches the receiver, or choose a lower gain" setup=whip@study segment="49 m"`, flag: "overload", sweeps: 24},
	"the clock is set back an hour": {
		happens: func(t *testing.T, r *runner) { r.bench.ahead(t, -time.Hour) },
		says:    "the clock was set", flag: "clock-set", sweeps: 24},
	"the clock is set ahead a day": {
		happens: func(t *testing.T, r *runner) { r.bench.ahead(t, 24*time.Hour) },
		says:    "the clock was set", flag: "clock-set", sweeps: 24},
	"another program holds the database locked": {
		happens: func(t *testing.T, r *runner) { r.bench.lockedBy = lockDatabase(t, r.bench.database) },
		then:    func(t *testing.T, r *runner) { r.hears("fault began: store"); r.bench.lockedBy() },
		says:    "fault cleared: store", gap: "not stored: ", sweeps: -1},
	"the database is removed": {happens: func(t *testing.T, r *runner) {
		must(t, errors.Join(os.Remove(r.bench.database), os.Remove(r.bench.database+"-wal"), os.Remove(r.bench.database+"-shm")))
	}, says: "was removed or moved", lost: true, status: 1},
	"the database is moved": {
		happens: func(t *testing.T, r *runner) { must(t, os.Rename(r.bench.database, r.bench.database+".away")) },
		says:    "was removed or moved", lost: true, status: 1},
	"the database is replaced by an older copy": {
		happens: func(t *testing.T, r *runner) {
			copyDatabase(t, r.bench.database, r.bench.database+".copy")
			must(t, os.Rename(r.bench.database+".copy", r.bench.database))
		},
		says: "was replaced by another file", lost: true, status: 1},
	"the database is restored from a copy in its place": {
		happens: func(t *testing.T, r *runner) {
			older, err := os.ReadFile(olderDatabase(t, r.bench.folder))
			must(t, errors.Join(err, os.WriteFile(r.bench.database, older, 0o644)))
		},
		says: "was cut short or overwritten", lost: true, status: 1},
	"the database is cut to a half": {
		happens: func(t *testing.T, r *runner) {
			info, err := os.Stat(r.bench.database)
			must(t, err)
			must(t, os.Truncate(r.bench.database, info.Size()/2))
		},
		says: "was cut short or overwritten", lost: true, status: 1},
	"the write-ahead log is removed": {
		happens: func(t *testing.T, r *runner) { must(t, os.Remove(r.bench.database+"-wal")) },
		says:    "-wal was removed", lost: true, status: 1},
}

// lockDatabase writes into a database as another program may, until release.
func lockDatabase(t *testing.T, path string) (release func()) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	must(t, err)
	db.SetMaxOpenConns(1)
	_, err = db.Exec("BEGIN IMMEDIATE")
	must(t, err)
	return func() {
		_, err := db.Exec("ROLLBACK")
		must(t, errors.Join(err, db.Close()))
	}
}

// ahead sets the time of the programs on the bench.
func (b *bench) ahead(t *testing.T, by time.Duration) {
	t.Helper()
	must(t, os.WriteFile(filepath.Join(b.folder, "ahead"), []byte(by.String()), 0o644))
}

// hears reads on until something was said, or the end.
func (r *runner) hears(text string) {
	for r.said.Scan() {
		if r.lines = append(r.lines, r.said.Text()); strings.Contains(r.said.Text(), text) {
			return
		}
	}
}

// TestFaults lets each fault happen to a record in the middle of its survey. It says so in one
// line, goes on where it can, marks what is missing or in doubt, ends with the status that
// belongs to it, and has all that it called stored.
func TestFaults(t *testing.T) {
	notInShort(t)
	t.Parallel()
	for name, f := range faultyNights {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f.test(t, name)
		})
	}
}

// bench readies one whose fourth change of the antenna waits for the file "go", after it made "here".
func (f nightFault) bench(t *testing.T) *bench {
	b := newBench(t, map[string]float64{"whip": 0, "loop": -6}, func(p string) string {
		filtered := "front_end = \"direct sampling Q\"\nfilter = \"low-pass\"\nfilter_rejection = \"40 dB\"" // no images
		return strings.NewReplacer(`front_end = "direct sampling Q"`, filtered, "200ms", cmp.Or(f.dwell, "40ms"), "rounds = 6", fmt.Sprintf("rounds = %d", cmp.Or(f.rounds, 6))).Replace(p)
	}, f.sky...)
	b.env = append(b.env, aheadFile+"="+filepath.Join(b.folder, "ahead"))
	b.relay(t, func(script string) string {
		return strings.Replace(script, "\n", fmt.Sprintf("\ncd %s; echo >> calls\nif [ $(wc -l < calls) -eq 4 ]; then touch here; while [ ! -e go ]; do sleep 0.01; done; fi\n", b.folder), 1)
	})
	return b
}

func (f nightFault) test(t *testing.T, name string) {
	b := f.bench(t)
	r := b.runs(t, b.command("record", "--verbose", "--plan", b.plan, "--db", b.database))
	proceed := func() { must(t, os.WriteFile(filepath.Join(b.folder, "go"), nil, 0o644)) }
	if f.happens == nil {
		proceed()
	} else {
		for here := filepath.Join(b.folder, "here"); !exists(here); time.Sleep(5 * time.Millisecond) {
		}
		f.happens(t, r)
		proceed()
	}
	if f.then != nil {
		f.then(t, r)
	}
	r.stored(1 << 30)
	r.Wait()
	said := strings.Join(r.lines, "\n")
	status := r.ProcessState.ExitCode()
	if n := strings.Count(said, "fault began"); n > 1 {
		t.Errorf("a fault began %d times:\n%s", n, said)
	}
	last := r.lines[len(r.lines)-1]
	if status != f.status || status == 0 && !strings.Contains(said, f.says) || status != 0 && !(strings.Contains(last, f.says) && errorLine.MatchString(last+"\n")) {
		t.Errorf("status %d, want %d and one line with %q:\n%s", status, f.status, f.says, said)
	}
	faultRow(t, name, telling(said), f.data(t, b, said), status)
}

// data looks into what is left, and says what it holds.
func (f nightFault) data(t *testing.T, b *bench, said string) string {
	t.Helper()
	if !f.lost && !exists(b.database) {
		return left(t, b.database)
	}
	path, where := b.database, ""
	if f.lost {
		saved := rescued(t, b.database)
		if len(saved) != 1 {
			t.Fatalf("%d files are saved, want one", len(saved))
		}
		path, where = saved[0], "beside it: "
	}
	there := bench{database: path}
	sweeps, _, gaps := there.sweeps(t)
	ids := map[string]bool{}
	flags := map[string]bool{}
	for _, s := range sweeps {
		ids[fmt.Sprint(s.ID)] = true
		for _, r := range s.Readings {
			for _, flag := range r.Quality.Flags {
				flags[flag] = true
			}
		}
	}
	reported := 0
	for line := range strings.Lines(said) {
		if m := storedLine.FindStringSubmatch(line); m != nil {
			if reported++; !ids[m[1]] {
				t.Errorf("lost: %s", line)
			}
		}
	}
	if f.sweeps > 0 && len(sweeps) != f.sweeps || len(sweeps) != reported || f.lost && reported < 6 {
		t.Errorf("%d sweeps, %d reported, want %d", len(sweeps), reported, f.sweeps)
	}
	if (f.gap != "") != (len(gaps) == 1) || len(gaps) > 1 || f.gap != "" && !strings.HasPrefix(gaps[0].Why, f.gap) {
		t.Errorf("gaps %v, want %q", gaps, f.gap)
	}
	if !flags[f.flag] && f.flag != "" || len(flags) > 1 {
		t.Errorf("flags %v, want %q", flags, f.flag)
	}
	return where + holds(t, path)
}

// A driver that hangs in a call is given up after 5 s, by the host's time: the dongle is away until
// it answers again, and that is one gap.
func TestDriverThatHangs(t *testing.T) {
	notInShort(t)
	t.Parallel() // it waits, mostly
	b := nightFault{}.bench(t)
	b.env = append(b.env, byStandIn+"=")
	b.set(t, "status", filepath.Join(b.folder, "status"))
	must(t, os.WriteFile(filepath.Join(b.folder, "go"), nil, 0o644))
	r := b.runs(t, b.command("record", "--verbose", "--plan", b.plan, "--db", b.database))
	r.stored(3)
	b.set(t, "hang", "tune")
	r.hears("fault began: receiver")
	b.set(t, "hang", "") // it comes back
	r.stored(1 << 30)
	r.Wait()
	_, _, gaps := b.sweeps(t)
	said := strings.Join(r.lines, "\n")
	faultRow(t, "the driver hangs in a call, and comes back", telling(said), holds(t, b.database), r.ProcessState.ExitCode())
	if r.ProcessState.ExitCode() != 0 || len(gaps) != 1 || !strings.HasPrefix(gaps[0].Why, "receiver stuck: ") || strings.Count(said, "stored sweep ") != 24 {
		t.Errorf("%v, gaps %v:\n%s", r.ProcessState, gaps, said)
	}
}

// A survey that is taken up with the clock behind its last reading says so, and marks what it reads.
func TestTakenUpWithTheClockBehind(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := nightFault{}.bench(t)
	must(t, os.WriteFile(filepath.Join(b.folder, "go"), nil, 0o644))
	b.ahead(t, 24*time.Hour)
	r := b.runs(t, b.command("record", "--verbose", "--plan", b.plan, "--db", b.database))
	r.stored(5)
	r.signal(t, syscall.SIGTERM)
	r.stored(1 << 30)
	r.Wait()
	must(t, os.Remove(filepath.Join(b.folder, "ahead")))
	before, _, _ := b.sweeps(t)
	said := b.record(t)
	faultRow(t, "a survey is taken up with the clock a day behind its last reading", telling(said), holds(t, b.database), 0)
	sweeps, surveys, _ := b.sweeps(t)
	for _, s := range sweeps {
		for _, reading := range s.Readings {
			if got, want := reading.Quality.Has(survey.FlagClockSet), s.ID > int64(len(before)); got != want {
				t.Errorf("sweep %d: marked %v", s.ID, got)
			}
		}
	}
	if len(sweeps) != 24 || len(surveys) != 1 || surveys[0].End.Before(surveys[0].Start) || !strings.Contains(said, "the clock stands earlier than the survey's last reading") {
		t.Errorf("%d sweeps, %+v: %s", len(sweeps), surveys, said)
	}
}

// Whatever stands at the database's path, each command says what it is, and leaves it.
func TestFaultyDatabases(t *testing.T) {
	notInShort(t)
	t.Parallel()
	folder := t.TempDir()
	sound := filepath.Join(folder, "sound.db")
	must(t, os.WriteFile(sound, soundDatabase(t), 0o644))
	sqlDo(t, sound, func(db *sql.DB) { // as record leaves it
		_, err := db.Exec("PRAGMA journal_mode = WAL")
		must(t, err)
	})
	text, err := os.ReadFile(sound)
	must(t, err)
	noise := filepath.Join(folder, "noise.cu8")
	must(t, os.WriteFile(noise, bytes.Repeat([]byte{120, 131, 134, 127, 122}, 8000), 0o644))
	damaged := slices.Clone(text)
	for i := len(damaged) / 3; i < len(damaged)/3+60_000; i++ {
		damaged[i] ^= 0x55
	}
	write := func(content []byte) func(path string) {
		return func(path string) { must(t, os.WriteFile(path, content, 0o644)) }
	}
	for name, test := range map[string]struct {
		make func(path string)
		want string // "": record and check take it
	}{
		"of a newer program": {func(path string) {
			write(text)(path)
			sqlDo(t, path, func(db *sql.DB) {
				_, err := db.Exec("PRAGMA user_version = 99")
				must(t, err)
			})
		}, "written by a newer nightfloor"},
		"of an older program": {func(path string) { copyDatabase(t, olderDatabase(t, t.TempDir()), path) }, ""},
		"that is damaged":     {write(damaged), "the database is damaged"},
		"that is cut short":   {write(text[:len(text)/2]), "the database is damaged"},
		"of another program":  {func(path string) { sqlDo(t, path, func(db *sql.DB) { db.Exec("CREATE TABLE mine (x)") }) }, "not a nightfloor database"},
		"that is a text":      {write([]byte("my notes\n")), "not a nightfloor database"},
		"that is a folder":    {func(path string) { must(t, os.Mkdir(path, 0o755)) }, "a folder, not a file"},
	} {
		path := filepath.Join(folder, "night.db")
		plan := nightFault{}.bench(t).plan
		for _, args := range [][]string{{"report", "--db", path}, {"import", noise, "--db", path, "--center", "9650kHz", "--rate", "48000", "--start", "2026-11-03T21:04:10Z", "--antenna", "wire"}, {"database", "check", "--db", path}, {"record", "--plan", plan, "--receiver", "scene:house", "--for", "1s", "--db", path}} {
			test.make(path)
			before, _ := os.ReadFile(path)
			status, _, errOut := command(t, args...)
			after, _ := os.ReadFile(path)
			kept := "left as it was"
			if !bytes.Equal(before, after) {
				if status, _, said := command(t, "database", "check", "--db", path); status == 0 {
					kept = holds(t, path)
				} else {
					kept = "written into: " + telling(said)
				}
			}
			faultRow(t, args[0]+" with a database "+name, telling(errOut), kept, status)
			lines := strings.SplitAfter(errOut, "\n")
			if last := lines[max(0, len(lines)-2)]; test.want != "" && (status != 1 || !strings.Contains(last, test.want) || !errorLine.MatchString(last) || kept != "left as it was") {
				t.Errorf("%s of a database %s: status %d, %s, %s", args[0], name, status, kept, errOut)
			}
			for _, file := range files.Names(path) {
				must(t, os.RemoveAll(file))
			}
		}
	}
}

// On a disk that stays full a survey that is stopped ends with status 1, for its end is not stored;
// and a page that does not fit leaves nothing behind.
func TestDiskStaysFull(t *testing.T) {
	t.Parallel()
	b, disk := nightFault{}.bench(t), smallDisk(t)
	b.database = filepath.Join(disk, "night.db")
	r := b.runs(t, b.command("record", "--verbose", "--plan", b.plan, "--db", b.database))
	for here := filepath.Join(b.folder, "here"); !exists(here); time.Sleep(5 * time.Millisecond) {
	}
	_ = os.WriteFile(filepath.Join(disk, "ballast"), make([]byte, 2<<20), 0o644) // to the last byte
	must(t, os.WriteFile(filepath.Join(b.folder, "go"), nil, 0o644))
	r.hears("fault began: store")
	r.signal(t, syscall.SIGTERM)
	r.stored(1 << 30)
	r.Wait()
	copied := filepath.Join(b.folder, "copy.db")
	copyDatabase(t, b.database, copied)
	said := strings.Join(r.lines, "\n")
	faultRow(t, "SIGTERM while the disk (a tmpfs of 2 MiB) is full", telling(said), holds(t, copied), r.ProcessState.ExitCode())
	b.database = copied
	sweeps, surveys, _ := b.sweeps(t)
	last := r.lines[len(r.lines)-1] + "\n"
	if r.ProcessState.ExitCode() != 1 || !errorLine.MatchString(last) || !strings.Contains(last, "the disk is full") || len(sweeps) != strings.Count(said, "stored sweep ") || surveys[0].Ending != "" || strings.Count(said, "fault began") != 1 {
		t.Errorf("%v, %d sweeps, %+v:\n%s", r.ProcessState, len(sweeps), surveys, said)
	}
	before := filesIn(t, disk)
	status, _, errOut := command(t, "report", "--db", copied, "--html", filepath.Join(disk, "page.html"))
	faultRow(t, "report --html onto a full disk", telling(errOut), keptFiles(before, filesIn(t, disk)), status)
	if status != 1 || !errorLine.MatchString(errOut) || !sameFiles(before, filesIn(t, disk)) {
		t.Errorf("status %d, %s", status, errOut)
	}
}

// A rotator that stalls, or says that it turns and does not: what is stored is where it stands.
func TestRotatorThatStallsOrLies(t *testing.T) {
	notInShort(t)
	t.Parallel()
	for name, turns := range map[string]float64{"the rotator stalls half-way": 20, "the rotator takes orders and does not turn": 0} {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // it waits, mostly
			text, err := os.ReadFile("testdata/rotator.toml")
			must(t, err)
			folder := t.TempDir()
			plan, database := filepath.Join(folder, "plan.toml"), filepath.Join(folder, "night.db")
			must(t, os.WriteFile(plan, []byte(strings.NewReplacer("127.0.0.1:4533", stuckRotator(t, turns), "sweeps = 40", "sweeps = 1\nrounds = 1",
				"[0, 30, 60, 90, 120, 150]", "[60]").Replace(string(text))), 0o644))
			status, _, errOut := command(t, "record", "--plan", plan, "--db", database)
			faultRow(t, name, telling(errOut), holds(t, database), status)
			b := bench{database: database}
			sweeps, _, _ := b.sweeps(t)
			for _, s := range sweeps {
				if s.Setup.Antenna == "loop" && s.Setup.Bearing != survey.BearingOf(turns) {
					t.Errorf("a sweep bears %v, and it stands at %v°", s.Setup, turns)
				}
			}
			if status != 0 || len(sweeps) != 2 || !strings.Contains(errOut, "another setup is in place than was asked for") {
				t.Errorf("status %d, %d sweeps: %s", status, len(sweeps), errOut)
			}
		})
	}
}

// stuckRotator answers as rotctld does, of a rotator that turns so far and no farther.
func stuckRotator(t *testing.T, far float64) (address string) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	t.Cleanup(func() { listener.Close() })
	var at atomic.Int64
	go func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			go func() {
				defer conn.Close()
				for in := bufio.NewScanner(conn); in.Scan(); {
					command := strings.TrimPrefix(in.Text(), `+\`)
					reply := command + ":\nRPRT 0\n"
					if word, rest, ok := strings.Cut(command, " "); ok {
						at.Store(int64(far))
						reply = word + ": " + rest + "\nRPRT 0\n"
					}
					if command == "get_pos" {
						reply = fmt.Sprintf("get_pos:\nAzimuth: %d\nElevation: 0\nRPRT 0\n", at.Load())
					}
					conn.Write([]byte(reply)) // where it fails nobody reads
				}
			}()
		}
	}()
	return listener.Addr().String()
}

// Lines of a switching log within the hour that clocks show twice follow their order, and those that
// nothing tells apart are said to be unsure.
func TestSwitchingsOfTheDoubledHour(t *testing.T) {
	notInShort(t)
	for name, test := range map[string]struct {
		lines []string // by clocks on 25 October 2026
		want  string   // in UTC
		says  string
	}{
		"in order":      {[]string{"01:30,on", "02:10,off", "02:50,on", "02:10,off", "02:50,on", "03:30,off"}, "23:30 00:10 00:50 01:10 01:50 02:30", ""},
		"nothing tells": {[]string{"01:30,on", "02:10,off", "02:50,on", "03:30,off"}, "23:30 00:10 00:50 02:30", "2 times"},
	} {
		folder := t.TempDir()
		database, log := filepath.Join(folder, "night.db"), filepath.Join(folder, "plug.csv")
		begun := time.Date(2026, 10, 24, 20, 0, 0, 0, time.UTC)
		must(t, fill(survey.Survey{Kind: survey.KindRecord, First: survey.Setup{Antenna: "loop", Placement: "loft"}, Start: begun, End: begun.Add(8 * time.Hour), Ending: "all rounds done"})("", database))
		must(t, os.WriteFile(log, []byte("2026-10-25 "+strings.Join(test.lines, "\n2026-10-25 ")+"\n"), 0o644))
		cmd := exec.Command(os.Args[0], "note", "--switching", log, "--device", "kettle", "--db", database)
		cmd.Env = append(os.Environ(), asProgram+"=1", "TZ=Europe/Berlin")
		said, err := cmd.CombinedOutput()
		db, openErr := store.OpenReadOnly(t.Context(), database)
		must(t, openErr)
		var at, held []string
		for _, e := range eventsIn(t, db) {
			at, held = append(at, e.At.UTC().Format("15:04")), append(held, e.At.UTC().Format("15:04 ")+e.Text)
		}
		must(t, db.Close())
		faultRow(t, "switchings in the hour that clocks show twice, "+name+": "+strings.Join(test.lines, " "), telling(string(said)), "events in UTC: "+strings.Join(held, ", "), cmd.ProcessState.ExitCode())
		if got := strings.Join(at, " "); err != nil || got != test.want || !strings.Contains(string(said), test.says) {
			t.Errorf("%s: %v: %s, want %s: %s", name, err, got, test.want, said)
		}
	}
}
