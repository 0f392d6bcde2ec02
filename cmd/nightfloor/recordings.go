package main

import (
	"github.com/spf13/pflag"

	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/survey"
)

// openRecordings opens a file as the sources that it holds, one a capture.
func openRecordings(c *console, file string, f recordingFlags) ([]capture.Source, error) {
	recordings, err := iqfile.Open(file, iqfile.Options{Centre: f.centre, Rate: f.rate})
	if err != nil {
		return nil, err
	}
	if f.centre > 0 && f.centre < 1e5 {
		c.note("%s: a centre of %v is taken as written: a bare number is in Hz; write 9.65MHz or 9650kHz for others", file, f.centre)
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

// recordingFlags are the flags that measure and import share.
type recordingFlags struct {
	segments []survey.Segment
	centre   survey.Hz
	rate     survey.Hz
	region   int
	json     bool
}

// check tells what is wrong with the flags.
func (f *recordingFlags) check() error {
	if f.region < 1 || f.region > 3 {
		return usagef("--region %d: no region of the Radio Regulations; choose 1, 2 or 3", f.region)
	}
	return nil
}

func (f *recordingFlags) add(flags *pflag.FlagSet) {
	flags.Func("segment", "stretch to measure, `LOW-HIGH` in kHz unless a unit is written (may be repeated; default: the named bands covered)", func(text string) error {
		s, err := survey.ParseSegment(text)
		f.segments = append(f.segments, s)
		return err
	})
	frequencyVar(flags, &f.centre, "center", 1, "centre frequency, in `Hz` unless a unit is written (9.65MHz), for files that do not say it")
	frequencyVar(flags, &f.rate, "rate", 1, "sample rate, in `Hz` unless a unit is written, for files that do not say it")
	flags.IntVar(&f.region, "region", 1, "region of the Radio Regulations (1, 2 or 3): decides the bands' edges")
	flags.BoolVar(&f.json, "json", false, "print one JSON document")
}
