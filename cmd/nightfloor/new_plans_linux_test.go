package main

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"nightfloor/capture/turn/turntest"
	"nightfloor/survey"
)

var planned = flag.Int("planned", 0, "rounds that the nights of new plans have, whose visits last as the plans say; -1: as many as these say; -2: as many, of visits of one sweep; 0: few of these")

// newPlanStations are carriers in the four segments of new plans, Hz: three each on the broadcasters' raster,
// and one beside it.
var newPlanStations = map[string][]float64{
	"49 m": {5950000, 6070000, 6115000, 6147003.5}, "41 m": {7205000, 7300000, 7410000, 7372001.25},
	"31 m": {9450000, 9650000, 9800000, 9702000.25}, "25 m": {11650000, 11800000, 12050000, 11932000.75},
}

// newPlanDongles are the dongles of plan new: its flags, and the stand-in that is such a dongle.
var newPlanDongles = map[string]struct {
	flags, standIn []string
	noise, carrier float64 // dBm/Hz, dBm
}{
	"plain":        {[]string{"--dongle", "plain"}, []string{"branch q"}, -105, -60},
	"built-in":     {[]string{"--dongle", "built-in"}, []string{"tuner r828d", "builtin_upconverter 1", "fullscale -20"}, -150, -105},
	"up-converter": {[]string{"--dongle", "up-converter", "--offset", "125MHz"}, []string{"upconverter 125000000", "fullscale -20"}, -150, -105},
}

// newPlanNights are the nights of new plans by what changes the antennas: by hand 48 changes; by a machine eight
// hours of visits of 60.4 s by a relay, of 90 s by a rotator.
var newPlanNights = map[string]struct{ setups, sweeps, rounds int }{"person": {2, 14, 24}, "relay": {2, 27, 238}, "rotator": {5, 35, 64}}

// loopIsLower is by how much the loop's signals and noise from outside are lower than the whip's.
const loopIsLower = 20 // dB

// newPlanBench readies a bench with a new plan: unedited but for how long it takes, and the relay's and the
// rotator's places.
func newPlanBench(t *testing.T, dongle, by string, rounds int) *bench {
	t.Helper()
	b := newBench(t, map[string]float64{"whip": 0, "loop": -loopIsLower}, nil)
	d := newPlanDongles[dongle]
	sky := append([]string{"antenna 0", "queue 0.025", "figure 8", fmt.Sprintf("noise %g", d.noise)}, d.standIn...)
	for _, stations := range newPlanStations {
		for _, hz := range stations {
			sky = append(sky, fmt.Sprintf("carrier %.2f %g", hz, d.carrier))
		}
	}
	b.control(t, sky...)
	args := append([]string{"plan", "new", "--force", b.plan, "--by", by}, d.flags...)
	if by != "person" {
		args = append(args, "--command", filepath.Join(b.folder, "relay"))
	}
	if status, _, said := command(t, args...); status != 0 {
		t.Fatal(said)
	}
	text, err := os.ReadFile(b.plan)
	if err != nil {
		t.Fatal(err)
	}
	plan := string(text)
	edit := func(key, line string) { plan = regexp.MustCompile(`(?m)^`+key+` = \S+`).ReplaceAllString(plan, line) }
	if *planned != 0 {
		rounds = *planned
	}
	if shortVisits() {
		edit("sweeps", "sweeps = 1")
	}
	if rounds > 0 {
		edit("rounds", fmt.Sprintf("rounds = %d", rounds))
	}
	if by == "rotator" {
		edit("address", fmt.Sprintf("address = %q", mastOf(t)))
	}
	if err := os.WriteFile(b.plan, []byte(plan), 0o644); err != nil {
		t.Fatal(err)
	}
	return b
}

// shortVisits tells whether visits are of one sweep in place of the many that plans say.
func shortVisits() bool { return *planned == 0 || *planned == -2 }

