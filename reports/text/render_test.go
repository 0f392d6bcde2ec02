package text

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/floor"
	goldenfile "nightfloor/reports/golden"
	"nightfloor/reports/input"
	"nightfloor/reports/quality"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// sample is a small night with one clear winner, a tie, a deaf antenna, local lines
// and a name that means ill.
func sample() input.Input {
	w := reporttest.NewWorld(4)
	w.Gain, w.Floor = []float64{0, 6, 5.8, -12}, []float64{-98, -103, -102, -95}
	w.Rounds, w.Interval, w.Pattern, w.Fade = 24, 90*time.Second, 1.5, 4
	w.Levels = []float64{12, 16, 20, 24, 28, 32, 36, 40}
	in := w.Input()
	for i, s := range in.Sweeps {
		r := &s.Readings[0]
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: 9632400, Power: 1e-7, Sigma: 1e-9, Detected: true})
		if i%50 == 7 {
			r.Quality.Flags = []string{survey.FlagOverload}
		}
		if s.Setup.Antenna == "antenna D" {
			s.Setup = survey.Setup{Antenna: "wire\x1b[31m", Placement: "under the stairs of the neighbour", Bearing: survey.BearingOf(40)}
		}
	}
	in.Gaps = []survey.Gap{{Survey: 1, From: w.Start.Add(time.Hour), To: w.Start.Add(80 * time.Minute), Why: "receiver unplugged"}}
	return in
}

func sampleReport(t testing.TB) result.Report {
	in := sample()
	return result.Report{Title: "Test house", Simulated: true, Surveys: in.Surveys, Site: in.Surveys[0].Site,
		Rank: rankIn(t, in, input.Options{}), Floor: floor.Of(reporttest.Selected(in, input.Options{})), Quality: quality.Of(reporttest.Selected(in, input.Options{}))}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if line, g, w := goldenfile.Difference(string(got), string(want)); line > 0 {
		t.Errorf("%s:%d\n got %q\nwant %q", name, line, g, w)
	}
}

