package stations

import (
	"math"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/survey"
)

// A testLine is a line as it is measured in one cell: power over the floor, its standard error, and
// where it was detected.
type testLine struct{ power, sigma, place float64 }

// segmentOf gives a segment of which each cell is known, by line, setup and round.
func segmentOf(segment survey.Segment, lines, setups, rounds int, at func(line, setup, round int) testLine) (m *matrix.Matrix, all []int) {
	m = &matrix.Matrix{Segment: segment, Own: make([]bool, lines)}
	for k := range setups {
		m.Setups = append(m.Setups, survey.Setup{Antenna: string(rune('a' + k))})
		m.Cells = append(m.Cells, nil)
		for n := range rounds {
			c := &matrix.Cell{Floor: 1, Gain: survey.Gain{Known: true}}
			for i := range lines {
				x := at(i, k, n)
				c.Snr, c.Sigma, c.Place = append(c.Snr, x.power), append(c.Sigma, x.sigma), append(c.Place, x.place)
			}
			m.Cells[k] = append(m.Cells[k], c)
		}
	}
	for i := range lines {
		m.Lines = append(m.Lines, at(i, 0, 0).place)
	}
	for n := range rounds {
		all, m.Rounds = append(all, n), append(m.Rounds, input.RoundKey{Survey: 1, Round: n + 1})
	}
	return m, all
}

var (
	amateur   = survey.Segment{Name: "30 m amateur", Low: 10.1e6, High: 10.15e6}
	broadcast = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
)

// level gives a power that goes up and down by so many dB.
func level(dB float64, round int) float64 { return math.Pow(10, dB*float64(round%2)/10) }

// Changes of 1.01 dB have a spread of 1.5 dB, were they normal, those of 6.8 Hz one of 10.1 Hz: a
// millionth of the frequency.
func TestWhatShowsAStation(t *testing.T) {
	for _, test := range []struct {
		name         string
		fade, wander float64 // dB, Hz from round to round
		sigmas       float64 // of its power
		rounds       int
		beside       float64 // dB by which another line goes up and down with it
		of           int     // rounds in which that is strong
		want         bool
	}{
		{"fades", 1.05, 0, 100, 8, 0, 8, true}, {"stands still", 0.95, 0, 100, 8, 0, 8, false},
		{"keeps its frequency", 3, 6.5, 100, 8, 0, 8, true}, {"wanders", 3, 7.2, 100, 8, 0, 8, false},
		{"strong", 3, 0, 10.5, 8, 0, 8, true}, {"weak", 3, 0, 9.5, 8, 0, 8, false},
		{"five changes", 3, 0, 100, 6, 0, 6, true}, {"four", 3, 0, 100, 5, 0, 5, false},
		{"another fades otherwise", 3, 0, 100, 8, 1.9, 8, true}, {"another goes with it", 3, 0, 100, 8, 2.1, 8, false},
		{"with it in 8 of 15 changes", 3, 0, 100, 16, 3, 9, false}, {"in 7", 3, 0, 100, 16, 3, 8, true},
	} {
		m, rounds := segmentOf(amateur, 2, 1, test.rounds, func(line, _, n int) testLine {
			if line == 1 && n < test.of {
				return testLine{level(test.beside, n), 1e-3, 10.13e6}
			} else if line == 1 {
				return testLine{1e-3, 1e-3, 10.13e6}
			}
			return testLine{level(test.fade, n), 1 / test.sigmas, 10.11e6 + test.wander*float64(n%2)}
		})
		got := New(m, Known{}).In(rounds)
		if is := len(got.Stations) > 0 && got.Stations[0] == 0; is != test.want {
			t.Errorf("%s: %+v, a station %t, want %t", test.name, got, is, test.want)
		}
	}
}

// Line 155 of a comb whose spacing falls by 0.1 % is found at 155 times what that is at the time: to 110 Hz
// of resolution, one part in 100,000, 101 Hz, and half its width, 155 Hz where the fundamental is 2 Hz
// wide. One line in 12 of 24 rounds there is a comb's, one in 11 crossed it.
func TestCombsThatDrift(t *testing.T) {
	for _, test := range []struct {
		off, width float64
		met        int // rounds
		want       bool
	}{{205, 0, 24, true}, {217, 0, 24, false}, {-205, 0, 24, true}, {360, 2, 24, true}, {372, 2, 24, false}, {0, 0, 12, true}, {0, 0, 11, false}} {
		spacing := func(n int) float64 { return 65013 * (1 + 1e-3*math.Exp(-float64(n)/6)) }
		m, rounds := segmentOf(amateur, 1, 1, 24, func(_, _, n int) testLine {
			at := 155*spacing(n) + test.off
			if n >= test.met {
				at += 5e3
			}
			return testLine{100, 1, at}
		})
		f := New(m, Known{})
		f.combs = map[*matrix.Cell][]*combAt{}
		for n, c := range m.Cells[0] {
			f.combs[c] = []*combAt{{spacing: spacing(n), width: test.width, resolution: 110, readings: 1}}
		}
		if got := f.In(rounds); len(got.Comb) == 1 != test.want {
			t.Errorf("%+v: %+v", test, got)
		}
	}
}

