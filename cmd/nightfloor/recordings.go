package main

import (
	"cmp"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"nightfloor/capture"
	"nightfloor/capture/iqfile"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
)

// recordingsHelp says what the commands take that read recordings.
const recordingsHelp = `Recordings: SigMF (.sigmf-meta, .sigmf), .cu8, .cs8, .cs16, .cf32, two-channel WAV.
A folder stands for those in it, sub-folders apart. What neither a flag nor the file
says is taken from its name where it stands there plainly, and said back: the centre
as 9650kHz or 9.65MHz, beside it the rate as 2400ksps, the start as 20261103T210410Z
or, by the local clock, 2026-11-03 21.04.10. A WAV file may say its start in a bext
chunk, by the local clock: it is said back, and gives way to UTC in the name.
`

// openRecordings opens the files, folders and patterns that a command was given, as the sources
// that they hold, one a capture, and gives those that cannot be opened. It says what only names
// say, and clocks of an unknown zone, and that files were left alone.
func openRecordings(c *console.Console, arguments []string, f recordingFlags) (sources []capture.Source, bad []capture.Refusal) {
	files, left := iqfile.Files(arguments)
	var names, chunks []string // what was read of each name, and bext chunk, that says something
	for _, file := range files {
		recordings, err := iqfile.Open(file, iqfile.Options{Centre: f.centre, Rate: f.rate, Zone: time.Local})
		if err != nil {
			bad = append(bad, capture.Refusal{File: file, Why: err.Error()})
			continue
		}
		for i := range recordings {
			r := &recordings[i]
			for _, doubt := range r.Doubts {
				c.Note("%s: %s", file, doubt)
			}
			start := cmp.Or(f.start, r.Start, r.Origin.UTC(), r.Named.Start.UTC())
			if !f.start.IsZero() {
				r.Named.Start, r.Origin = time.Time{}, time.Time{}
			}
			if said := (iqfile.Named{Start: r.Origin}).String(); said != "" {
				chunks = append(chunks, file+": "+said)
			}
			if said := r.Named.String(); said != "" {
				names = append(names, file+": "+said)
			}
			sources = append(sources, sourceOf(r, start))
		}
	}
	noteRead(c, "name", names)
	noteRead(c, "bext chunk", chunks)
	if left > 0 {
		c.Note("left alone, no recordings by their names: %s", survey.Count(left, "file"))
	}
	return sources, bad
}

// noteRead says what was read where in files, of many as of the first.
func noteRead(c *console.Console, where string, said []string) {
	const shown = 3
	if len(said) > shown && !c.Verbose {
		c.Note("read from the %ss of %d files, as of %s", where, len(said), said[0])
		return
	}
	for _, text := range said {
		c.Note("read from the %s of %s", where, text)
	}
}

// withoutFile takes the file's name off what is wrong with it, where a line names it before.
func withoutFile(file, why string) string { return strings.TrimPrefix(why, "read "+file+": ") }

// sourceOf gives a recording that began at start as what is measured.
func sourceOf(r *iqfile.Recording, start time.Time) capture.Source {
	return capture.Source{
		File:  r.File,
		Setup: survey.Setup{Antenna: r.Antenna, Placement: r.Placement, Bearing: r.Bearing},
		Start: start, NoStart: r.Named.NoStart, Centre: r.Centre, Rate: r.Rate, Samples: r.Samples, Gain: r.Gain, Dropped: r.Dropped, Simulated: r.Simulated,
		Open:   func() (capture.Samples, error) { return r.Open() },
		Digest: func() (string, string, error) { return r.Digest(start) },
	}
}

// recordingFlags are the flags that measure and import share.
type recordingFlags struct {
	named    []string // --segment as it was written
	segments []survey.Segment
	centre   survey.Hz
	rate     survey.Hz
	start    time.Time // of import, over what files and names say
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
	c.FrequencyVar(flags, &f.centre, "center", 1, "centre frequency, in `Hz` unless a unit is written (9.65MHz), for files that do not say it")
	c.RateVar(flags, &f.rate, "rate", "sample rate, in `Hz` unless a unit is written (2.4MS/s), for files that do not say it")
	flags.IntVar(&f.region, "region", 1, "region of the Radio Regulations (1, 2 or 3): decides the bands' edges")
	flags.BoolVar(&f.json, "json", false, "print one JSON document")
}
