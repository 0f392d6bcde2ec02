package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/survey"
)

type measureOptions struct {
	recordingFlags
	files []string
}

func newMeasureCommand(c *console) *cobra.Command {
	var o measureOptions
	cmd := &cobra.Command{
		Use:   "measure FILE…",
		Short: "Measures I/Q recordings once; stores nothing",
		Long: `Measures the noise floor and the carriers of I/Q recordings, and the interference in
them, and prints them. Nothing is stored. Interference is sought over the whole usable
passband (the central two thirds of the sample rate), whatever --segment says, and
listed where chance gives evidence so strong in one recording of a thousand at most.

Recordings: SigMF (.sigmf-meta, .sigmf), .cu8, .cs8, .cs16, .cf32, two-channel WAV.
Levels are in dBFS: 0 is the power of a complex tone of amplitude 1.` + "\n" + exitHelp,
		Args: someFiles,
		RunE: func(cmd *cobra.Command, files []string) error {
			o.files = files
			return runMeasure(cmd.Context(), o, c)
		},
	}
	o.recordingFlags.add(cmd.Flags())
	return cmd
}

func runMeasure(ctx context.Context, o measureOptions, c *console) error {
	if err := o.check(); err != nil {
		return err
	}
	var sources []capture.Source
	for _, file := range o.files {
		found, err := openRecordings(c, file, o.recordingFlags)
		if err != nil {
			return err
		}
		sources = append(sources, found...)
	}
	bar := newProgress(c, "measuring", len(sources))
	defer bar.end()
	document := result.Measure{Schema: result.SchemaMeasure, Recordings: []result.MeasuredRecording{}}
	for i, s := range sources {
		segments, err := capture.Cover(o.segments, s.Centre, s.Rate, survey.Region(o.region))
		if err != nil {
			return fmt.Errorf("measure %s: %w", s.File, err)
		}
		readings, err := capture.Measure(ctx, s, segments, survey.Region(o.region))
		if err != nil {
			return fmt.Errorf("measure %s: %w", s.File, err)
		}
		duration := float64(s.Samples) / float64(s.Rate)
		document.Recordings = append(document.Recordings, result.NewMeasuredRecording(s.File, s.Setup, duration, readings))
		bar.at(i + 1)
	}
	bar.end()
	if o.json {
		return result.WriteJSON(c.out, document)
	}
	return text.WriteMeasure(c.out, document, c.width())
}
