package calibrate

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
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
	// watchedReadings is how many readings tell a change of levels, at watchedGains gains at the most in turn. At half a
	// second each, a run lasts three quarters of a minute with them: a receiver with 1.5 dB to come changes by 0.11 dB,
	// twice what surely takes of it (TestColdReceiver).
	watchedReadings = 60
	watchedGains    = 8
	// repeats is how well the mean of some levels repeats at the best, dB, and leastFree how many readings beyond what
	// a trend takes tell their scatter. Chosen (TestCalibrateBiasTee, TestCalibrationThatCannotBeStored).
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

// watch measures the first tuning again and again, at gains of the last pass through them whose readings show a level,
// and notes by how much it changes. What is connected must be as it was in that pass.
func (k *Calibrator) watch(ctx context.Context, shows func(survey.Reading) (level survey.DB, ok bool)) error {
	type place struct {
		segment string
		gain    survey.DB
	}
	levels := map[place]series{}
	var gains []survey.DB
	for _, readings := range k.pass {
		for _, r := range readings {
			if level, ok := shows(r); ok {
				levels[place{r.Segment.Name, r.Gain.DB}] = series{{r.Start, float64(level)}}
				gains = append(gains, r.Gain.DB)
			}
		}
	}
	gains = slices.Compact(gains)
	if gains = gains[max(0, len(gains)-watchedGains):]; len(gains) == 0 {
		return nil
	}
	for i := range watchedReadings {
		readings, err := k.takeAt(ctx, 0, gains[i%len(gains)])
		if err != nil {
			return err
		}
		for _, r := range readings {
			p := place{r.Segment.Name, r.Gain.DB}
			if level, ok := shows(r); ok && levels[p] != nil {
				levels[p] = append(levels[p], instant{r.Start, float64(level)})
			}
		}
		k.Progress(i+1, watchedReadings)
	}
	c := trend(slices.Collect(maps.Values(levels)))
	c.sigma = math.Hypot(c.sigma, repeats)
	k.changes = append(k.changes, c)
	return nil
}

// showsNoise gives the floor of a reading in which noise moves enough codes and none at the end.
func showsNoise(r survey.Reading) (density survey.DB, ok bool) {
	if !dithers(r) || r.Quality.Has(survey.FlagOverload) {
		return 0, false
	}
	return survey.DB(r.Floor.Density), true
}

// showsGenerator gives the level of the generator's carrier.
func showsGenerator(r survey.Reading) (seen survey.DB, ok bool) {
	carrier, why := generator(r)
	stands, _ := survey.LevelOf(carrier.Power)
	return survey.DB(stands), why == ""
}

// A series is what something was at some times, in dB or ppm. Its mean says nothing.
type series []instant

type instant struct {
	at time.Time
	is float64
}

// clockErrors gives the error of a clock, ppm, by what the frequency of each line changes by, through an up-converter
// of some offset.
func clockErrors(lines []steadyLine, offset survey.Hz) (all []series) {
	for _, l := range lines {
		middle := l.frequency()
		var s series
		for _, o := range l {
			s = append(s, instant{o.at, -1e6 * float64((o.Frequency-middle)/(middle+offset))})
		}
		all = append(all, s)
	}
	return all
}

// trend gives by how much several series rose alike, by least squares, over the time from their first instant to their last.
// It is 0 where they have too few.
func trend(all []series) change {
	var times, values []float64
	var from, to time.Time
	means := 0
	for _, s := range all {
		first, meanTime, mean := len(times), 0.0, 0.0
		for _, o := range s {
			if from.IsZero() || o.at.Before(from) {
				from = o.at
			}
			if o.at.After(to) {
				to = o.at
			}
			t := o.at.Sub(s[0].at).Seconds()
			times, values = append(times, t), append(values, o.is)
			meanTime, mean = meanTime+t/float64(len(s)), mean+o.is/float64(len(s))
		}
		for i := first; i < len(times); i++ {
			times[i], values[i] = times[i]-meanTime, values[i]-mean
		}
		means += min(1, len(s))
	}
	var squares, products, left float64
	for i, t := range times {
		squares, products = squares+t*t, products+t*values[i]
	}
	free := len(times) - means - 1
	if squares == 0 || free < leastFree {
		return change{}
	}
	slope := products / squares
	for i, t := range times {
		left += math.Pow(values[i]-slope*t, 2)
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