// mastOf gives the address of a rotator's daemon, whose rotator is at once where it is sent.
func mastOf(t *testing.T) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { listener.Close() })
	go func() {
		at := 0.0
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			for in := bufio.NewScanner(conn); in.Scan(); {
				switch command := strings.TrimPrefix(in.Text(), `+\`); {
				case strings.HasPrefix(command, "set_pos "):
					fmt.Sscanf(command, "set_pos %f", &at)
					fmt.Fprintf(conn, "set_pos: %.2f 0\nRPRT 0\n", at)
				case command == "get_pos":
					fmt.Fprintf(conn, "get_pos:\nAzimuth: %.2f\nElevation: 0.00\nRPRT 0\n", at+0.01)
				default:
					fmt.Fprintf(conn, "%s:\nRPRT 0\n", command)
				}
			}
			conn.Close()
		}
	}()
	return listener.Addr().String()
}

// recordByPerson carries out the plan at a terminal, where somebody changes antennas so many times.
func (b *bench) recordByPerson(t *testing.T) {
	t.Helper()
	p := turntest.OpenPTY(t)
	p.Columns(t, 300)
	cmd := b.command("record", "--plan", b.plan, "--db", b.database)
	cmd.Env = append(cmd.Env, "TERM=dumb")
	cmd.Stdin, cmd.Stdout, cmd.Stderr = p.Terminal, p.Terminal, p.Terminal
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() {
		ended <- cmd.Wait()
		fmt.Fprint(p.Terminal, "\x01? for cautions.)") // so that nobody waits for another question
	}()
	for {
		question := p.Await(t, "? for cautions.)")
		if strings.HasSuffix(question, "\x01") {
			break
		}
		gain := map[bool]string{true: "0", false: fmt.Sprint(-loopIsLower)}[strings.Contains(question, "whip@study:")]
		b.set(t, "antenna", gain)
		p.Types(t, "\n")
	}
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
}

// A night of the plan that plan new writes for each kind of dongle, by each way of changing antennas: carriers
// stand at their true radio frequencies within 1 Hz, through every setup, and every visit is to what was
// asked for.
func TestNightsOfNewPlans(t *testing.T) {
	notInShort(t)
	t.Parallel()
	for dongle := range newPlanDongles {
		for by, night := range newPlanNights {
			if by == "rotator" && dongle != "built-in" && *planned == 0 {
				continue // its turns take ten seconds, and have nothing to do with the dongle
			}
			t.Run(dongle+", by "+by, func(t *testing.T) {
				t.Parallel() // it waits, mostly
				b := newPlanBench(t, dongle, by, 1)
				if by == "person" {
					b.recordByPerson(t)
				} else {
					b.record(t)
				}
				if *planned >= 0 {
					night.rounds = max(1, *planned)
				}
				if shortVisits() {
					night.sweeps = 1
				}
				sweeps, surveys, gaps := b.sweeps(t)
				if len(sweeps) != night.rounds*night.setups*night.sweeps || surveys[0].Ending != "all rounds done" || surveys[0].Simulated || len(gaps) != 0 {
					t.Fatalf("%d sweeps, %+v, gaps %v", len(sweeps), surveys, gaps)
				}
				worst, measured := 0.0, 0
				for _, s := range sweeps {
					for _, r := range s.Readings {
						for _, hz := range newPlanStations[r.Segment.Name] {
							off := offTheTruth(r, hz)
							if measured, worst = measured+1, max(worst, off); off > 1 {
								t.Errorf("%v, %s: no carrier within 1 Hz of %.2f, the nearest by %.2f: %v", s.Setup, r.Segment.Name, hz, off, r.Carriers)
							}
						}
					}
				}
				if measured != 16*len(sweeps) {
					t.Errorf("%d carriers in %d sweeps", measured, len(sweeps))
				}
				t.Logf("%d rounds of %d setups, %d sweeps, %d carriers within %.2f Hz", night.rounds, night.setups, len(sweeps), measured, worst)
			})
		}
	}
}

// offTheTruth gives how far the nearest carrier that was detected is from a frequency, Hz.
func offTheTruth(r survey.Reading, hz float64) float64 {
	off := math.Inf(1)
	for _, c := range r.Carriers {
		if c.Detected {
			off = min(off, math.Abs(float64(c.Frequency)-hz))
		}
	}
	return off
}

// The night of the plan that nobody edited gives a ranking: the loop's signals are 20 dB lower, and its noise
// from outside is, which leaves the receiver's own.
func TestUneditedPlanGivesARanking(t *testing.T) {
	notInShort(t)
	t.Parallel() // it waits, mostly
	b := newPlanBench(t, "built-in", "person", 12)
	b.recordByPerson(t)
	status, out, errOut := command(t, "report", "rank", "--db", b.database, "--format", "json")
	var rank rankDocument
	if err := json.Unmarshal([]byte(out), &rank); status != 0 || err != nil {
		t.Fatalf("status %d: %v %s", status, err, errOut)
	}
	gains := map[[2]string]float64{}
	sweeps, _, _ := b.sweeps(t)
	for _, s := range sweeps {
		for _, r := range s.Readings {
			gains[[2]string{s.Setup.Antenna, r.Segment.Name}] = float64(r.Gain.DB)
		}
	}
	ranked := 0
	for _, segment := range rank.Segments {
		if segment.Period != "all" {
			continue
		}
		ranked++
		floor := func(antenna string, outside float64) float64 { // at the terminal, dBm/Hz
			gain := gains[[2]string{antenna, segment.Segment}] + 20 // full scale stands at −20 dBm
			return density(outside, 8, gain, 2.4e6) - gain
		}
		want := -loopIsLower + floor("whip", -150) - floor("loop", -150-loopIsLower)
		for _, s := range segment.Setups {
			if s.Antenna == "loop" && (s.Rank != 2 || s.Advantage == nil || s.Low == nil || s.High == nil || s.MayBeBest || math.Abs(*s.Advantage-want) > 0.3) {
				t.Errorf("%s: rank %d, %.2f dB, want rank 2 and %.2f dB: %+v", segment.Segment, s.Rank, *s.Advantage, want, s)
			}
		}
	}
	if status, verdicts, _ := command(t, "report", "--db", b.database); status != 0 || ranked != 4 || strings.Count(verdicts, "whip@study") < 4 {
		t.Errorf("%d segments are ranked\n%s", ranked, verdicts)
	}
}
