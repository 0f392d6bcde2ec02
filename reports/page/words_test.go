package page

import (
	"bytes"
	"compress/flate"
	"encoding/base64"
	"html"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/verdict"
	"nightfloor/survey"
)

// inflated decodes what deflate and base64 packed.
func inflated(t *testing.T, packed string) []byte {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(packed)
	if err != nil {
		t.Fatal(err)
	}
	out, err := io.ReadAll(flate.NewReader(bytes.NewReader(raw)))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Terminal and page say of every ranking the same, in the same words, and of no two setups that
// one hears best where the verdict does not say so.
func TestTerminalAndPageSayTheSame(t *testing.T) {
	r := night(1, 1)
	shown := regexp.MustCompile(`(?s)<(style|script).*?</(style|script)>`).ReplaceAllString(written(t, r), "")
	shown = html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(shown, " "))
	var summary, ranking bytes.Buffer
	if err := text.WriteSummary(&summary, *r, time.UTC, text.Width); err != nil {
		t.Fatal(err)
	}
	if err := text.WriteTable(&ranking, r.Rank, time.UTC, text.Width); err != nil {
		t.Fatal(err)
	}
	plain := func(text string) string {
		return strings.Join(strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")), " ")
	}
	for name, said := range map[string]string{"page": plain(shown), "summary": plain(summary.String()), "table": plain(ranking.String())} {
		claims := 0
		for i := range r.Rank.Segments {
			s := &r.Rank.Segments[i]
			if name == "summary" && s.Period != result.PeriodAll {
				continue // its periods stand in the table at a glance
			}
			want := verdict.Sentence(s)
			if strings.Contains(want, "hears best") {
				claims++
			}
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say: %s", name, want)
			}
		}
		if got := len(regexp.MustCompile(`@\S+ hears best|One of them hears best`).FindAllString(said, -1)); got != claims {
			t.Errorf("%s says %d times which hears best, want %d", name, got, claims)
		}
		for _, row := range verdict.At(r.Rank).Rows {
			for _, c := range row.Cells {
				if name != "table" && c.Lead != "" && !strings.Contains(said, c.Lead) {
					t.Errorf("%s does not tell the lead %s at a glance", name, c.Lead)
				}
			}
		}
	}
}

