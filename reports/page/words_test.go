package page

import (
	"bytes"
	"compress/flate"
	"encoding/base64"
	"io"
	"math"
	"strings"
	"testing"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
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

// answered gives what is said of one segment with these setups.
func answered(setups ...result.RankSetup) string {
	r := &result.Report{Rank: result.Rank{Reference: whipStudy,
		Segments: []result.RankSegment{rankOf(nightSegments[2], "all", nil, setups...)}}}
	return strings.ReplaceAll(strings.Join(answersOf(r)[0].Sentences, " "), "\u00a0", " ")
}

func TestAnswers(t *testing.T) {
	few := ranked(loopLoft, 1, 6.2, 0, -5.2, 0.9, true)
	few.Rounds = 4
	unknown := ranked(loopLoft, 1, 6.2, 1.1, 0, 1, true)
	unknown.FloorChange, unknown.SignalChange = nil, nil
	nothing := result.RankSetup{Setup: loopLoft, Flags: []string{}}
	limited := reference(whipStudy, 2, 0, false)
	limited.Flags = []string{survey.FlagReceiverLimited}
	for _, test := range []struct {
		name   string
		setups []result.RankSetup
		want   string
	}{
		{"winner", []result.RankSetup{ranked(loopLoft, 1, 6.2, 1.1, -5.2, 0.98, true), reference(whipStudy, 2, 0, false)},
			"loop@loft:40 hears best: +6.2 dB more SNR than the reference (+5.1 … +7.3). Against the reference its signals are 1.0 dB stronger and its floor is 5.2 dB lower."},
		{"gain unknown", []result.RankSetup{unknown, reference(whipStudy, 2, 0, false)},
			"loop@loft:40 hears best: +6.2 dB more SNR than the reference (+5.1 … +7.3)."},
		{"two loops", []result.RankSetup{ranked(loopLoft, 1, 6.2, 1.1, -5.2, 0.6, true), ranked(loopTurned, 2, 6.0, 1.0, -5, 0.4, true), reference(whipStudy, 3, 0, false)},
			"Not told apart: loop@loft:40 and loop@loft:130. One of them hears best. loop@loft:40 came first: +6.2 dB more SNR than the reference (+5.1 … +7.3). Against the reference its signals are 1.0 dB stronger and its floor is 5.2 dB lower."},
		{"clear of three", []result.RankSetup{ranked(loopLoft, 1, 6.2, 1.1, -5.2, 1, true), ranked(dipole, 2, 1, 1.2, 0, 0, false), reference(whipStudy, 3, 0, false)},
			"loop@loft:40 hears best: +6.2 dB more SNR than the reference (+5.1 … +7.3). Against the reference its signals are 1.0 dB stronger and its floor is 5.2 dB lower."},
		{"no difference", []result.RankSetup{ranked(dipole, 1, 0.4, 1.0, 0.2, 0.6, true), reference(whipStudy, 2, 0.4, true)},
			"No difference seen: any of the 2 may be the best."},
		{"reference first", []result.RankSetup{reference(whipStudy, 1, 0.8, true), ranked(dipole, 2, -1.2, 1.5, 0.7, 0.2, true)},
			"No difference seen: any of the 2 may be the best."},
		{"few rounds", []result.RankSetup{few, reference(whipStudy, 2, 0.1, true)},
			"Too few rounds to tell: loop@loft:40 came first."},
		{"alone", []result.RankSetup{reference(whipStudy, 1, 1, true)},
			"Only whip@study was measured: nothing to compare it with."},
		{"no comparison", []result.RankSetup{nothing, {Setup: whipStudy, Flags: []string{}}}, "No comparison: fewer than two setups share a round and a carrier."},
		{"nothing", []result.RankSetup{nothing}, "Only loop@loft:40 was measured: nothing to compare it with."},
		{"limited", []result.RankSetup{ranked(loopLoft, 1, 6.2, 1.1, -5.2, 1, true), limited},
			"loop@loft:40 hears best: +6.2 dB more SNR than the reference (+5.1 … +7.3). Against the reference its signals are 1.0 dB stronger and its floor is 5.2 dB lower. Through whip@study some floors were in part the receiver's own: its SNR says as much of the receiver as of the antenna."},
	} {
		if got := answered(test.setups...); got != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, got, test.want)
		}
	}
}

