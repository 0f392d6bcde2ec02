package main

import (
	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/survey"
)

// openRecordings opens a file as the sources that it holds, one a capture.
func openRecordings(c *console, file string, f recordingFlags) ([]capture.Source, error) {
	recordings, err := iqfile.Open(file, iqfile.Options{Centre: survey.Hz(f.centre), Rate: survey.Hz(f.rate)})
	if err != nil {
		return nil, err
	}
	if f.centre > 0 && f.centre < 1e5 {
		c.note("%s: a centre of %v is taken as written: a bare number is in Hz; write 9.65MHz or 9650kHz for others", file, survey.Hz(f.centre))
	}
	var out []capture.Source
	for _, r := range recordings {
		for _, doubt := range r.Doubts {
			c.note("%s: %s", file, doubt)
		}
		out = append(out, capture.Source{
			File:  file,
			Setup: survey.Setup{Antenna: r.Antenna, Placement: r.Placement, Bearing: r.Bearing},
			Start: r.Start, Centre: r.Centre, Rate: r.Rate, Samples: r.Samples, Gain: r.Gain, Dropped: r.Dropped, Simulated: r.Simulated,
			Open:   func() (capture.Samples, error) { return r.Open() },
			Digest: r.Digest,
		})
	}
	return out, nil
}
