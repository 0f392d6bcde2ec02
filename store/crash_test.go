package store

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

var fresh = flag.Bool("fresh", false, "fresh seeds for tests that draw lots")

// crashEnv makes the test program be the child of TestKill, on that database.
const crashEnv = "NIGHTFLOOR_TEST_CRASH_DB"

// TestMain runs the tests, or is the other process of one.
func TestMain(m *testing.M) {
	for env, role := range map[string]func(path string) error{crashEnv: storeForEver, lockEnv: holdLock, noteEnv: noteEvent} {
		path := os.Getenv(env)
		if path == "" {
			continue
		}
		if err := role(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// storeForEver stores sweeps and says which, each once it is stored, now and
// then with a carrier and a comb measured by force behind.
func storeForEver(path string) error {
	ctx := context.Background()
	s, err := Open(ctx, path)
	if err != nil {
		return err
	}
	id, err := s.BeginSurvey(ctx, survey.Survey{Kind: survey.KindRecord, Simulated: true, First: nightSetups[0], Start: evening})
	if err != nil {
		return err
	}
	n := night{seeded(), 3, 8, 500}
	for i := 0; ; i++ {
		sweep := n.sweep(id, i)
		if err := s.AddSweep(ctx, sweep); err != nil {
			return err
		}
		fmt.Println("sweep", sweep.ID)
		if i%4 == 3 {
			reading := sweep.Readings[0].ID
			forced := map[int64][]survey.Carrier{reading: {{Frequency: 1, Power: -1e-9, Sigma: 1e-9}}}
			if err := s.AddCarriers(ctx, forced); err != nil {
				return err
			}
			fmt.Println("forced", reading)
			comb := map[int64][]survey.Finding{reading: {{Kind: survey.FindingComb, Spacing: 1}}}
			if err := s.AddFindings(ctx, comb); err != nil {
				return err
			}
			fmt.Println("comb", reading)
		}
	}
}

// TestKill kills a process that stores, at random moments: what it said was
// stored is there, whole, and the database is sound.
func TestKill(t *testing.T) {
	kills := 5
	if testing.Short() {
		kills = 2
	}
	rng := seeded()
	if *fresh {
		rng = rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64()))
	}
	path := filepath.Join(t.TempDir(), "crash.db")
	promised := map[string]bool{}
	for range kills {
		before := len(promised)
		killedChild(t, path, time.Duration(rng.Int64N(int64(300*time.Millisecond))), promised)
		t.Logf("killed after %d promises", len(promised)-before)
		s, err := Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Check(t.Context()); err != nil {
			t.Error(err)
		}
		keepsPromises(t, s, promised)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if len(promised) < kills {
		t.Errorf("only %d promises: the test has seen nothing", len(promised))
	}
}

// killedChild starts a child, kills it some time after its first promise, and
// adds what it promised.
func killedChild(t *testing.T, path string, after time.Duration, promised map[string]bool) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), crashEnv+"="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Wait() // gives "signal: killed"
	defer cmd.Process.Kill()
	lines := bufio.NewReader(out)
	for first := true; ; first = false {
		line, err := lines.ReadString('\n')
		if err != nil {
			if first {
				t.Error("the child promised nothing")
			}
			return // a line cut short is no promise
		}
		promised[strings.TrimSpace(line)] = true
		if first {
			time.AfterFunc(after, func() { cmd.Process.Kill() })
		}
	}
}

// keepsPromises looks for every sweep, and every carrier and comb measured by force.
func keepsPromises(t *testing.T, s *Store, promised map[string]bool) {
	t.Helper()
	found, half := foundPromises(t, s)
	for _, what := range half {
		t.Error(what)
	}
	for p := range promised {
		if !found[p] {
			t.Errorf("%s was promised and is not there", p)
		}
	}
}

// foundPromises gives what is there of what storeForEver promises, and what was stored by half.
func foundPromises(t *testing.T, s *Store) (found map[string]bool, half []string) {
	t.Helper()
	found = map[string]bool{}
	for _, sweep := range all(t, s, Filter{}) {
		if len(sweep.Readings) != 3 {
			half = append(half, fmt.Sprintf("sweep %d has %d readings, want 3", sweep.ID, len(sweep.Readings)))
		}
		found["sweep "+strconv.FormatInt(sweep.ID, 10)] = true
		for _, r := range sweep.Readings {
			if len(r.Carriers) > 0 && r.Carriers[0].Frequency == 1 {
				found["forced "+strconv.FormatInt(r.ID, 10)] = true
			}
			if len(r.Findings) > 4 && r.Findings[4].Spacing == 1 {
				found["comb "+strconv.FormatInt(r.ID, 10)] = true
			}
			if len(r.Findings) < 4 || len(r.Carriers) < 8 {
				half = append(half, fmt.Sprintf("reading %d has %d findings and %d carriers, want 4 and 8", r.ID, len(r.Findings), len(r.Carriers)))
			}
		}
	}
	return found, half
}
