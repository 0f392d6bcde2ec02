package calibrate

import (
	"context"

	"nightfloor/survey"
)

// leastGainShare: a line is to be heard at one of so many gain steps, the upper ones, since
// the lower ones hear little (TestNoiseOfAnAntenna).
const leastGainShare = 4

// terminated measures the floor of every segment at every gain, and gathers the lines that are there.
func (k *Calibrator) terminated(ctx context.Context) (found []survey.MeasuredNoise, lines []clockLine, err error) {
	steps, tunings := k.gains(), len(k.sweeper.Tunings())
	for i := range tunings {
		var carriers []observed
		var within survey.Hz
		for j, gain := range steps {
			readings, err := k.takeAt(ctx, i, gain)
			if err != nil {
				return nil, nil, err
			}
			for _, r := range readings {
				if r.Floor != nil {
					found = append(found, measuredNoise(r))
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

// Steps whose labels span so much and whose floors so little do not set the gain: even where
// a lower gain costs noise figure, noise falls by more (TestNoiseThatIgnoresTheGain).
const (
	leastLabels survey.DB = 20
	leastFloors survey.DB = 3
)

// ignoresGain tells the gains between which own noise stays the same though their labels differ.
func ignoresGain(figures []survey.MeasuredNoise) (from, to survey.DB, ignores bool) {
	var low, high survey.DBFSPerHz
	n := 0
	for _, f := range figures {
		if f.Doubtful {
			continue
		}
		if n == 0 {
			from, to, low, high = f.Gain, f.Gain, f.Density, f.Density
		}
		n++
		from, to = min(from, f.Gain), max(to, f.Gain)
		low, high = min(low, f.Density), max(high, f.Density)
	}
	return from, to, n > 1 && to-from >= leastLabels && high.Over(low) < leastFloors
}