// Below the verdict stands how the first setup compares with the reference, and a word on receivers
// that were deaf.
func TestSentences(t *testing.T) {
	s := rankOf(nightSegments[2], "all", nil, ranked(loopLoft, 1, 6.2, 1.1, -5.2, 1, true), reference(whipStudy, 2, 0, false))
	s.Setups[1].Flags = []string{survey.FlagReceiverLimited}
	s.Of = result.OfListed
	s.Listed = []result.ListedLine{{Frequency: 9.42e6, Heard: 20, Rounds: 24, Counts: true}, {Frequency: 9.5e6, Heard: 23, Rounds: 24, Counts: true}, {Frequency: 9.6e6}, {Frequency: 9.996e6, Heard: 2, Rounds: 24}}
	want := []string{"loop@loft:40 hears best, 6.2 dB ahead of whip@study (5.2 … 7.2).", "Compared by what the plan lists: 9.42 MHz heard in 20 of 24 rounds, 9.5 MHz heard in 23 of 24 rounds, 9.6 MHz and 9.996 MHz not.",
		"loop@loft:40 against the reference: +6.2 dB SNR (+5.1 … +7.3); its signals are 1.0 dB stronger, its floor is 5.2 dB lower.",
		"Through whip@study some floors were in part the receiver's own: its SNR says as much of the receiver as of the antenna."}
	var got []string
	for _, x := range sentencesOf(&s, whipStudy) {
		got = append(got, strings.ReplaceAll(x, "\u00a0", " "))
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

// Changes of signal and floor have columns, and the rule that binds them to the advantage is told, only
// where some are known.
func TestChangesOnlyWhereKnown(t *testing.T) {
	r := smallNight()
	const rule = "Advantage = Δ signal − Δ floor"
	if page := written(t, r); !strings.Contains(page, rule) || !strings.Contains(page, "Δ&nbsp;floor") {
		t.Error("changes are known and not shown")
	}
	for i := range r.Rank.Segments {
		for k := range r.Rank.Segments[i].Setups {
			if x := &r.Rank.Segments[i].Setups[k]; x.Setup != whipStudy {
				x.SignalChange, x.FloorChange = nil, nil
			}
		}
	}
	if page := written(t, r); strings.Contains(page, rule) || strings.Contains(page, "Δ&nbsp;floor") {
		t.Error("changes are not known and have columns")
	}
}

// A ranking has the columns of which something is known, with too few rounds, without stations, by what is on the air
// and of a setup alone; the page explains what is there.
func TestColumnsOfRankings(t *testing.T) {
	first, ref := ranked(loopLoft, 1, 6.2, 1.1, -5.2, 1, true), reference(whipStudy, 2, 0, true)
	entry := func(v *result.Verdict, setups ...result.RankSetup) result.RankSegment {
		s := rankOf(nightSegments[2], "all", nil, setups...)
		s.Verdict = v
		return s
	}
	air := entry(verdictOf([]result.RankSetup{first, ref}), first, ref)
	air.Of = result.OfTransmissions
	few, fewRef := first, ref
	few.Low, few.High, few.BestShare, fewRef.BestShare = nil, nil, nil, nil
	silent, silentRef := few, fewRef
	silent.Rank, silent.SNRAdvantage, silent.SignalChange = 0, nil, nil
	silentRef.Rank, silentRef.SNRAdvantage, silentRef.SignalChange, silentRef.FloorChange = 0, nil, nil, nil
	told := []string{"Rank", "Setup", "Advantage, dB", "95&nbsp;% interval, dB", "Δ&nbsp;signal, dB", "Δ&nbsp;floor, dB", "May be best", "Chance to be first", "Rounds"}
	for name, test := range map[string]struct {
		s       result.RankSegment
		columns []string
		has     string
	}{
		"carriers":      {entry(verdictOf([]result.RankSetup{first, ref}), first, ref), append(slices.Clone(told), "Carriers", "Flags"), "The whisker is"},
		"transmissions": {air, append(slices.Clone(told), "Flags"), "The whisker is"},
		"few rounds": {entry(&result.Verdict{Kind: result.VerdictFewRounds}, few, fewRef),
			[]string{"Rank", "Setup", "Advantage, dB", "Δ&nbsp;signal, dB", "Δ&nbsp;floor, dB", "Rounds", "Carriers", "Flags"}, ">≈ &#43;6.2<"},
		"no stations": {entry(&result.Verdict{Kind: result.VerdictNoStations}, silent, silentRef), []string{"Setup", "Δ&nbsp;floor, dB", "Rounds", "Carriers", "Flags"}, ">reference<"},
		"alone":       {entry(nil, reference(whipStudy, 1, 1, true)), nil, "No setups were compared."},
	} {
		section := regexp.MustCompile(`(?s)<section id="found".*?<section id="quality"`).FindString(written(t, &result.Report{Rank: result.Rank{Reference: whipStudy, Segments: []result.RankSegment{test.s}}}))
		ranking := section[strings.Index(section, `<section id="ranking"`):]
		var got []string
		for _, x := range regexp.MustCompile(`<th role="columnheader"[^>]*>([^<]*)`).FindAllStringSubmatch(ranking, -1) {
			got = append(got, x[1])
		}
		if !slices.Equal(got, test.columns) || !strings.Contains(section, test.has) || strings.Contains(section, "The whisker is") != slices.Contains(got, told[3]) ||
			strings.Contains(section, `class="chart`) != slices.Contains(got, told[2]) {
			t.Errorf("%s: columns %q, want %q; want %s in\n%s", name, got, test.columns, test.has, section)
		}
	}
}

// A page without a title says what it is of.
func TestHeading(t *testing.T) {
	first := survey.Survey{ID: 3, Kind: survey.KindImport, Name: "first night"}
	second := survey.Survey{ID: 4, Kind: survey.KindRecord}
	for want, surveys := range map[string][]survey.Survey{"Report": nil, "Imported recordings: first night": {first}, "Surveys 3 and 4": {first, second},
		"Imported recordings": {{ID: 1, Kind: survey.KindImport}}, "Survey 4": {second}, "4 surveys": {first, second, second, first}} {
		page := written(t, &result.Report{Surveys: surveys})
		if !strings.Contains(page, "<title>"+want+"</title>") || !strings.Contains(page, "<h1><bdi>"+want+"</bdi></h1>") {
			t.Errorf("no heading %s", want)
		}
	}
}

// TestOneNameASetup: sentences call a setup as tables and --reference do, at their beginning too.
func TestOneNameASetup(t *testing.T) {
	n := namesOf(night(1, 1))
	about := func(setups ...survey.Setup) doubt.Doubt {
		return doubt.Doubt{Kind: doubt.SomeRounds, About: setups, Figures: []any{"23", doubt.Count{N: 24, Noun: "round"}}}
	}
	for want, d := range map[string]doubt.Doubt{
		"loop@loft:40 and dipole@loft:90: in 23 of 24 rounds together with the reference": about(loopLoft, dipole),
		"8 overloaded readings left out":                      doubt.New(doubt.Overloaded, doubt.Count{N: 8, Noun: "overloaded reading"}),
		"No carrier was heard often enough to compare SNR by": doubt.New(doubt.NoCarrier),
	} {
		if got := doubtsOf([]doubt.Doubt{d}, "", n)[0].Text; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestDoubtsAreExplained: what needs a word more gets it where it stands, in full
// where it comes first.
func TestDoubtsAreExplained(t *testing.T) {
	n := namesOf(night(1, 1))
	lines := func(n int) doubt.Doubt { return doubt.New(doubt.LocalLines, doubt.Count{N: n, Noun: "line"}) }
	got := doubtsOf([]doubt.Doubt{lines(39), lines(3), doubt.New(doubt.NoReference)}, "", n)
	if got[0].Meaning == "" || !got[0].Open || got[1].Meaning != got[0].Meaning || got[1].Open || got[2].Meaning != "" {
		t.Errorf("doubts %+v: want the first two explained and only the first of them open", got)
	}
}

// TestPalette holds the palette to what it promises: equal steps in OKLab and
// rising luminance, for full colour vision and for the three kinds of
// dichromacy.
func TestPalette(t *testing.T) {
	colours := palette()
	var steps []float64
	for i := 1; i < len(colours); i++ {
		steps = append(steps, distance(oklab(colours[i-1]), oklab(colours[i])))
	}
	mean := 0.0
	for _, s := range steps {
		mean += s / float64(len(steps))
	}
	// Eight bits move a colour by up to 1/510 in each channel, about 0.0015 in
	// OKLab; sixteen steps together bury that.
	for i := 0; i+16 <= len(steps); i += 8 {
		sum := 0.0
		for _, s := range steps[i : i+16] {
			sum += s
		}
		if r := sum / 16 / mean; r < 0.85 || r > 1.15 {
			t.Errorf("steps %d to %d are %.2f of the mean step", i, i+16, r)
		}
	}
	for name, m := range dichromats {
		for i := 8; i < len(colours); i += 8 {
			if before, after := seen(m, colours[i-8]), seen(m, colours[i]); after <= before {
				t.Errorf("%s: colour %d is no brighter than colour %d: %.4f, %.4f", name, i, i-8, after, before)
			}
		}
	}
}

// dichromats are the colours as people see them who lack one kind of cone, in
// linear sRGB [Viénot, Brettel, Mollon, 1999, for the first two; Machado,
// Oliveira, Fernandes, 2009, severity 1, for the third].
var dichromats = map[string][3][3]float64{
	"full colour vision": {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"no red cones":       {{0.11238, 0.88762, 0}, {0.11238, 0.88762, 0}, {0.00401, -0.00401, 1}},
	"no green cones":     {{0.29275, 0.70725, 0}, {0.29275, 0.70725, 0}, {-0.02234, 0.02234, 1}},
	"no blue cones":      {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

// seen gives the luminance [ITU-R BT.709] of a colour after matrix m.
func seen(m [3][3]float64, c [3]uint8) float64 {
	var out [3]float64
	for i, row := range m {
		for k, x := range row {
			out[i] += x * linear(c[k])
		}
	}
	return 0.2126*out[0] + 0.7152*out[1] + 0.0722*out[2]
}

func linear(c uint8) float64 {
	if x := float64(c) / 255; x > 0.04045 {
		return math.Pow((x+0.055)/1.055, 2.4)
	} else {
		return x / 12.92
	}
}

// oklab converts sRGB to OKLab [Ottosson, 2020].
func oklab(c [3]uint8) [3]float64 {
	r, g, b := linear(c[0]), linear(c[1]), linear(c[2])
	l := math.Cbrt(0.4122214708*r + 0.5363325363*g + 0.0514459929*b)
	m := math.Cbrt(0.2119034982*r + 0.6806995451*g + 0.1073969566*b)
	s := math.Cbrt(0.0883024619*r + 0.2817188376*g + 0.6299787005*b)
	return [3]float64{
		0.2104542553*l + 0.7936177850*m - 0.0040720468*s,
		1.9779984951*l - 2.4285922050*m + 0.4505937099*s,
		0.0259040371*l + 0.7827717662*m - 0.8086757660*s,
	}
}
