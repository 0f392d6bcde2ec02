package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/survey"
)

type measureOptions struct {
	recordingFlags
	files []string
}

func newMeasureCommand(c *console.Console) *cobra.Command {
	var o measureOptions
	cmd := &cobra.Command{
		Use:   "measure FILE…",
		Short: "Measures I/Q recordings once; stores nothing",
		Long: `Measures the noise floor and the carriers of I/Q recordings, and the interference in
them, and prints them. Nothing is stored. Interference is sought over the whole usable
passband (the central two thirds of the sample rate), whatever --segment says, and
listed where chance gives evidence so strong in one recording of a thousand at most.

Recordings: SigMF (.sigmf-meta, .sigmf), .cu8, .cs8, .cs16, .cf32, two-channel WAV.
Levels are in dBFS: 0 is the power of a complex tone of amplitude 1.` + "\n" + console.ExitHelp,
		Args: console.SomeFiles,
		RunE: func(cmd *cobra.Command, files []string) error {
			o.files = files
			return runMeasure(cmd.Context(), o, c)
		},
	}
	o.recordingFlags.add(cmd.Flags(), c)
	return cmd
}

func runMeasure(ctx context.Context, o measureOptions, c *console.Console) error {
	if err := o.check(c); err != nil {
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
	bar := console.NewProgress(c, "measuring", len(sources))
	defer bar.End()
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
		bar.At(i + 1)
	}
	bar.End()
	if o.json {
		return result.WriteJSON(c.Out, document)
	}
	return text.WriteMeasure(c.Out, document, c.Width())
}
