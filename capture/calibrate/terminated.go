package calibrate

import (
	"context"
	"maps"
	"math"
	"slices"

	"nightfloor/capture/droop"
	"nightfloor/survey"
)

// leastGainShare: a line is to be heard at one of so many gain steps, the upper ones, since
// the lower ones hear little (TestNoiseOfAnAntenna).
const leastGainShare = 4

// terminated measures the floor of every segment at every gain, and gathers the lines that are there.
func (k *Calibrator) terminated(ctx context.Context) (found []survey.MeasuredNoise, lines []clockLine, err error) {
	steps, tunings := k.gains(), len(k.sweeper.Tunings())
	var moved float64
	k.samples = func(iq []byte) { moved = codesMoved(iq) }
	defer func() { k.samples = nil }()
	k.pass = nil
	for i := range tunings {
		var carriers []observed
		var within survey.Hz
		for j, gain := range steps {
			readings, err := k.takeAt(ctx, i, gain)
			if err != nil {
				return nil, nil, err
			}
			if i == 0 {
				k.pass = append(k.pass, readings)
			}
			for _, r := range readings {
				if r.Floor != nil {
					n := measuredNoise(r, moved)
					curve := droop.Uncertain(k.curve, r.Segment.Low-r.Centre, r.Segment.High-r.Centre)
					n.Sigma = survey.DB(math.Hypot(float64(n.Sigma), float64(curve)))
					found = append(found, n)
				}
				carriers = append(carriers, detectedCarriers(r, j)...)
				within = max(within, r.Resolution)
			}
			k.Progress(i*len(steps)+j+1, tunings*len(steps))
		}
		for _, l := range steadyLines(carriers, within, max(1, len(steps)/leastGainShare)) {
			lines = append(lines, clockLine{heard: l.frequency(), tuning: i})
		}
	}
	return found, lines, nil
}

// broadcasters gives how many lines stand on the raster of broadcasters as a band of them does,
// heard through an up-converter of some offset; 0: they are not stations.
func (k *Calibrator) broadcasters(lines []clockLine, offset survey.Hz) int {
	for i := range lines {
		lines[i].tuned = lines[i].heard + offset
	}
	return newRasterSearch(lines, offset, k.tunerError).broadcasters()
}

// bySegment parts figures by their segments.
func bySegment(all []survey.MeasuredNoise) (parts [][]survey.MeasuredNoise) {
	at := map[survey.Segment]int{}
	for _, n := range all {
		i, ok := at[n.Segment]
		if !ok {
			i = len(parts)
			at[n.Segment], parts = i, append(parts, nil)
		}
		parts[i] = append(parts[i], n)
	}
	return parts
}

// Steps whose labels span so much and whose levels so little do not set the gain: even where
// a lower gain costs noise figure, noise falls by more (TestNoiseThatIgnoresTheGain).
const (
	leastLabels survey.DB = 20
	leastChange float64   = 3 // dB
)

// doubtGain doubts a receiver at which a level stays the same whatever its gain is set to.
func (r *Run) doubtGain(what string, levels map[survey.DB]float64) {
	if len(levels) == 0 {
		return
	}
	gains, values := slices.Sorted(maps.Keys(levels)), slices.Sorted(maps.Values(levels))
	from, to := gains[0], gains[len(gains)-1]
	if to-from >= leastLabels && values[len(values)-1]-values[0] < leastChange {
		r.doubt("%s is the same at all gains from %.1f to %.1f dB: does the receiver do what its gain is set to?", what, float64(from), float64(to))
	}
}
