package page

import (
	"testing"
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// rowsAt makes a picture whose rows stand so many minutes after the start.
func rowsAt(s survey.Setup, minutes ...float64) result.Waterfall {
	p := result.Waterfall{Segment: "49 m", Low: 5900e3, High: 6200e3, Setup: s, Columns: 1, DBFSHz: make([]float32, len(minutes))}
	for _, m := range minutes {
		p.Times = append(p.Times, nightStart.Add(time.Duration(m*float64(time.Minute))))
	}
	return p
}

func TestHold(t *testing.T) {
	for _, test := range []struct {
		name     string
		pictures []result.Waterfall
		want     time.Duration
	}{
		// Two setups, two rows a visit, rounds of 20 min: visits lie 20 min apart, and a
		// column stands 40 min at most.
		{"rounds", []result.Waterfall{rowsAt(whipStudy, 0, 1, 20, 21, 40, 41), rowsAt(loopLoft, 10, 11, 30, 31, 50, 51)}, 40 * time.Minute},
		// Rounds of two hours: after an hour the floor need not be what it was.
		{"long rounds", []result.Waterfall{rowsAt(whipStudy, 0, 120, 240), rowsAt(loopLoft, 60, 180, 300)}, time.Hour},
		// One setup alone: its rows lie 2 min apart.
		{"alone", []result.Waterfall{rowsAt(whipStudy, 0, 2, 4, 6)}, 4 * time.Minute},
		// A recording of each, of rows a minute apart: no visit follows another.
		{"recordings", []result.Waterfall{rowsAt(whipStudy, 0, 1, 2, 3), rowsAt(loopLoft, 10, 11, 12, 13)}, 2 * time.Minute},
		{"one row", []result.Waterfall{rowsAt(whipStudy, 0)}, 0},
		{"nothing", nil, 0},
	} {
		if got := (hours{pictures: test.pictures}).hold(); got != test.want {
			t.Errorf("%s: columns stand %v, want %v", test.name, got, test.want)
		}
	}
}

// TestMeasuredTimes: of eight minutes measured from 16:20 the mark stands at
// 16:24, and the axis does not begin at 16:00.
func TestMeasuredTimes(t *testing.T) {
	at := func(m int) time.Time { return nightStart.Add(time.Duration(m) * time.Minute) }
	first, last := at(20), at(28)
	for name, pictures := range map[string][]result.Waterfall{
		"from the survey":  nil,
		"from its picture": {rowsAt(whipStudy, 20, 22, 24, 26, 28)},
	} {
		r := night(1, 1)
		r.Floor.Rows, r.Pictures = r.Floor.Rows[:1], pictures
		r.Rank.Segments = nil
		r.Quality.Surveys[0].First, r.Quality.Surveys[0].Last = &first, &last
		_, boxes, err := floorsOf(r, namesOf(r))
		if err != nil {
			t.Fatal(err)
		}
		b := boxes["floor-0"]
		if got := time.UnixMilli(b.Lines[0].At[0]); !got.Equal(at(24)) {
			t.Errorf("%s: mark at %v, want %v", name, got.UTC(), at(24))
		}
		// The last column needs the width of a turn, 2 min, to be seen.
		if from, to := time.UnixMilli(b.From), time.UnixMilli(b.To); !from.Equal(first) || to.Before(last) || to.After(at(30)) {
			t.Errorf("%s: axis from %v to %v, want 16:20 to 16:28, at most 16:30", name, from.UTC(), to.UTC())
		}
	}
}

// TestFloorOfUnknownGain: an hour whose gain is not known is marked, and not
// compared with others.
func TestFloorOfUnknownGain(t *testing.T) {
	r := smallNight()
	n := namesOf(r)
	rows := rowsOf(r.Floor.Rows, nightSegments[0])
	for i := range rows {
		if rows[i].Setup == whipStudy && rows[i].From.Equal(nightStart) {
			rows[i].Gain = nil
			rows[i].DBFSHz = &result.Quantiles{P10: -141, P50: -140, P90: -139}
		}
	}
	if c := courseOf(rows, n); c == nil || c.Level == "−140.0" {
		t.Errorf("course %+v: it compares an hour whose gain is not known", c)
	}
	if _, hours := hoursOf(rows, n); hours[0].Cells[0] != (cell{"−140.0 *", "(−141.0 to −139.0)"}) {
		t.Errorf("cell %q, want an asterisk", hours[0].Cells[0])
	}
	if l := linesOf(rows, hours{}, n)[0]; !l.Apart[0] || l.Apart[1] {
		t.Errorf("apart: %v, want the first only", l.Apart)
	}
}