// TestPeriods: a part of the day is spoken of where its verdict is not that of
// all hours, or where it has none.
func TestPeriods(t *testing.T) {
	loop := ranked(loopLoft, 1, 6.2, 1.1, -5.2, 0.98, true)
	whip := reference(whipStudy, 3, 0, false)
	all := []result.RankSetup{loop, ranked(dipole, 2, 2, 1, 0, 0, false), whip}
	tied := []result.RankSetup{loop, ranked(dipole, 2, 5.8, 1, 0, 0.4, true), whip}
	few := []result.RankSetup{ranked(dipole, 1, 7, 0, 0, 1, true), ranked(loopLoft, 2, 5, 0, 0, 0, true), reference(whipStudy, 3, 0, true)}
	whole := reference(whipStudy, 3, 0, true)
	for _, test := range []struct {
		name        string
		all, period []result.RankSetup
		rounds      int // of the period; all hours have 24
		want        string
	}{
		{"the same", all, all, 20, ""},
		{"another", all, []result.RankSetup{ranked(dipole, 1, 4.0, 1.0, 0, 1, true), ranked(loopLoft, 2, 1, 1, 0, 0, false), whip}, 20,
			"At night, 20 rounds. dipole@loft:90 hears best: +4.0 dB more SNR than the reference (+3.0 … +5.0)."},
		{"tied at night", all, tied, 20, "At night, 20 rounds. Not told apart: loop@loft:40 and dipole@loft:90. One of them hears best."},
		{"tied but at night", tied, all, 20, "At night, 20 rounds. loop@loft:40 hears best: +6.2 dB more SNR than the reference (+5.1 … +7.3)."},
		{"no difference", all, []result.RankSetup{ranked(dipole, 1, 0.4, 1.0, 0, 0.4, true), ranked(loopLoft, 2, 0.2, 1, 0, 0.3, true), whole}, 20,
			"At night, 20 rounds. No difference seen: any of the 3 may be the best."},
		{"reference at night", all, []result.RankSetup{reference(whipStudy, 1, 1, true), ranked(loopLoft, 2, -3, 1, 0, 0, false)}, 20,
			"At night, 20 rounds. whip@study hears best: the next is 3.0 dB behind (2.0 … 4.0)."},
		{"few rounds", all, few, 4, "At night, 4 rounds. Too few rounds to tell: dipole@loft:90 came first."},
		{"all rounds", all, all, 24, "All rounds fell in the night: of other hours nothing is known."},
		{"few rounds everywhere", few, few, 4, ""},
	} {
		at := func(setups []result.RankSetup, rounds int) (out []result.RankSetup) {
			for _, s := range setups {
				s.Rounds = rounds
				out = append(out, s)
			}
			return out
		}
		r := &result.Report{Rank: result.Rank{Reference: whipStudy, Segments: []result.RankSegment{
			rankOf(nightSegments[2], "all", nil, at(test.all, 24)...), rankOf(nightSegments[2], "night", nil, at(test.period, test.rounds)...)}}}
		if got := strings.Join(periodSentences(&r.Rank.Segments[0], r.Rank.Segments), " "); got != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, got, test.want)
		}
	}
}

// TestOneNameASetup: sentences call a setup as tables and --reference do, at their beginning too.
func TestOneNameASetup(t *testing.T) {
	n := namesOf(night(1, 1))
	about := func(setups ...survey.Setup) doubt.Doubt {
		return doubt.Doubt{Kind: doubt.SomeRounds, About: setups, Figures: []any{23, doubt.Count{N: 24, Noun: "round"}}}
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
