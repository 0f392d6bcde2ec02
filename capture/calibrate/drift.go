package calibrate

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
)

// A dongle that was plugged in just now warms up: its gain and its clock settle as e^(−t/settling). What changes
// within a run tells how much is still to come.
const (
	// settling is a third of the half hour after which a dongle counts as warm (PHYSICS.md 7.7).
	settling = 10 * time.Minute
	// surely is by how many standard errors a change is believed: in none of hundred warm dongles by chance
	// (TestCalibrationsRightAndWrong with -dongles 100).
	surely = 4
	// mostAgain is how many gains are measured once more.
	mostAgain = 8
	// leastAgain is how many figures tell their own scatter, roughly.
	leastAgain = 3
	// repeats is how well the mean of some levels repeats at the best, dB, and leastFree how many readings beyond what
	// the trend of a clock takes tell their scatter. Chosen (TestCalibrateBiasTee, TestCalibrationThatCannotBeStored).
	repeats   = 0.01
	leastFree = 10
)

// From so much still to come on a receiver is doubted and refused. Of gain, what reports count as drift with
// temperature anyway, and what makes two runs differ (PHYSICS.md 7.11); of the clock, ppm, less than what a tuner's
// own steps put off at 10 MHz, and a quarter of what the raster tells apart through an up-converter. TestSteady
// fails when they move.
const (
	doubtedGain  = 0.3 // dB
	refusedGain  = 1   // dB
	doubtedClock = 2   // ppm
	refusedClock = 10  // ppm
)

const warmUp = "let the dongle run for half an hour, then measure again"

// A change is by how much something rose in some time, in dB or ppm.
type change struct {
	by, sigma float64
	took      time.Duration
}

// toCome gives how much is surely still to come, at the least, if it settles.
func (c change) toCome() float64 {
	return max(0, math.Abs(c.by)-surely*c.sigma) * settling.Seconds() / max(c.took.Seconds(), 1e-3)
}

// again measures a tuning once more at gains of a pass through them that is just over, and notes by how much what its
// readings show has changed.
func (k *Calibrator) again(ctx context.Context, tuning int, pass [][]survey.Reading, shows func(survey.Reading) (level, sigma survey.DB, ok bool)) error {
	var c change
	useful := func(r survey.Reading) bool { _, _, ok := shows(r); return ok }
	n, took, gains, squares := 0, time.Duration(0), 0, 0.0
	for _, before := range pass {
		if gains == mostAgain || !slices.ContainsFunc(before, useful) {
			continue
		}
		gains++
		after, err := k.takeAt(ctx, tuning, before[0].Gain.DB)
		if err != nil {
			return err
		}
		for _, b := range before {
			r := after[slices.IndexFunc(after, func(a survey.Reading) bool { return a.Segment == b.Segment })]
			was, wasSigma, ok := shows(b)
			is, isSigma, too := shows(r)
			if ok && too {
				n, took = n+1, took+r.Start.Sub(b.Start)
				squares += float64((is - was) * (is - was))
				c.by, c.sigma = c.by+float64(is-was), math.Hypot(c.sigma, math.Hypot(float64(wasSigma), float64(isSigma)))
			}
		}
	}
	if n >= leastAgain {
		by := c.by / float64(n)
		scatter := math.Sqrt(max(0, squares/float64(n)-by*by) / float64(n-1))
		k.changes = append(k.changes, change{by, math.Hypot(repeats, max(c.sigma/float64(n), scatter)), took / time.Duration(n)})
	}
	return nil
}

// showsNoise gives the floor of a reading in which noise moves enough codes and none at the end.
func showsNoise(r survey.Reading) (density, sigma survey.DB, ok bool) {
	if !dithers(r) || r.Quality.Has(survey.FlagOverload) {
		return 0, 0, false
	}
	return survey.DB(r.Floor.Density), r.Floor.Sigma, true
}

// showsGenerator gives the level of the generator's carrier.
func showsGenerator(r survey.Reading) (seen, sigma survey.DB, ok bool) {
	carrier, why := generator(r)
	stands, _ := survey.LevelOf(carrier.Power)
	return survey.DB(stands), survey.DB(10 / math.Ln10 * carrier.Sigma / carrier.Power), why == ""
}

// trend gives by how much a clock, ppm, rose over the time in which it heard lines: what their frequencies have in common,
// through an up-converter of some offset. Without any that was heard for long it is 0.
func trend(lines []steadyLine, offset survey.Hz) change {
	var times, errs []float64
	var from, to time.Time
	for _, l := range lines {
		middle, start, first := l.frequency(), l[0].at, len(times)
		var meanTime, meanErr float64
		for _, o := range l {
			if from.IsZero() || o.at.Before(from) {
				from = o.at
			}
			if o.at.After(to) {
				to = o.at
			}
			t, e := o.at.Sub(start).Seconds(), -1e6*float64((o.Frequency-middle)/(middle+offset))
			times, errs = append(times, t), append(errs, e)
			meanTime, meanErr = meanTime+t/float64(len(l)), meanErr+e/float64(len(l))
		}
		for i := first; i < len(times); i++ {
			times[i], errs[i] = times[i]-meanTime, errs[i]-meanErr
		}
	}
	var squares, products, left float64
	for i, t := range times {
		squares, products = squares+t*t, products+t*errs[i]
	}
	free := len(times) - len(lines) - 1
	if squares == 0 || free < leastFree {
		return change{}
	}
	slope := products / squares
	for i, t := range times {
		left += math.Pow(errs[i]-slope*t, 2)
	}
	took := to.Sub(from)
	return change{slope * took.Seconds(), math.Sqrt(left/float64(free)/squares) * took.Seconds(), took}
}

// steady doubts, or refuses, a run in which the receiver drifted as one does that warms up.
func (r *Run) steady() error {
	for _, of := range []struct {
		changes          []change
		what, unit       string
		doubted, refused float64
	}{
		{r.calibrator.changes, "levels", "dB", doubtedGain, refusedGain},
		{r.calibrator.clockMoved, "the clock's error", "ppm", doubtedClock, refusedClock},
	} {
		if len(of.changes) == 0 {
			continue
		}
		c := slices.MaxFunc(of.changes, func(a, b change) int { return cmp.Compare(a.toCome(), b.toCome()) })
		took := c.took.Round(time.Second / 10)
		text := fmt.Sprintf("the receiver drifts: %s changed by %s %s in %v; %s", of.what, strings.Replace(fmt.Sprintf("%+.2f", c.by), "-", "−", 1), of.unit, took, warmUp)
		switch come := c.toCome(); {
		case come >= of.refused:
			return errors.New(text)
		case come >= of.doubted:
			r.doubt("%s", text)
		}
	}
	return nil
}
