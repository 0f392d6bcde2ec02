package store

import (
	"context"
	"fmt"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

// TestSurveyRoundTrip: how a survey opened, and how it ended.
func TestSurveyRoundTrip(t *testing.T) {
	s := openTemp(t)
	want := survey.Survey{Kind: survey.KindRecord, Simulated: true,
		Site: survey.Site{Name: "mill", Locator: "JO62qm", MainsHz: 50, Surroundings: "quiet rural"},
		Plan: "# turns\nturns = 3\n", First: survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(0)},
		Receiver: "scene:mill?seed=1", Seed: math.MaxUint64, Version: "1.2", Start: evening, DroopCalibration: 3}
	id, err := s.BeginSurvey(t.Context(), want)
	if err != nil {
		t.Fatal(err)
	}
	want.ID = id
	same := func() {
		t.Helper()
		got, err := s.Surveys(t.Context())
		if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], want) {
			t.Errorf("got\n%+v, %v; want\n%+v", got, err, want)
		}
	}
	same()
	want.End, want.Ending = evening.Add(time.Hour), "stopped by a person"
	if err := s.EndSurvey(t.Context(), id, want.End, want.Ending); err != nil {
		t.Fatal(err)
	}
	same()
	want.End = evening // the clock was set back by a day
	if err := s.EndSurvey(t.Context(), id, evening.Add(-24*time.Hour), want.Ending); err != nil {
		t.Fatal(err)
	}
	same()
	if err := s.EndSurvey(t.Context(), id+1, want.End, ""); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
	if err := s.AddSweep(t.Context(), night{rng: seeded()}.sweep(id+1, 0)); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
}

// TestGapsAndEvents come back by survey and time.
func TestGapsAndEvents(t *testing.T) {
	s := openTemp(t)
	one, two := begin(t, s), begin(t, s)
	at := func(m int) time.Time { return evening.Add(time.Duration(m) * time.Minute) }
	gaps := []survey.Gap{{Survey: one, From: at(1), To: at(2), Why: "receiver unplugged"},
		{Survey: one, From: at(5), To: at(6), Why: "rotator"}, {Survey: two, From: at(0), To: at(1), Why: "clock jumped"}}
	events := []survey.Event{{Survey: one, At: at(3), Text: "dishwasher on"}, {Survey: two, At: at(1), Text: "Licht an"}}
	for _, i := range []int{2, 1, 0} {
		if err := s.AddGap(t.Context(), gaps[i]); err != nil {
			t.Fatal(err)
		}
	}
	for _, i := range []int{1, 0} {
		if err := s.AddEvent(t.Context(), events[i]); err != nil {
			t.Fatal(err)
		}
	}
	for id, want := range map[int64][]survey.Gap{0: gaps, one: gaps[:2], two: gaps[2:], 99: nil} {
		if got, err := s.Gaps(t.Context(), id); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("gaps of %d: %v, %v, want %v", id, got, err, want)
		}
	}
	for id, want := range map[int64][]survey.Event{0: events, one: events[:1], two: events[1:]} {
		if got, err := s.Events(t.Context(), id); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("events of %d: %v, %v, want %v", id, got, err, want)
		}
	}
	if err := s.AddGap(t.Context(), survey.Gap{Survey: 99, From: evening, To: evening}); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
	if err := s.AddEvent(t.Context(), survey.Event{Survey: 99, At: evening}); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
}

