package reports

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// twoNights is a real and a simulated survey: 31 m in both, 49 m in the first only.
func twoNights() input.Input {
	var in input.Input
	low := survey.Segment{Name: "49 m", Low: 5.9e6, High: 6.2e6}
	for id := range int64(2) {
		begin := gainStart.Add(time.Duration(id) * 24 * time.Hour)
		in.Surveys = append(in.Surveys, survey.Survey{ID: id + 1, Kind: survey.KindImport, Simulated: id == 1, First: whip, Start: begin})
		in.Gaps = append(in.Gaps, survey.Gap{Survey: id + 1, From: begin, To: begin.Add(time.Minute), Why: "unplugged"})
		for i := range 4 {
			s := atGain([]survey.Setup{whip, loop}[i%2], 0, exact(20), -120)
			s.Survey, s.Round, s.Start = id+1, i/2+1, begin.Add(time.Duration(i)*time.Minute)
			s.Readings[0].Start = s.Start
			if id == 0 {
				r := s.Readings[0]
				r.Segment = low
				s.Readings = append(s.Readings, r)
			}
			in.Sweeps = append(in.Sweeps, s)
		}
	}
	return in
}

func TestSettleNamesTheOptionAtFault(t *testing.T) {
	zone := time.Local
	time.Local = time.FixedZone("CET", 3600)
	t.Cleanup(func() { time.Local = zone })
	in := twoNights()
	in.Surveys = append(in.Surveys, survey.Survey{ID: 3, Start: gainStart.Add(48 * time.Hour)})
	early, late := gainStart.Add(-2*time.Hour), gainStart.Add(-time.Hour)
	for _, test := range []struct {
		opts input.Options
		want string
	}{
		{input.Options{Segment: "31x"}, `segment "31x": not in the database; there are 49 m, 31 m`},
		{input.Options{Segment: "49 m", Survey: 2}, `segment "49 m": not in survey 2; there are 31 m`},
		{input.Options{Survey: 7}, "survey 7: there are 1 to 3"},
		{input.Options{Survey: 3}, "survey 3: it holds no sweeps"},
		{input.Options{From: late, To: early}, "--to 3 Nov 2026 18:00:00 CET lies before --from 3 Nov 2026 19:00:00 CET"},
		{input.Options{From: early, To: late}, "nothing between 3 Nov 2026 18:00:00 CET and 3 Nov 2026 19:00:00 CET; the database covers 3 Nov 2026 20:00:00 CET to 4 Nov 2026 20:03:00 CET"},
		{input.Options{To: late}, "nothing before 3 Nov 2026 19:00:00 CET; the database covers"},
		{input.Options{From: gainStart.Add(time.Hour), Survey: 1}, "nothing from 3 Nov 2026 21:00:00 CET on; survey 1 covers 3 Nov 2026 20:00:00 CET to 3 Nov 2026 20:03:00 CET"},
		{input.Options{From: gainStart.Add(time.Hour), Segment: "49m"}, "on; 49 m in the database covers 3 Nov 2026 20:00:00 CET to 3 Nov 2026 20:03:00 CET"},
	} {
		_, err := input.Refine(in, test.opts)
		if !errors.Is(err, input.ErrNothing) || errors.Is(err, input.ErrReference) || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%+v: %v, want %s", test.opts, err, test.want)
		}
		if _, _, err := reportOf(in, test.opts); !errors.Is(err, input.ErrNothing) {
			t.Errorf("%+v: the report says %v", test.opts, err)
		}
	}
	in.Surveys = append(in.Surveys, survey.Survey{ID: 9})
	if _, err := input.Refine(in, input.Options{Survey: 7}); err == nil || !strings.Contains(err.Error(), "there are 1, 2, 3 and 9") {
		t.Errorf("%v", err)
	}
	if _, err := input.Refine(input.Input{}, input.Options{}); !errors.Is(err, input.ErrNothing) || !strings.Contains(err.Error(), "no sweeps are stored") {
		t.Errorf("an empty database: %v", err)
	}
}

