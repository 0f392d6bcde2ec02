package calibrate

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

// ErrClock says that the stations do not tell the clock's error.
var ErrClock = errors.New("the stations do not tell the clock's error")

// mostClockError is the largest error that is sought, as a share: more than any crystal has.
const mostClockError = 200e-6

// ClockSegment gives the segment in which a station of a known frequency is
// sought, through an up-converter of some offset.
func ClockSegment(f, offset survey.Hz) survey.Segment {
	half := max(5e3, (f+offset)*mostClockError+1e3)
	return survey.Segment{Name: f.String(), Low: f - half, High: f + half}
}

// A clockLine is a station's carrier as it was heard over all sweeps.
type clockLine struct {
	heard  survey.Hz // its frequency by the receiver's clock
	tuned  survey.Hz // the same with the up-converter's offset
	sigma  survey.Hz // standard error, from the scatter between minutes
	power  float64
	tuning int
}

// ClockError listens for some time and compares carriers with the broadcast
// raster of 5 kHz, or the strongest with a known frequency where one is given
// (0: none). The error that it finds is beyond what the receiver corrects for.
// Where the stations do not agree, or are too few, the error wraps ErrClock.
//
// A clock that runs fast by e tunes too high by e times the tuned frequency,
// that of an up-converter included, and counts e more samples a second; a line
// of frequency f is then taken for (f + offset)/(1 + e) − offset.
func (k *Calibrator) ClockError(ctx context.Context, length time.Duration, known, offset survey.Hz) (survey.ClockError, error) {
	lines, err := k.listen(ctx, length, offset)
	if err != nil {
		return survey.ClockError{}, err
	}
	if known > 0 {
		return k.byStation(lines, known, offset)
	}
	return k.byRaster(lines, offset)
}

// leastSweepShare: a station is to be heard in one of so many sweeps, since those that
// fade count too (TestStationsThatFade).
const leastSweepShare = 4

// listen gathers the carriers that keep their frequency.
func (k *Calibrator) listen(ctx context.Context, length time.Duration, offset survey.Hz) ([]clockLine, error) {
	if err := k.sweeper.Prepare(ctx, k.setup); err != nil {
		return nil, err
	}
	start := k.clock.Now()
	tunings := k.sweeper.Tunings()
	carriers := make([][]observed, len(tunings))
	var within survey.Hz
	sweeps := 0
	for sweeps < 2 || k.clock.Now().Sub(start) < length {
		for i := range tunings {
			readings, err := k.sweeper.Read(ctx, k.setup, i)
			if err != nil {
				return nil, err
			}
			for _, r := range readings {
				carriers[i] = append(carriers[i], detectedCarriers(r, sweeps)...)
				within = max(within, r.Resolution)
			}
		}
		sweeps++
		k.Progress(int(min(k.clock.Now().Sub(start), length)/time.Second), int(length/time.Second))
	}
	var lines []clockLine
	var steady []steadyLine
	for i := range tunings {
		for _, l := range steadyLines(carriers[i], within, max(2, sweeps/leastSweepShare)) {
			steady = append(steady, l)
			minutes := map[int][]observed{}
			for _, s := range l {
				m := int(s.at.Sub(start) / time.Minute)
				minutes[m] = append(minutes[m], s)
			}
			var middles []survey.Hz
			for _, m := range minutes {
				middles = append(middles, steadyLine(m).frequency())
			}
			f, spread := medianAndError(middles)
			lines = append(lines, clockLine{heard: f, tuned: f + offset, sigma: spread, power: l.power(), tuning: i})
		}
	}
	k.clockMoved = append(k.clockMoved, trend(clockErrors(steady, offset)))
	return lines, nil
}

// medianAndError gives the median and its standard error by the median distance from
// it, 0 for a single value. That of a normal distribution is 1/1.4826 of a
// sigma, and a median scatters 1.2533 times as much as a mean.
func medianAndError[N ~float64](values []N) (median, sigma N) {
	median = medianOf(values, identity)
	distance := medianOf(values, func(v N) N { return N(math.Abs(float64(v - median))) })
	return median, 1.2533 * 1.4826 * distance / N(math.Sqrt(float64(len(values))))
}

// byStation compares the strongest carrier with the frequency that it has.
func (k *Calibrator) byStation(lines []clockLine, known, offset survey.Hz) (survey.ClockError, error) {
	near := slices.DeleteFunc(slices.Clone(lines), func(l clockLine) bool {
		return math.Abs(float64(l.heard-known)) > float64(l.tuned)*mostClockError
	})
	slices.SortFunc(near, func(a, b clockLine) int { return cmp.Compare(b.power, a.power) })
	switch {
	case len(near) == 0:
		return survey.ClockError{}, fmt.Errorf("%w: no steady carrier within %.0f ppm of %v; name a station that is heard now, or listen longer with --for", ErrClock, mostClockError*1e6, known)
	case len(near) > 1 && near[1].power > near[0].power/4:
		return survey.ClockError{}, fmt.Errorf("%w: near %v stand carriers at %v and %v, about equally strong; name a station that stands alone", ErrClock, known, near[0].heard, near[1].heard)
	}
	l := near[0]
	sigma := math.Hypot(float64(l.sigma), math.Hypot(float64(k.tunerError)/math.Sqrt(3), lineDoubt))
	return survey.ClockError{PPM: 1e6 * (float64((known+offset)/l.tuned) - 1), Sigma: 1e6 * sigma / float64(l.tuned), Stations: 1}, nil
}
