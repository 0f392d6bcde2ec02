package bearings

import (
	"nightfloor/reports/input"
	"nightfloor/reports/noise"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// bearingsOf makes the bearings of what the options ask for, with the patterns of its noise sources.
func bearingsOf(in input.Input, opts input.Options) result.Bearings {
	s := reporttest.Selected(in, opts)
	return Of(s, noise.Find(readlog.New(s.Input)))
}
