package main

import (
	"strings"

	"github.com/spf13/pflag"

	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
)

// openRecordings opens a file as the sources that it holds, one a capture.
func openRecordings(c *console.Console, file string, f recordingFlags) ([]capture.Source, error) {
	recordings, err := iqfile.Open(file, iqfile.Options{Centre: f.centre, Rate: f.rate})
	if err != nil {
		return nil, err
	}
	var out []capture.Source
	for _, r := range recordings {
		for _, doubt := range r.Doubts {
			c.Note("%s: %s", file, doubt)
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
	named    []string // --segment as it was written
	segments []survey.Segment
	centre   survey.Hz
	rate     survey.Hz
	region   int
	json     bool
}

// check tells what is wrong with the flags, and finds the segments that they name.
func (f *recordingFlags) check(c *console.Console) error {
	if f.region < 1 || f.region > 3 {
		return console.Usagef("--region %d: no region of the Radio Regulations; choose 1, 2 or 3", f.region)
	}
	for _, text := range f.named {
		found, err := survey.SegmentsNamed(text, survey.Region(f.region))
		if err != nil {
			return console.Usagef("--segment: %w", err)
		}
		f.segments = append(f.segments, found...)
		switch s, edges := found[0], survey.Edges(found[0].Low, found[0].High, "–"); {
		case s.Low < console.LeastTuned || s.High > console.MostTuned:
			c.Note("--segment %s is taken as %s, which is not likely meant: bare numbers are in kHz; write 9.4MHz-9.9MHz for others", text, edges)
		case strings.Contains(text, "-") && !console.HasUnit(text):
			c.Note("--segment %s is read as %s", text, edges)
		}
	}
	return nil
}

func (f *recordingFlags) add(flags *pflag.FlagSet, c *console.Console) {
	flags.Func("segment", "stretch to measure, a band as 31m, or `LOW-HIGH` in kHz unless a unit is written (may be repeated; default: the named bands covered)", func(text string) error {
		f.named = append(f.named, text)
		return nil
	})
	c.FrequencyVar(flags, &f.centre, "center", 1, console.LeastTuned, console.MostTuned, "centre frequency, in `Hz` unless a unit is written (9.65MHz), for files that do not say it")
	c.FrequencyVar(flags, &f.rate, "rate", 1, console.LeastRate, console.MostRate, "sample rate, in `Hz` unless a unit is written, for files that do not say it")
	flags.IntVar(&f.region, "region", 1, "region of the Radio Regulations (1, 2 or 3): decides the bands' edges")
	flags.BoolVar(&f.json, "json", false, "print one JSON document")
}
