package calibrate

import (
	"math"
	"testing"

	"nightfloor/survey"
)

func TestVerdict(t *testing.T) {
	none := survey.DB(math.NaN())
	for _, test := range []struct {
		attenuation, floor, sigma, carriers, carriersSigma survey.DB // NaN: none
		n                                                  int
		want                                               string
	}{
		{10, 9.7, 0.1, 10, 0.5, 8, survey.VerdictExternal},
		{6, 5.5, 0.1, 6, 0.5, 8, survey.VerdictExternal}, // scaled: 4.8 to 6.6
		{6, 7.2, 0.1, 6, 0.5, 8, survey.VerdictProducts},
		{6, 7.2, 0.4, 6, 0.5, 8, survey.VerdictUnclear},    // 6.4 with 97.5 %
		{10, 9, 0.1, 15.4, 0.1, 2, survey.VerdictExternal}, // two that fade say nothing
		{10, 9, 0.1, 15.4, 0.1, 3, survey.VerdictProducts},
		{10, 9, 0.1, 15.4, 0.3, 3, survey.VerdictExternal}, // nor do three that scatter
		{10, 9, 0.1, 1, 0.5, 5, survey.VerdictUnclear},     // carriers that do not care
		{10, 9, 0.1, 4, 0.5, 5, survey.VerdictUnclear},     // compressed: strong ones lost more than half of what was put in
		{10, 9, 0.1, 6, 0.5, 5, survey.VerdictExternal},
		{10, 9.7, 0.7, 10, 0.5, 8, survey.VerdictExternal},
		{10, 9.7, 0.8, 10, 0.5, 8, survey.VerdictUnclear}, // more than a quarter of 8 to 11 dB
		{10, 0.1, 0.1, 10, 0.5, 5, survey.VerdictLimited},
		{10, 0.1, 1.4, 10, 0.5, 5, survey.VerdictLimited},
		{10, 0.1, 1.5, 10, 0.5, 5, survey.VerdictUnclear}, // 3.1 with 97.5 %
		{10, 2.7, 0.1, 10, 0.5, 5, survey.VerdictLimited},
		{10, 5, 0.1, 10, 0.5, 5, survey.VerdictMixed},
		{10, 5, 0.8, 10, 0.5, 5, survey.VerdictUnclear},
		{10, 13.2, 0.3, 10, 0.5, 5, survey.VerdictProducts},
		{10, 13.2, 1.2, 10, 0.5, 5, survey.VerdictUnclear},
		{10, 19, 0.3, 10, 0.5, 5, survey.VerdictProducts},
		{10, -4, 0.1, 10, 0.5, 5, survey.VerdictUnclear},
		{10, none, none, 9.8, 0.5, 5, survey.VerdictExternal}, // crowded
		{10, none, none, 9.8, 0.8, 5, survey.VerdictUnclear},
		{10, none, none, 9.8, 0.5, 2, survey.VerdictUnclear},
		{10, none, none, none, none, 0, survey.VerdictUnclear},
	} {
		l := survey.Linearity{Attenuation: test.attenuation, Carriers: test.n, FloorDrop: known(test.floor), FloorSigma: known(test.sigma),
			CarrierDrop: known(test.carriers), CarrierSigma: known(test.carriersSigma)}
		if got := verdict(l, test.floor-2*test.sigma); got != test.want {
			t.Errorf("%+v: %s", test, got)
		}
	}
}

// Over four sweeps noise in the bin leaves the level of a carrier 18 dB over it known to
// 4.34·√(2/63)/√4 = 0.4 dB, of one 12 dB over it to 0.8 dB: half a dB is asked for.
func TestStrongCarriers(t *testing.T) {
	s := survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	heard := func(attenuation survey.DBFS) SweepSet {
		r := survey.Reading{Segment: s, Resolution: 100, Floor: &survey.Floor{Density: -120}} // −100 dBFS in a bin
		for i, over := range []survey.DBFS{18, 12} {
			r.Carriers = append(r.Carriers, survey.Carrier{Frequency: 9.5e6 + survey.Hz(1e4*i), Power: (-100 + over - attenuation).Linear(), Detected: true})
		}
		return SweepSet{segments: []survey.Segment{s}, readings: map[survey.Segment][]survey.Reading{s: {r, r, r, r}}}
	}
	fell := AttenuatorTest{heard(0), heard(10), heard(0), 10, nil}.carrierDrops(s, survey.DBFSPerHz(-120).Linear())
	if all, strong := fell.all, fell.strong; len(all) != 2 || len(strong) != 1 || math.Abs(float64(strong[0]-10)) > 1e-9 {
		t.Errorf("of carriers 18 and 12 dB over the noise %v fell, %v of them strong", all, strong)
	}
}

// Of n carriers that lie anywhere, n − 1 besides the one that leads there: by hand.
func TestTail(t *testing.T) {
	for _, test := range []struct {
		n, m int
		p    float64
		want float64
	}{{3, 3, 0.1, 0.01}, {3, 2, 0.1, 1 - 0.81}, {5, 1, 0.1, 1}, {1, 1, 0.3, 1}} {
		if got := binomialTail(test.n, test.m, test.p); math.Abs(got-test.want) > 1e-9 {
			t.Errorf("%+v: %v", test, got)
		}
	}
}

func TestSteadyLines(t *testing.T) {
	at := func(f survey.Hz, power float64, reading int) observed {
		return observed{Carrier: survey.Carrier{Frequency: f, Power: power}, reading: reading}
	}
	lines := steadyLines([]observed{at(1000, 1, 0), at(1004, 3, 1), at(1002, 2, 2), at(1003, 0.1, 2), at(1500, 1, 0), at(1500, 1, 0), at(1700, 1, 1), at(1701, 1, 2)}, 50, 2)
	if len(lines) != 2 || len(lines[0]) != 3 || lines[0].frequency() != 1002 || lines[0].power() != 2 || lines[1].frequency() != 1700.5 {
		t.Errorf("%+v", lines)
	}
	if got := steadyLines(nil, 50, 1); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}
