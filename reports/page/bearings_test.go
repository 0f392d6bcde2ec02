package page

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// turnedNight is the small night with a loop that was turned: P = 0.52 − 0.48·cos 2(θ − null)
// of the peak, so that the null is 10·log10(1/0.04) = 14 dB deep, and a carrier without one.
func turnedNight(null float64) *result.Report {
	r := smallNight()
	sin, cos := math.Sincos(2 * null * math.Pi / 180)
	curve := result.Curve{A0: 0.52, A1: -0.48 * cos, A2: -0.48 * sin}
	low, high := math.Mod(null-2+180, 180), math.Mod(null+2, 180)
	peak := math.Mod(null+90, 180)
	p := result.Pattern{Antenna: "loop", Placement: "loft", Segment: "31 m", Low: 9.4e6, High: 9.9e6, Of: result.OfFloor,
		Null: &null, NullLow: &low, NullHigh: &high, Peak: &peak, Depth: db(14), DepthLow: db(12.8), DepthHigh: db(15.6),
		Fall: &result.Fall{DB: db(11.2), Low: db(10), High: db(12.8)}, Rounds: 12, Curve: &curve, Doubts: []doubt.Doubt{}}
	for deg := 0.0; deg < 180; deg += 30 {
		level := 10 * math.Log10(curve.At(deg))
		p.Points = append(p.Points, result.PatternPoint{Bearing: deg, Level: db(level), OwnLow: db(level - 0.8), OwnHigh: db(level + 0.7), Visits: 12})
	}
	frequency, why := survey.Hz(9.42e6), doubt.New(doubt.PerhapsShallow, 3.0)
	carrier := p
	carrier.Of, carrier.Frequency, carrier.NoNull = result.OfCarrier, &frequency, &why
	carrier.Null, carrier.NullLow, carrier.NullHigh, carrier.Peak, carrier.Fall = nil, nil, nil, nil, nil
	r.Bearings = result.Bearings{Simulated: true, Reference: whipStudy, Patterns: []result.Pattern{p, carrier}}
	return r
}

// The picture stands as a map does: north up, east to the right, level outwards.
func TestPolar(t *testing.T) {
	r := turnedNight(120)
	turns, silent := turnsOf(r)
	if len(turns) != 1 || len(turns[0].Nulls) != 1 || turns[0].Carriers || len(turns[0].Doubts) != 1 || len(silent) != 0 {
		t.Fatalf("%+v", turns)
	}
	p := turns[0].Picture
	// From −14 − 0.8 to 0 + 0.7 dB: 5 dB on the rim, −20 dB in the middle, 25 dB on 140 units.
	if len(p.Rings) != 5 || p.Rings[0].Radius.String() != "140.0" || p.Rings[1].Name != "0 dB" || p.Rings[1].Radius.String() != "112.0" || p.Rings[3].Name != "−10 dB" {
		t.Errorf("rings %+v", p.Rings)
	}
	if east := p.Spokes[3]; east.End.String() != "320.0 180.0" || east.Name != "90°" {
		t.Errorf("east %+v", east)
	}
	if len(p.Dots) != 12 || len(p.Bars) != 12 || !p.Dots[1].Mirror || p.Dots[0].Mirror {
		t.Fatalf("%d dots, %d bars: %+v", len(p.Dots), len(p.Bars), p.Dots)
	}
	// Bearing 30° is the peak, 0 dB: at (180 + 112·sin 30°, 180 − 112·cos 30°).
	if d := p.Dots[2]; d.String() != "236.0 83.0" {
		t.Errorf("peak %+v, want 236.0, 83.0", d)
	}
	// The null at 120°, −13.98 dB: 140·6.02/25 = 33.7 from the middle.
	if d := p.Dots[8]; d.String() != "209.2 196.9" {
		t.Errorf("null %+v, want 209.2, 196.9", d)
	}
	if len(p.Null) != 2 || len(p.NullAreas) != 2 || !strings.HasPrefix(p.Curve, "M") {
		t.Errorf("null drawn %d times, areas %d, curve %.20s", len(p.Null), len(p.NullAreas), p.Curve)
	}
	// About a null at 1° the wedges run from 179° to 183° and from 359° to 3°, the short way.
	acrossNorth, _ := turnsOf(turnedNight(1))
	if across := acrossNorth[0].Picture; across.NullAreas[1] != "M180.0 180.0L177.6 40.0A140.0 140.0 0 0 1 187.3 40.2Z" {
		t.Errorf("wedge across north %s", across.NullAreas[1])
	}
}

