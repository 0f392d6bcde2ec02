package capture

import (
	"context"
	"slices"

	"nightfloor/survey"
)

// OwnLines listens in several sweeps, at the gains that a pilot finds, and gives
// the lines that are in half of them or more, lowest frequency first; doubtful
// names the segments where so few codes move that the converter makes lines of
// its own.
func (k *Calibrator) OwnLines(ctx context.Context, sweeps int) (own []survey.OwnLine, doubtful []string, err error) {
	if err := k.sweeper.Prepare(ctx, k.setup); err != nil {
		return nil, nil, err
	}
	carriers := map[survey.Segment][]seen{}
	gains := map[survey.Segment]survey.DB{}
	var within survey.Hz
	for n := range sweeps {
		readings, err := k.sweep(ctx)
		if err != nil {
			return nil, nil, err
		}
		for _, r := range readings {
			carriers[r.Segment] = append(carriers[r.Segment], detected(r, n)...)
			if !dithers(r) && !slices.Contains(doubtful, r.Segment.Name) {
				doubtful = append(doubtful, r.Segment.Name)
			}
			gains[r.Segment], within = r.Gain.DB, max(r.Resolution, within)
		}
		k.passed(n+1, sweeps)
	}
	for _, t := range k.sweeper.tunings {
		for _, s := range t.Segments {
			for _, l := range steadyLines(carriers[s], within, max(1, (sweeps+1)/2)) {
				level, _ := survey.LevelOf(l.power())
				own = append(own, survey.OwnLine{Frequency: l.frequency(), Gain: gains[s], Level: level})
			}
		}
	}
	return own, doubtful, nil
}