func TestGolden(t *testing.T) {
	r := sampleReport(t)
	for name, write := range map[string]func(b *bytes.Buffer) error{
		"summary.txt":    func(b *bytes.Buffer) error { return WriteSummary(b, r, reporttest.Zone, Width) },
		"summary-80.txt": func(b *bytes.Buffer) error { return WriteSummary(b, r, reporttest.Zone, 80) },
		"rank.txt":       func(b *bytes.Buffer) error { return WriteTable(b, r.Rank, reporttest.Zone, Width) },
		"rank-80.txt":    func(b *bytes.Buffer) error { return WriteTable(b, r.Rank, reporttest.Zone, 80) },
		"floor.txt":      func(b *bytes.Buffer) error { return WriteTable(b, r.Floor, reporttest.Zone, Width) },
		"floor-80.txt":   func(b *bytes.Buffer) error { return WriteTable(b, r.Floor, reporttest.Zone, 80) },
		"quality.txt":    func(b *bytes.Buffer) error { return WriteTable(b, r.Quality, reporttest.Zone, Width) },
		"quality-80.txt": func(b *bytes.Buffer) error { return WriteTable(b, r.Quality, reporttest.Zone, 80) },
		"rank.json":      func(b *bytes.Buffer) error { return result.WriteJSON(b, r.Rank) },
		"floor.csv":      func(b *bytes.Buffer) error { return WriteCSV(b, r.Floor) },
		"rank.csv":       func(b *bytes.Buffer) error { return WriteCSV(b, r.Rank) },
		"quality.csv":    func(b *bytes.Buffer) error { return WriteCSV(b, r.Quality) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		golden(t, name, b.Bytes())
		if strings.ContainsRune(b.String(), '\x1b') && !strings.HasSuffix(name, ".json") {
			t.Errorf("%s carries an escape character", name)
		}
		checkWidth(t, name, b.String())
	}
}

// checkWidth wants lines of a golden file no longer than it says, or than Width.
func checkWidth(t *testing.T, name, text string) {
	t.Helper()
	most := Width
	switch {
	case !strings.HasSuffix(name, ".txt"):
		return
	case strings.HasSuffix(name, "-80.txt"):
		most = 80
	}
	for i, line := range strings.Split(text, "\n") {
		if n := len([]rune(line)); n > most {
			t.Errorf("%s:%d is %d characters wide", name, i+1, n)
		}
	}
}

func TestJSONIsWhole(t *testing.T) {
	var b bytes.Buffer
	rank := sampleReport(t).Rank
	if err := result.WriteJSON(&b, rank); err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	seg := doc["segments"].([]any)[0].(map[string]any)
	setup := seg["setups"].([]any)[0].(map[string]any)
	for _, field := range []string{"antenna", "placement", "bearing_deg", "rank", "snr_advantage_db", "low_db", "high_db",
		"signal_change_db", "floor_change_db", "best_share", "may_be_best", "rounds", "carriers", "flags"} {
		if _, ok := setup[field]; !ok {
			t.Errorf("setup without %s", field)
		}
	}
	for _, field := range []string{"segment", "low_hz", "high_hz", "period", "setups"} {
		if _, ok := seg[field]; !ok {
			t.Errorf("segment without %s", field)
		}
	}
	want := float64(*rank.Segments[0].Setups[0].SNRAdvantage)
	if got := setup["snr_advantage_db"].(float64); got < want-5e-5 || got > want+5e-5 {
		t.Errorf("advantage %v, want %v to four decimals", got, want)
	}
}

func TestCSVRowsAreEven(t *testing.T) {
	r := sampleReport(t)
	for _, answer := range []any{r.Rank, r.Floor, r.Quality} {
		var b bytes.Buffer
		if err := WriteCSV(&b, answer); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll() // refuses rows of unequal length
		if err != nil || len(rows) < 2 {
			t.Errorf("%T: %d rows, %v", answer, len(rows), err)
		}
	}
}

// One precision a column: tenths, hundredths where every interval is narrower than a
// tenth; zero bears no sign.
func TestOnePrecisionAColumn(t *testing.T) {
	three := func(x, low, high survey.DB) result.RankSetup {
		return result.RankSetup{SNRAdvantage: &x, Low: &low, High: &high}
	}
	reference := three(0, 0, 0)
	for _, test := range []struct {
		setups         []result.RankSetup
		want, interval string // of the first
	}{
		{[]result.RankSetup{three(6.2468, 5.1357, 7.3579), reference}, "+6.2", "+5.1 … +7.4"},
		{[]result.RankSetup{three(-6.2468, -12.1, -0.03), reference}, "−6.2", "−12.1 … 0.0"},
		{[]result.RankSetup{three(0.0468, 0.0032, 0.0968), reference}, "+0.05", "0.00 … +0.10"},
		{[]result.RankSetup{three(0.0468, 0.0032, 0.0968), three(3, 2, 4), reference}, "0.0", "0.0 … +0.1"},
		{[]result.RankSetup{three(0.0468, -0.0532, 0.1468)}, "0.0", "−0.1 … +0.1"},
		{[]result.RankSetup{reference}, "0.0", "0.0 … 0.0"},
	} {
		p, s := Places(test.setups), test.setups[0]
		if got, interval := wording.Signed(s.SNRAdvantage, p), wording.Interval(s.Low, s.High, p); got != test.want || interval != test.interval {
			t.Errorf("%s (%s), want %s (%s)", got, interval, test.want, test.interval)
		}
	}
	for x, want := range map[float64]string{-0.04: "0.0", 0.04: "0.0", -0.06: "−0.1", -98.25: "−98.2", 3: "3.0"} {
		if got := wording.Number(x, 1); got != want {
			t.Errorf("%v: %s, want %s", x, got, want)
		}
	}
}

// Both ends of the intervals of a table stand under each other.
func TestIntervalsAreAligned(t *testing.T) {
	three := func(x, low, high survey.DB) result.RankSetup {
		return result.RankSetup{SNRAdvantage: &x, Low: &low, High: &high}
	}
	got := alignedIntervals([]result.RankSetup{three(6, 4.81, 7), three(-12, -13.5, -10.7), {}}, 1)
	if want := []string{" +4.8 …  +7.0", "−13.5 … −10.7", "–"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestPrintable(t *testing.T) {
	for in, want := range map[string]string{
		"loop, 1 m": "loop, 1 m", "Küche°": "Küche°", "a\x1b[31mb\n": `a\x1b[31mb\x0a`,
		"\xff": `\xff`, "ab\u202ecd": `ab\u202ecd`, "\u200b": `\u200b`, "\u009b": `\u009b`,
	} {
		if got := wording.Printable(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