// TestPolarScale: half a dB of scatter stays a narrow ring, 10 dB on 140 units; a null of
// 80 dB leaves the rest apart, 30 dB on 140 units: −10 dB stands at two thirds.
func TestPolarScale(t *testing.T) {
	for low, want := range map[survey.DB]float64{-0.5: 140 - 0.5*14, -80: 140 * 2 / 3.0} {
		second := max(low, -10)
		p := &result.Pattern{Points: []result.PatternPoint{{Level: new(survey.DB(0))}, {Level: &low}, {Level: &second}}}
		s, ok := polarScale(p)
		if r := s.radius(float64(second)); !ok || math.Abs(r-want) > 0.01 || s.radius(0) != 140 {
			t.Errorf("down to %v dB: %v dB at %.1f units, 0 dB at %.1f, want %.1f and 140", low, second, r, s.radius(0), want)
		}
	}
}

func TestBearingsSection(t *testing.T) {
	text := written(t, turnedNight(120))
	section := regexp.MustCompile(`(?s)<section id="bearings".*?</section>`).FindString(text)
	for _, want := range []string{"By bearing <span class=\"simulated\">", "Simulated data</text>", "120° and 300° (95\u00a0% interval 118° to 122°), 14.0 dB under the peak",
		"against whip@study", "9.42 MHz: no null claimed: it may be less than 3 dB deep", "Turned to 120° / 300°: the floor falls by 11.2\u00a0dB (10.0\u00a0…\u00a012.8)", "120° / 300°", "12.8 … 15.6"} {
		if !strings.Contains(section, want) {
			t.Errorf("section lacks %q", want)
		}
	}
	twice := turnedNight(120)
	for _, p := range slices.Clone(twice.Bearings.Patterns) {
		p.Segment = "25 m"
		twice.Bearings.Patterns = append(twice.Bearings.Patterns, p)
	}
	if page := written(t, twice); strings.Count(page, "What falls does so") != 1 || strings.Count(page, "Turned to 120°") != 2 {
		t.Error("what falls is not explained once for all segments")
	}
	for _, want := range []string{"<th role=\"rowheader\" scope=\"row\">9.42 MHz", "a bearing taken from them is not reliable"} {
		if strings.Contains(section, want) {
			t.Errorf("a carrier without a null: the section has %q", want)
		}
	}
	if strings.Contains(written(t, smallNight()), `id="bearings"`) {
		t.Error("a report without a turned antenna has the section")
	}
	r := turnedNight(120)
	bad := strings.Join(hostile, "")
	for i := range r.Bearings.Patterns {
		p := &r.Bearings.Patterns[i]
		p.Antenna, p.Placement, p.Segment, p.Doubts = bad, bad, bad, []doubt.Doubt{doubt.New("%s", bad)}
	}
	section = regexp.MustCompile(`(?s)<section id="bearings".*?</section>`).FindString(written(t, r))
	for _, wrong := range []string{"<script", "<img", "<svg onload", "\a", "\x00", "\x1b", "\r", "\u202e", "\u2028", "\xff"} {
		if strings.Contains(section, wrong) {
			t.Errorf("hostile names: the section contains %q", wrong)
		}
	}
}

// Of an antenna that was turned too little there is one sentence, whatever was heard through it.
func TestTurnedTooLittle(t *testing.T) {
	r := turnedNight(120)
	why := doubt.New(doubt.FewBearings, doubt.Count{N: 2, Noun: "bearing"}, 4)
	for i := range r.Bearings.Patterns {
		p := &r.Bearings.Patterns[i]
		p.Null, p.NullLow, p.NullHigh, p.Peak, p.Fall, p.Curve, p.NoNull = nil, nil, nil, nil, nil, nil, &why
	}
	section := regexp.MustCompile(`(?s)<section id="bearings".*?</section>`).FindString(written(t, r))
	if want := "loop@loft on 31 m: null not measured: 2 bearings (opposite ones count once), and a null needs 4."; strings.Count(section, want) != 1 || strings.Contains(section, "<table") || strings.Contains(section, "<svg") {
		t.Errorf("want %q, and nothing else, in\n%s", want, section)
	}
}

func TestBearingsInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: no browser")
	}
	ctx := browse(t)
	r := night(60, 60)
	r.Pictures, r.Floor.Rows = r.Pictures[:2*len(allSetups)], r.Floor.Rows[:len(r.Floor.Rows)/2] // 49 and 41 m
	r.Bearings = turnedNight(120).Bearings
	address := saved(t, r)
	for _, look := range looks {
		t.Run(look.name, func(t *testing.T) {
			shown := look
			shown.name = "bearings, " + look.name
			checkLook(t, ctx, address, shown)
			if width := eval[float64](t, ctx, `document.querySelector("svg.polar").getBoundingClientRect().width`); width < 300 {
				t.Errorf("polar picture is %.0f px wide", width)
			}
		})
	}
}
