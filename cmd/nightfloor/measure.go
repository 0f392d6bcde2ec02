package main

import (
	"context"
	"errors"
	"fmt"
	"slices"

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

Levels are in dBFS: 0 is the power of a complex tone of amplitude 1.

` + recordingsHelp + console.ExitHelp,
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
	sources, bad := openRecordings(c, o.files, o.recordingFlags)
	bar := console.NewProgress(c, "measuring", len(sources))
	defer bar.End()
	document := result.Measure{Schema: result.SchemaMeasure, Recordings: []result.MeasuredRecording{}}
	for i, s := range sources {
		measured, err := o.measure(ctx, s)
		switch {
		case err == nil:
			document.Recordings = append(document.Recordings, measured)
		case ctx.Err() != nil:
			return fmt.Errorf("measure: %d of %s done: stopped by the operator; nothing is stored, and the command can be given again", i, survey.Count(len(sources), "recording"))
		case !slices.ContainsFunc(bad, func(r capture.Refusal) bool { return r.File == s.File }): // the captures of a file are refused once
			bad = append(bad, capture.Refusal{File: s.File, Why: err.Error()})
		}
		bar.At(i + 1)
	}
	bar.End()
	var errs []error
	for _, r := range bad {
		errs = append(errs, errors.New(r.Why))
	}
	if len(document.Recordings) == 0 {
		return errors.Join(errs...)
	}
	write := func() error { return text.WriteMeasure(c.Out, document, c.Width()) }
	if o.json {
		write = func() error { return result.WriteJSON(c.Out, document) }
	}
	return errors.Join(append(errs, write())...)
}

// measure measures a recording in the segments that were asked for.
func (o measureOptions) measure(ctx context.Context, s capture.Source) (measured result.MeasuredRecording, err error) {
	segments, err := capture.Cover(o.segments, s.Centre, s.Rate, survey.Region(o.region))
	if err != nil {
		return measured, fmt.Errorf("measure %s: %w", s.File, err)
	}
	readings, err := capture.Measure(ctx, s, segments, survey.Region(o.region))
	if err != nil {
		return measured, fmt.Errorf("measure %s: %s", s.File, withoutFile(s.File, err.Error()))
	}
	return result.NewMeasuredRecording(s.File, s.Setup, float64(s.Samples)/float64(s.Rate), readings), nil
}
