package calibrate

import (
	"math"
	"testing"

	"nightfloor/survey"
)

func TestVerdict(t *testing.T) {
	for _, test := range []struct {
		attenuation, floor, carriers survey.DB // NaN: none
		n                            int
		want                         string
	}{
		{10, 9.7, 10, 8, survey.VerdictExternal},
		{6, 5.5, 6, 8, survey.VerdictExternal}, // scaled: 4.8 to 6.6
		{6, 7.2, 6, 8, survey.VerdictUnclear},
		{10, 9, 15.2, 2, survey.VerdictExternal}, // two that fade say nothing
		{10, 9, 15.2, 3, survey.VerdictProducts},
		{10, 9, 1, 5, survey.VerdictUnclear}, // carriers that do not care
		{10, 9, 4, 5, survey.VerdictUnclear}, // compressed: strong ones lost more than half of what was put in
		{10, 9, 6, 5, survey.VerdictExternal},
		{10, 0.1, 10, 5, survey.VerdictLimited},
		{10, 2.9, 10, 5, survey.VerdictLimited},
		{10, 5, 10, 5, survey.VerdictMixed},
		{10, 13, 10, 5, survey.VerdictUnclear},
		{10, 19, 10, 5, survey.VerdictProducts},
		{10, -4, 10, 5, survey.VerdictUnclear},
		{10, survey.DB(math.NaN()), 9.8, 5, survey.VerdictExternal}, // crowded
		{10, survey.DB(math.NaN()), 9.8, 2, survey.VerdictUnclear},
		{10, survey.DB(math.NaN()), survey.DB(math.NaN()), 0, survey.VerdictUnclear},
	} {
		l := survey.Linearity{Attenuation: test.attenuation, Carriers: test.n}
		if floor := test.floor; floor == floor {
			l.FloorDrop = &floor
		}
		if carriers := test.carriers; carriers == carriers {
			l.CarrierDrop = &carriers
		}
		if got := verdict(l); got != test.want {
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
	all, strong := carrierDrops(heard(0), heard(10), s, 10)
	if len(all) != 2 || len(strong) != 1 || math.Abs(float64(strong[0]-10)) > 1e-9 {
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