// TestImports arrive in any order, once each, and are put into rounds together.
func TestImports(t *testing.T) {
	s := openTemp(t)
	id, created, err := s.ImportSurvey(t.Context(), "", "1.2")
	if err != nil || !created {
		t.Fatal(created, err)
	}
	if again, created, err := s.ImportSurvey(t.Context(), "", "1.3"); err != nil || created || again != id {
		t.Errorf("%d, %v, %v, want %d as before", again, created, err, id)
	}
	if named, created, err := s.ImportSurvey(t.Context(), "attic", "1.3"); err != nil || !created || named == id {
		t.Errorf("%d, %v, %v, want a survey of its own", named, created, err)
	}
	n := night{seeded(), 2, 3, 20}
	sweeps := map[int]*survey.Sweep{}
	for _, i := range []int{4, 0, 8} { // visits 2, 1, 3
		sweeps[i] = n.sweep(id, i)
		if err := s.AddImported(t.Context(), sweeps[i], survey.Recording{Digest: string(rune('a' + i)), File: "x.sigmf-meta", Simulated: i == 8}); err != nil {
			t.Fatal(err)
		}
	}
	twice := n.sweep(id, 5)
	err = s.AddImported(t.Context(), twice, survey.Recording{Digest: "a", File: "copy.sigmf-meta"})
	if want := "store sweep: recording copy.sigmf-meta: already stored; nothing to do"; !isErr(err, ErrStored) || err.Error() != want || twice.ID != 0 {
		t.Errorf("%v, sweep %d, want %s and no number", err, twice.ID, want)
	}
	for digest, want := range map[string]bool{"a": true, "e": true, "z": false} {
		if _, has, err := s.HasRecording(t.Context(), digest); err != nil || has != want {
			t.Errorf("recording %s: %v, %v, want %v", digest, has, err, want)
		}
	}
	if as, _, err := s.HasRecording(t.Context(), "a"); err != nil || as.Setup != sweeps[0].Setup || as.Survey != id {
		t.Errorf("recording a: through %v, %v, want %v", as, err, sweeps[0].Setup)
	}
	surveys, err := s.Surveys(t.Context())
	// The last reading of sweep 8 begins 80.6 s after the evening and takes 0.5 s.
	end := evening.Add(81100 * time.Millisecond)
	if err != nil || !surveys[0].Start.Equal(evening) || !surveys[0].End.Equal(end) || surveys[0].First != sweeps[0].Setup ||
		surveys[0].Version != "1.2" || surveys[0].Ending != importEnding {
		t.Errorf("%+v, %v: want from %v to %v through %v", surveys[0], err, evening, end, sweeps[0].Setup)
	}
	if !surveys[0].Simulated {
		t.Error("a simulated recording leaves the survey unmarked")
	}
	recordings, err := s.Recordings(t.Context(), id)
	if err != nil || len(recordings) != 3 {
		t.Fatalf("%v, %v, want 3 recordings", recordings, err)
	}
	// Numbers follow the order of arrival: 1 is sweep 4, 2 is sweep 0, 3 is sweep 8.
	if got := recordings[2]; got.Setup != sweeps[0].Setup || !got.Start.Equal(sweeps[0].Start) || len(got.Segments) != len(sweeps[0].Readings) {
		t.Errorf("recording 2: %+v", got)
	}
	numbers := func() (ids []int64) {
		for _, sw := range all(t, s, Filter{}) {
			ids = append(ids, sw.ID)
		}
		return ids
	}
	before := numbers()
	for i, turns := range []map[int64]survey.Turn{
		{2: {Round: 1, Visit: 1, Sweep: 1}, 1: {Round: 1, Visit: 2, Sweep: 2}, 3: {Round: 2, Visit: 3, Sweep: 3}},
		{2: {Round: 1, Visit: 1, Sweep: 1}, 1: {Round: 1, Visit: 1, Sweep: 1}, 3: {Round: 1, Visit: 1, Sweep: 1}}, // put together
		{2: {Round: 1, Visit: 1, Sweep: 1}, 1: {Round: 2, Visit: 2, Sweep: 2}, 3: {Round: 2, Visit: 2, Sweep: 2}}, // and parted again
	} {
		if err := s.Regroup(t.Context(), id, turns); err != nil {
			t.Fatal(err)
		}
		checkTurns(t, s, turns, len(sweeps[0].Readings))
		if err := s.Check(t.Context()); err != nil { // the checksums follow
			t.Error(err)
		}
		if i == 0 { // each recording still has a sweep of its own
			if after := numbers(); !slices.Equal(after, before) {
				t.Errorf("sweeps %v became %v", before, after)
			}
			do(t, s, "CREATE TRIGGER once BEFORE UPDATE ON readings BEGIN SELECT raise(ABORT, 'written again'); END;"+
				"CREATE TRIGGER again BEFORE UPDATE ON sweeps BEGIN SELECT raise(ABORT, 'written again'); END")
			if err := s.Regroup(t.Context(), id, turns); err != nil {
				t.Error(err)
			}
			do(t, s, "DROP TRIGGER once; DROP TRIGGER again")
		}
	}
	if err := s.Regroup(t.Context(), id, map[int64]survey.Turn{2: {Round: 7, Visit: 7, Sweep: 1}, 99: {Round: 7, Visit: 8, Sweep: 2}}); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
	if sw := all(t, s, Filter{})[0]; sw.Round != 1 {
		t.Errorf("round %d after a regrouping that failed, want 1 as before", sw.Round)
	}
}

// checkTurns checks that sweeps stand where turns put them, each with the
// readings of its recordings (so many each).
func checkTurns(t *testing.T, s *Store, turns map[int64]survey.Turn, each int) {
	t.Helper()
	want := map[survey.Turn]int{}
	for _, turn := range turns {
		want[turn] += each
	}
	got := map[survey.Turn]int{}
	for i, sw := range all(t, s, Filter{}) {
		got[survey.Turn{Round: sw.Round, Visit: sw.Visit, Sweep: i + 1}] += len(sw.Readings)
	}
	if !maps.Equal(got, want) {
		t.Errorf("readings by turn: %v, want %v", got, want)
	}
}

