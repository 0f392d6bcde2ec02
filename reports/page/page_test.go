package page

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"html"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/golden"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

var update = flag.Bool("update", false, "rewrite the golden files in testdata")

// written gives the page of a report.
func written(t *testing.T, r *result.Report) string {
	t.Helper()
	var out bytes.Buffer
	if err := Write(&out, r); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// A page tells in its first bytes that it is one, whatever its title and site are.
func TestMarkStandsInFront(t *testing.T) {
	for _, r := range []*result.Report{{}, smallNight()} {
		if at := strings.Index(written(t, r), Mark); at < 0 || at > 100 {
			t.Errorf("the mark stands at byte %d", at)
		}
	}
}

// TestGolden holds the body of a small report's page to testdata/small-night.html,
// with the charts' bundle left out, and the packed pictures too, since another release
// of Go may pack them otherwise.
func TestGolden(t *testing.T) {
	page := written(t, smallNight())
	bundle := asset("charts.min.js")
	if strings.Count(page, bundle) != 1 {
		t.Fatalf("page holds the charts' bundle %d times, want once", strings.Count(page, bundle))
	}
	page = strings.Replace(page, bundle, "/* charts.min.js */", 1)
	_, body, _ := strings.Cut(page, "<body")
	page, _, found := strings.Cut("<body"+body, "</body>")
	if !found {
		t.Fatal("the page has no body")
	}
	page = regexp.MustCompile(`"codes":"[^"]*"`).ReplaceAllString(page, `"codes":"…"`)
	path := filepath.Join("testdata", "small-night.html")
	if *update {
		if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; write it with -update", err)
	}
	if line, g, w := golden.Difference(page, string(want)); line > 0 {
		t.Fatalf("%s, line %d:\n got %.300s\nwant %.300s\nif the change is meant, run with -update and read the difference", path, line, g, w)
	}
}

// TestPolicyMatches hashes what really stands in the page's style and script
// elements: a hash of anything else would keep them from running.
func TestPolicyMatches(t *testing.T) {
	page := written(t, smallNight())
	meta := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(page)
	if meta == nil {
		t.Fatal("no Content-Security-Policy")
	}
	policy := html.UnescapeString(meta[1])
	if !strings.HasPrefix(policy, "default-src 'none';") {
		t.Errorf("policy %q does not begin by forbidding everything", policy)
	}
	if strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") || strings.Contains(policy, "*") {
		t.Errorf("policy %q lets in more than its hashes", policy)
	}
	bodies := regexp.MustCompile(`(?s)<(?:style|script)>(.*?)</(?:style|script)>`).FindAllStringSubmatch(page, -1)
	if len(bodies) != 3 {
		t.Fatalf("%d style and script elements, want 3", len(bodies))
	}
	for _, b := range bodies {
		if !strings.Contains(policy, hash(b[1])) {
			t.Errorf("policy lacks the hash of %.60q", b[1])
		}
	}
}

// hostile are names that a page must show as text and nothing else.
var hostile = []string{
	`</script><script>stolen()</script>`,
	`<img src=x onerror=stolen()>`,
	`"><svg onload=stolen()>`,
	"bell\a null\x00 escape\x1b[31m newline\n return\r",
	"turned \u202e around, split \u2028 line",
	`{{.Data}} ${stolen()} <!-- --> ]]>`,
	"broken \xff\xfe bytes",
	strings.Repeat("long", 60),
}