// A broadcaster stands on the raster at a multiple of a comb, among others. It is known for one where it is 10 dB
// stronger than the comb's lines through one of the setups, or fades.
func TestStationAmongTheLines(t *testing.T) {
	for _, test := range []struct {
		over, fade float64 // dB
		want       bool
	}{{10.5, 0, true}, {9.5, 0, false}, {3, 3, true}} {
		m, rounds := segmentOf(broadcast, 4, 2, 12, func(line, k, n int) testLine {
			if line > 0 {
				return testLine{100, 1, 9.5e6 + 1e4*float64(line)}
			}
			power := 100.0 // through the first setup as strong as the comb
			if k == 1 {
				power *= math.Pow(10, test.over/10)
			}
			return testLine{power * level(test.fade, n), 1, 9.45e6}
		})
		f := New(m, Known{})
		f.combs = map[*matrix.Cell][]*combAt{}
		for _, cells := range m.Cells {
			for _, c := range cells {
				f.combs[c] = []*combAt{{spacing: 63e3, resolution: 110, power: 100, variance: 1, readings: 1, powered: 1}}
			}
		}
		if got := f.In(rounds); (len(got.Stations) == 4) != test.want || len(got.Stations)+len(got.Comb) != 4 {
			t.Errorf("%+v: %+v", test, got)
		}
	}
}

// What a terminator hears within 10 dB of the antenna that hears it best is not the antennas'.
func TestControlHearsItToo(t *testing.T) {
	for _, test := range []struct {
		control, sigma float64 // power and its error; the antennas' are 100 and 10
		label          survey.DB
		want           bool
	}{{9, 0.1, 0, true}, {11, 0.1, 0, false}, {11, 30, 0, true}, {11, 0.1, 10, true}} {
		m, rounds := segmentOf(broadcast, 3, 3, 12, func(line, k, n int) testLine {
			return testLine{[]float64{100, 10, test.control}[k], []float64{0.1, 0.1, test.sigma}[k], 9.5e6 + 1e4*float64(line)}
		})
		for _, c := range m.Cells[2] {
			c.Gain.DB = test.label // levels at labels that differ do not compare
		}
		got := New(m, Known{Controls: map[survey.Setup]bool{m.Setups[2]: true}}).In(rounds)
		if len(got.Stations) == 3 != test.want || len(got.Stations)+len(got.Control) != 3 {
			t.Errorf("%+v: %+v", test, got)
		}
	}
}

// A line on the raster that is there just while a supply is on: two switchings at the very rounds are one case in
// C(15, 2) = 105 of 16 rounds, in 91 of 15. In the others it is 6 dB weaker or not there.
func TestHoursOfASupply(t *testing.T) {
	for _, test := range []struct {
		rounds   int
		switched []int
		off      float64 // power, against 100
		late     int     // rounds by which the line follows
		want     bool
	}{{16, []int{5, 9}, 0, 0, true}, {15, []int{5, 9}, 0, 0, false}, {11, []int{3, 5, 8}, 0, 0, true}, {10, []int{3, 5, 8}, 0, 0, false},
		{200, []int{77}, 0, 0, false}, {24, []int{5, 9}, 23, 0, true}, {24, []int{5, 9}, 27, 0, false}, {24, []int{5, 9}, 0, 1, false}} {
		on := func(n int) (is bool) {
			for _, s := range test.switched {
				is = is != (n >= s)
			}
			return is
		}
		m, rounds := segmentOf(broadcast, 3, 1, test.rounds, func(line, _, n int) testLine {
			x := testLine{100, 1, 9.5e6 + 1e4*float64(line)}
			if line == 0 && !on(n-test.late) {
				x.power = test.off
			}
			return x
		})
		f := New(m, Known{})
		f.hours = []map[input.RoundKey]bool{{}}
		for n := range rounds {
			f.hours[0][m.Rounds[n]] = on(n)
		}
		if got := f.In(rounds); len(got.Hours) == 1 != test.want || len(got.Stations)+len(got.Hours) != 3 {
			t.Errorf("%+v: %+v", test, got)
		}
	}
}

// Lines that only a terminator has, on the raster of broadcasters as they may be, are no stations, nor left out as any other
// thing, nor those of an antenna through which the converter's steps are coarse beside another that drives it.
func TestLinesOfAControlAlone(t *testing.T) {
	for _, test := range []struct {
		name                string
		control             bool // the second setup
		coarse, otherCoarse int  // readings of ten with too little drive, of the second and of the first setup
		stations            int
	}{
		{"a terminator", true, 0, 0, 3}, {"coarse steps", false, 6, 0, 3}, {"half of them", false, 5, 0, 8}, {"an antenna", false, 0, 0, 8},
		{"coarse through both", false, 10, 10, 8}, {"a terminator, coarse through both", true, 10, 10, 3},
	} {
		m, rounds := segmentOf(broadcast, 8, 2, 12, func(line, k, _ int) testLine {
			x := testLine{100, 0.1, 9.5e6 + 1e4*float64(line)}
			if line >= 3 && k == 0 { // the second setup's alone
				x.power = 0
			}
			return x
		})
		for k, coarse := range []int{test.otherCoarse, test.coarse} {
			for _, c := range m.Cells[k] {
				c.Readings, c.Coarse = 10, coarse
			}
		}
		got := New(m, Known{Controls: map[survey.Setup]bool{m.Setups[1]: test.control}}).In(rounds)
		if len(got.Stations)+len(got.Control) != test.stations || got.Heard() != test.stations {
			t.Errorf("%s: %+v, want %d", test.name, got, test.stations)
		}
	}
}