// lockEnv makes the test program hold the lock of that database.
const lockEnv = "NIGHTFLOOR_TEST_LOCK_DB"

// holdLock is the other process of TestLock.
func holdLock(path string) error {
	ctx := context.Background()
	s, err := Open(ctx, path)
	if err != nil {
		return err
	}
	if _, err := s.LockWriter(evening); err != nil {
		return err
	}
	runtime.GC() // the lock outlives what held it
	fmt.Println("locked")
	time.Sleep(time.Minute) // until it is killed
	return nil
}

// TestLock: a second recorder is refused with the first one's process id, also
// through a link; a killed one's lock is free; reading and noting are not locked.
func TestLock(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	other := exec.Command(os.Args[0])
	other.Env = append(os.Environ(), lockEnv+"="+s.Path())
	out, err := other.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := other.Start(); err != nil {
		t.Fatal(err)
	}
	defer other.Process.Kill() // does nothing once it is gone
	said := make([]byte, 7)
	if _, err := out.Read(said); err != nil || !strings.HasPrefix(string(said), "locked") {
		t.Fatalf("%q, %v", said, err)
	}
	link := filepath.Join(t.TempDir(), "link.db")
	if err := os.Symlink(s.Path(), link); err != nil {
		t.Fatal(err)
	}
	linked, err := Open(t.Context(), link)
	if err != nil {
		t.Fatal(err)
	}
	defer linked.Close()
	for _, store := range []*Store{s, linked} {
		_, err = store.LockWriter(evening)
		want := fmt.Sprintf("lock database %s: %v (process %d, since %s)", s.Path(), ErrLocked, other.Process.Pid, evening.Local().Format("2 Jan 2006 15:04:05 MST"))
		if !isErr(err, ErrLocked) || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
	if err := s.AddEvent(t.Context(), survey.Event{Survey: id, At: evening, Text: "kettle"}); err != nil {
		t.Error(err)
	}
	// A file that tells no time, or nothing.
	for text, want := range map[string]string{"77\n": "(process 77)", "77 noon": "(process 77)", "": "(process unknown)"} {
		if err := os.WriteFile(s.Path()+".lock", []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := s.LockWriter(evening); !isErr(err, ErrLocked) || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
	other.Process.Kill()
	other.Wait() // gives "signal: killed"
	release, err := s.LockWriter(evening)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.LockWriter(evening); !isErr(err, ErrLocked) {
		t.Errorf("%v, want ErrLocked: the same process has it", err)
	}
	if err := release(); err != nil {
		t.Error(err)
	}
	release, err = s.LockWriter(evening)
	if err != nil {
		t.Fatal(err)
	}
	if err := release(); err != nil {
		t.Error(err)
	}
}

// TestLockHoldsTheFile: neither the lock file's removal nor a hard link lets a second recorder
// in, and nothing is written under the other name.
func TestLockHoldsTheFile(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only the lock beside the file on this system")
	}
	s := openTemp(t)
	id := begin(t, s)
	release, err := s.LockWriter(evening)
	must(t, err)
	must(t, os.Remove(s.path+".lock"))
	again, err := Open(t.Context(), s.path)
	must(t, err)
	defer again.Close()
	if _, err := again.LockWriter(evening); !isErr(err, ErrLocked) {
		t.Errorf("without the lock file: %v, want ErrLocked", err)
	}
	link := filepath.Join(t.TempDir(), "link.db")
	must(t, os.Link(s.path, link))
	if err := errOf(Open(t.Context(), link)); !isErr(err, ErrLocked) {
		t.Errorf("through a hard link: %v, want ErrLocked", err)
	}
	must(t, again.AddEvent(t.Context(), survey.Event{Survey: id, At: evening, Text: "kettle"})) // under its own name
	must(t, release())
	linked, err := Open(t.Context(), link)
	must(t, err)
	must(t, linked.Close())
}

// TestHardLink: beside a record a note is let in under the record's name, whatever stands in the
// log, and nobody under another name of the file.
func TestHardLink(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only the lock beside the file on this system")
	}
	s := openTemp(t)
	link := filepath.Join(t.TempDir(), "link.db")
	must(t, os.Link(s.path, link))
	release, err := s.LockWriter(evening)
	must(t, err)
	s.shrinkLog(t.Context())
	again, err := Open(t.Context(), s.path)
	if err != nil {
		t.Fatalf("under the record's own name: %v", err)
	}
	must(t, again.Close())
	must(t, os.WriteFile(link+"-wal", []byte("left behind by a killed one"), 0o600))
	if err := errOf(Open(t.Context(), link)); !isErr(err, ErrLocked) || !strings.Contains(err.Error(), "under another name") {
		t.Errorf("under another name, with a log there: %v, want ErrLocked", err)
	}
	must(t, release())
}