// hostileReport puts the same hostile text wherever a report takes text.
func hostileReport(text string) *result.Report {
	r := smallNight()
	r.Title, r.Version, r.Site.Name, r.Site.Locator, r.Site.Surroundings = text, text, text, text, text
	r.Surveys[0].Receiver = text
	r.Doubts = []doubt.Doubt{doubt.New("%s", text)}
	bad := survey.Setup{Antenna: text, Placement: text}
	r.Rank.Reference = bad
	for i := range r.Rank.Segments {
		s := &r.Rank.Segments[i]
		s.Segment, s.Doubts = text, []doubt.Doubt{{Kind: "%s", About: []survey.Setup{bad}, Segment: text, Figures: []any{text}}}
		s.Setups[0].Setup, s.Setups[0].Flags = bad, []string{text}
		s.Verdict.Setups[0] = bad
		if s.State != nil {
			s.State = &text
		}
	}
	for i := range r.Floor.Rows {
		r.Floor.Rows[i].Segment, r.Floor.Rows[i].Setup = text, bad
	}
	for i := range r.Pictures {
		r.Pictures[i].Segment, r.Pictures[i].Setup = text, bad
	}
	r.Noise.Doubts = []doubt.Doubt{doubt.New("%s", text)}
	for i := range r.Noise.Sources {
		s := &r.Noise.Sources[i]
		s.Likely, s.Shape, s.Evidence, s.Against = text, &text, []string{text}, []string{text}
		for k := range s.Strength {
			s.Strength[k].Setup, s.Strength[k].Segment = bad, text
		}
	}
	for i := range r.Noise.Rises {
		x := &r.Noise.Rises[i]
		x.Setup, x.Segments, x.Evidence, x.Against = bad, []string{text}, []string{text}, []string{text}
		x.Events = []result.QualityEvent{{At: nightStart, Text: text}}
		for k := range x.Strength {
			x.Strength[k].Setup, x.Strength[k].Segment = bad, text
		}
	}
	r.Noise.Sources[2].Kind, r.Noise.OwnLines[0].Why = text, text
	q := &r.Quality.Surveys[0]
	q.Ending, q.Flagged, q.Gaps[0].Why = &text, map[string]int{text: 1}, text
	return r
}

func TestHostileNames(t *testing.T) {
	for _, text := range hostile {
		page := strings.NewReplacer(asset("charts.min.js"), "", script(), "", asset("page.css"), "").Replace(written(t, hostileReport(text)))
		for _, bad := range []string{"<script>stolen", "<img", "<svg", "\a", "\x00", "\x1b", "\r", "\u202e", "\u2028", "\xff"} {
			if strings.Contains(page, bad) {
				t.Errorf("%q: the page contains %q", text, bad)
			}
		}
		if n := strings.Count(page, "</script>"); n != 3 {
			t.Errorf("%q: %d ends of scripts, want the page's own 3", text, n)
		}
		found := regexp.MustCompile(`(?s)id="data">(.*?)</script>`).FindStringSubmatch(page)
		var data struct{ Setups []string }
		if err := json.Unmarshal([]byte(found[1]), &data); err != nil {
			t.Errorf("%q: data: %v", text, err)
		} else if back, err := survey.ParseSetup(data.Setups[0]); err != nil || back != (survey.Setup{Antenna: text, Placement: text}) {
			t.Errorf("%q: data names the setup %q, which is read as %+v, %v", text, data.Setups[0], back, err)
		}
	}
}

// TestSimulatedIsMarked tells that one simulated part marks title, banner,
// every section with figures and the data; a report without any bears no mark.
func TestSimulatedIsMarked(t *testing.T) {
	none := func() *result.Report {
		r := smallNight()
		r.Simulated, r.Rank.Simulated, r.Floor.Simulated, r.Noise.Simulated = false, false, false, false
		r.Surveys[0].Simulated, r.Quality.Surveys[0].Simulated = false, false
		return r
	}
	strip := strings.NewReplacer(script(), "", asset("page.css"), "")
	if page := strip.Replace(written(t, none())); strings.Contains(page, "Simulated data") {
		t.Error("a report without simulated data is marked")
	}
	for name, mark := range map[string]func(*result.Report){
		"report":  func(r *result.Report) { r.Simulated = true },
		"rank":    func(r *result.Report) { r.Rank.Simulated = true },
		"floor":   func(r *result.Report) { r.Floor.Simulated = true },
		"noise":   func(r *result.Report) { r.Noise.Simulated = true },
		"survey":  func(r *result.Report) { r.Surveys[0].Simulated = true },
		"quality": func(r *result.Report) { r.Quality.Surveys[0].Simulated = true },
	} {
		r := none()
		mark(r)
		page := strip.Replace(written(t, r))
		for _, want := range []string{"<title>Simulated data: ", `<p class="banner"`, `"simulated":true`, `class="simulated-page"`} {
			if !strings.Contains(page, want) {
				t.Errorf("%s simulated: page lacks %s", name, want)
			}
		}
		// What holds figures bears one quiet mark at its heading; cautions hold none.
		for _, section := range regexp.MustCompile(`(?s)<h2 id="(.*?)-title">(.*?)</h2>`).FindAllStringSubmatch(page, -1) {
			figures := slices.Contains([]string{"found", "ranking", "floor", "noise", "quality"}, section[1])
			if strings.Contains(section[2], "Simulated data") != figures {
				t.Errorf("%s simulated: heading %q; marked: want %v", name, section[2], figures)
			}
		}
		// Title, banner, five headings, foot.
		if got := strings.Count(page, "Simulated data"); got != 8 {
			t.Errorf("%s simulated: said %d times, want 8", name, got)
		}
	}
}

