package main

import (
	"fmt"
	"strings"

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
	named    []string // --segment as it was written
	segments []survey.Segment
	centre   survey.Hz
	rate     survey.Hz
	region   int
	json     bool
}

// check tells what is wrong with the flags, and finds the segments that they name.
func (f *recordingFlags) check(c *console) error {
	if f.region < 1 || f.region > 3 {
		return usagef("--region %d: no region of the Radio Regulations; choose 1, 2 or 3", f.region)
	}
	for _, text := range f.named {
		found, err := survey.SegmentsNamed(text, survey.Region(f.region))
		if err != nil {
			return usageError{fmt.Errorf("--segment: %w", err)}
		}
		f.segments = append(f.segments, found...)
		switch s, edges := found[0], survey.Edges(found[0].Low, found[0].High, "–"); {
		case s.Low < leastTuned || s.High > mostTuned:
			c.note("--segment %s is taken as %s, which is not likely meant: bare numbers are in kHz; write 9.4MHz-9.9MHz for others", text, edges)
		case strings.Contains(text, "-") && !hasUnit(text):
			c.note("--segment %s is read as %s", text, edges)
		}
	}
	return nil
}

func (f *recordingFlags) add(flags *pflag.FlagSet, c *console) {
	flags.Func("segment", "stretch to measure, a band as 31m, or `LOW-HIGH` in kHz unless a unit is written (may be repeated; default: the named bands covered)", func(text string) error {
		f.named = append(f.named, text)
		return nil
	})
	c.frequencyVar(flags, &f.centre, "center", 1, leastTuned, mostTuned, "centre frequency, in `Hz` unless a unit is written (9.65MHz), for files that do not say it")
	c.frequencyVar(flags, &f.rate, "rate", 1, leastRate, mostRate, "sample rate, in `Hz` unless a unit is written, for files that do not say it")
	flags.IntVar(&f.region, "region", 1, "region of the Radio Regulations (1, 2 or 3): decides the bands' edges")
	flags.BoolVar(&f.json, "json", false, "print one JSON document")
}