func TestSettleReadsSegmentsAsTheyAreWritten(t *testing.T) {
	in := twoNights()
	for _, text := range []string{"31 m", "31m", "31M", " 31  m", "9400-9900", "9.4MHz-9.9MHz"} {
		if opts, err := input.Refine(in, input.Options{Segment: text}); err != nil || opts.Segment != "31 m" {
			t.Errorf("%q: %q, %v", text, opts.Segment, err)
		}
	}
	for _, s := range in.Sweeps { // as recordings are that do not hold the whole band
		s.Readings[0].Segment.Low += 100e3
	}
	if opts, err := input.Refine(in, input.Options{Segment: "9400-9900"}); err != nil || opts.Segment != "31 m" {
		t.Errorf("the edges of a band of which a part was measured: %q, %v", opts.Segment, err)
	}
	r, _, err := reportOf(in, input.Options{Segment: "49m"})
	if err != nil || len(r.Floor.Rows) == 0 || r.Floor.Rows[0].Segment != "49 m" {
		t.Errorf("49m: %v", err)
	}
}

// A misspelt reference is told from options that leave nothing, and lists the setups.
func TestMisspeltReferenceOfAReport(t *testing.T) {
	_, _, err := reportOf(twoNights(), input.Options{Reference: "lop@attic"})
	if !errors.Is(err, input.ErrReference) || errors.Is(err, input.ErrNothing) || !strings.Contains(err.Error(), "whip@attic, loop@attic") {
		t.Errorf("%v", err)
	}
}

// A setup is found by what tables print of it, cut or whole.
func TestReferenceAsPrinted(t *testing.T) {
	long := survey.Setup{Antenna: "wire: \x1b[31m 20 m under the roof", Placement: "north end of the attic", Bearing: survey.BearingOf(110.5)}
	in := twoNights()
	for i, s := range in.Sweeps {
		if s.Setup.Antenna == "loop" {
			named := *s
			named.Setup = long
			in.Sweeps[i] = &named
		}
	}
	for _, room := range []int{100, wording.SentenceRoom, wording.SetupRoom, 20} {
		r, _, err := reportOf(in, input.Options{Reference: long.Short(room)})
		if err != nil || r.Rank.Reference != long {
			t.Errorf("--reference %s: %v, %v", long.Short(room), r.Rank.Reference, err)
		}
	}
}

// Simulated surveys beside real ones are left out, with a word, unless asked for.
func TestSimulatedBesideReal(t *testing.T) {
	in := twoNights()
	r, notes, err := reportOf(in, input.Options{})
	if err != nil || r.Simulated || r.Rank.Simulated || r.Floor.Simulated || len(r.Surveys) != 1 || len(r.Quality.Surveys) != 1 {
		t.Fatalf("simulated %v, surveys %+v, %v", r.Simulated, r.Surveys, err)
	}
	const word = "survey 2 is simulated and left out"
	if len(notes) != 1 || !strings.Contains(notes[0], word) || !strings.Contains(fmt.Sprint(r.Doubts), word) {
		t.Errorf("notes %q, doubts %q", notes, r.Doubts)
	}
	for _, row := range r.Floor.Rows {
		if row.From.After(gainStart.Add(12 * time.Hour)) {
			t.Errorf("a simulated hour, %v", row.From)
		}
	}
	// Asked for by number, or alone in the time asked for: simulated, and marked.
	for _, opts := range []input.Options{{Survey: 2}, {From: gainStart.Add(12 * time.Hour)}} {
		r, notes, err := reportOf(in, opts)
		if err != nil || !r.Simulated || len(r.Floor.Rows) == 0 || len(notes) != 0 {
			t.Errorf("%+v: simulated %v, notes %q, %v", opts, r.Simulated, notes, err)
		}
	}
	if r, notes, err := reportOf(in, input.Options{Survey: 1}); err != nil || r.Simulated || len(notes) != 0 {
		t.Errorf("survey 1: simulated %v, notes %q, %v", r.Simulated, notes, err)
	}
	if len(in.Surveys) != 2 || len(in.Sweeps) != 8 || len(in.Gaps) != 2 {
		t.Error("the input was changed")
	}
	in.Surveys = append(in.Surveys, survey.Survey{ID: 5, Simulated: true})
	if s := reporttest.Selected(in, input.Options{}); len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "surveys 2 and 5 are simulated") {
		t.Errorf("notes %q", s.Notes)
	}
}