// TestSize holds a night of 4 segments, 6 setups, pictures of 300 rows and a house full
// of noise sources to the 1.5 MB that still go with a mail.
func TestSize(t *testing.T) {
	r := night(300, maxColumns) // as many columns as a page keeps: the worst case
	busy := r.Noise.Sources[0]
	for m := range 120 { // on and off every 6 minutes: more often no rounds could tell
		busy.Hours = append(busy.Hours, hoursFrom(float64(m)/10, float64(m)/10+1./20))
		r.Noise.Rises = append(r.Noise.Rises, r.Noise.Rises[1])
	}
	for range 2 * shownSources {
		r.Noise.Sources = append(r.Noise.Sources, busy)
	}
	page := written(t, r)
	const most = 1500e3
	t.Logf("%.2f MB, of which charts %.2f MB", float64(len(page))/1e6, float64(len(asset("charts.min.js")))/1e6)
	if float64(len(page)) > most {
		t.Errorf("page has %d bytes, want at most %.0f", len(page), most)
	}
}

// TestEmptyReport asks for a page of a report in which nothing was compared.
func TestEmptyReport(t *testing.T) {
	page := written(t, &result.Report{Title: "Nothing yet", Made: nightStart})
	for _, want := range []string{"there is no ranking in this report", "not noted", "Nothing is known of the quality"} {
		if !strings.Contains(page, want) {
			t.Errorf("page lacks %q", want)
		}
	}
	if strings.Contains(page, `id="ranking"`) || strings.Contains(page, `id="floor"`) || strings.Contains(page, `id="noise"`) {
		t.Error("page has sections with nothing in them")
	}
}

// TestDamagedPicture asks for an error that names the picture.
func TestDamagedPicture(t *testing.T) {
	for name, spoil := range map[string]func(*result.Waterfall){
		"too few values":    func(p *result.Waterfall) { p.DBFSHz = p.DBFSHz[1:] },
		"no columns":        func(p *result.Waterfall) { p.Columns = 0 },
		"rows out of order": func(p *result.Waterfall) { p.Times[0] = p.Times[1].Add(time.Hour) },
	} {
		r := smallNight()
		spoil(&r.Pictures[0])
		var out bytes.Buffer
		err := Write(&out, r)
		if err == nil || !strings.Contains(err.Error(), "picture of 49 m through whip@study") {
			t.Errorf("%s: error %v, want one that names the picture", name, err)
		}
		if out.Len() > 0 {
			t.Errorf("%s: %d bytes written in spite of the error", name, out.Len())
		}
	}
}

var errFull = errors.New("no space left")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

func TestWriteError(t *testing.T) {
	var w io.Writer = fullDisk{}
	if err := Write(w, smallNight()); !errors.Is(err, errFull) {
		t.Errorf("error %v, want %v inside", err, errFull)
	}
}

// TestNotMeasured asks that NaN and infinities neither break the data nor show.
func TestNotMeasured(t *testing.T) {
	r := smallNight()
	for i := range r.Pictures[0].DBFSHz {
		r.Pictures[0].DBFSHz[i] = float32(math.NaN())
	}
	r.Pictures[1].DBFSHz[0] = float32(math.Inf(-1))
	r.Floor.Rows[0].DBFSHz.P50 = math.NaN()
	r.Floor.Rows[1].DBFSHz = nil
	page := strings.NewReplacer(asset("charts.min.js"), "", script(), "").Replace(written(t, r))
	for _, bad := range []string{"NaN", "Inf"} {
		if strings.Contains(page, bad) {
			t.Errorf("page shows %s", bad)
		}
	}
}

// TestPictureRoundTrip decodes a picture as the script does: levels come back
// within half a step, and what was not measured stays so.
func TestPictureRoundTrip(t *testing.T) {
	p := nightPicture(rand.New(rand.NewPCG(3, 4)), 0, 0, 50, 60)
	p.DBFSHz[7] = float32(math.NaN())
	g, err := shownOf(p)
	if err != nil {
		t.Fatal(err)
	}
	b := boxOf(g, 0)
	codes := inflated(t, b.Codes)
	if len(codes) != len(p.DBFSHz) {
		t.Fatalf("%d codes for %d places", len(codes), len(p.DBFSHz))
	}
	for i, code := range codes {
		if i == 7 {
			if code != nothing {
				t.Errorf("place without measurement has code %d", code)
			}
			continue
		}
		back := b.Offset + b.Step*float64(code)
		if math.Abs(back-float64(p.DBFSHz[i])) > b.Step/2+1e-4 { // float32 keeps 1e-5 dB at −100
			t.Fatalf("place %d: %.3f dBFS/Hz comes back as %.3f with a step of %.3f dB", i, p.DBFSHz[i], back, b.Step)
		}
	}
}

// TestThinning: joining places averages powers. Half at −100 and half at
// −90 dBFS/Hz is 10·log10((1e-10 + 1e-9) / 2) = −92.596 dBFS/Hz.
func TestThinning(t *testing.T) {
	const rows, columns, want, tol = 1000, 450, -92.596, 0.001
	p := result.Waterfall{Segment: "49 m", Setup: whipStudy, Columns: columns, DBFSHz: make([]float32, rows*columns)}
	for r := range rows {
		p.Times = append(p.Times, nightStart.Add(time.Duration(r)*time.Minute))
		for c := range columns {
			p.DBFSHz[r*columns+c] = -100 + 10*float32(c%2)
		}
	}
	g, err := shownOf(p)
	if err != nil {
		t.Fatal(err)
	}
	// A screen of 900 pixels has two for a row of the 1000 minutes joined by two or three.
	if rows := len(g.Times); g.Columns != 150 || rows < 334 || rows > 450 || len(g.DBFSHz) != g.Columns*len(g.Times) {
		t.Errorf("%d columns and %d rows of %d values, want 150 columns and 334 to 450 rows", g.Columns, len(g.Times), len(g.DBFSHz))
	}
	// 450 columns are joined by three; by two, 300, every pair holds both levels.
	q := result.Waterfall{Times: p.Times[:1], Columns: 300, DBFSHz: p.DBFSHz[:300]}
	for c, l := range narrow(q).DBFSHz {
		if math.Abs(float64(l)-want) > tol {
			t.Fatalf("column %d: %.3f dBFS/Hz, want %.3f ± %.3f", c, l, want, tol)
		}
	}
}

// TestScale: of levels evenly spread from −110 to −90 dBFS/Hz the palette takes
// the 1st to 99th percentile in whole decibels, −110 and −90; of a flat floor
// no less than 6 dB.
func TestScale(t *testing.T) {
	var even, flat result.Waterfall
	for i := range 1000 {
		even.DBFSHz = append(even.DBFSHz, -110+20*float32(i)/999)
		flat.DBFSHz = append(flat.DBFSHz, -100)
	}
	if low, high := scale([]result.Waterfall{even}); low != -110 || high != -90 {
		t.Errorf("scale %v to %v, want −110 to −90", low, high)
	}
	if low, high := scale([]result.Waterfall{flat}); high-low < 6 || low > -100 || high < -100 {
		t.Errorf("scale of a flat floor %v to %v, want 6 dB around −100", low, high)
	}
}

// The page's head tells the survey from the first to the last of its readings, as the summary does.
func TestHeadTellsReadings(t *testing.T) {
	start := time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)
	first, last := start.Add(time.Minute), start.Add(time.Hour)
	r := &result.Report{Surveys: []survey.Survey{{ID: 1, Start: start, End: last.Add(3 * time.Minute)}, {ID: 2, Start: start, End: last}}}
	r.Quality.Surveys = []result.QualitySurvey{{Survey: 1, First: &first, Last: &last}}
	facts := factsOf(r)
	if one, two := facts[1], facts[2]; !one.From.Equal(first) || !one.To.Equal(last) || !two.From.Equal(start) || !two.To.Equal(last) {
		t.Errorf("%v to %v, and %v to %v", one.From, one.To, two.From, two.To)
	}
}
