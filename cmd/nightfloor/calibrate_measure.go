package main

import (
	"cmp"
	"context"
	"time"

	"nightfloor/capture/calibrate"
	"nightfloor/reports/calibration"
	"nightfloor/reports/result"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// settings gives what a run is told of the options.
func (o *calibrateOptions) settings(h operator, p plan.Plan, earlier []survey.Calibration) calibrate.Settings {
	var a calibrate.Attenuator = handAttenuator{h}
	if len(o.attenuator) > 0 {
		a = calibrate.ProgramAttenuator{Argv: o.attenuator, TimeOut: cmp.Or(p.Change.TimeOut, 10*time.Second)}
	}
	return calibrate.Settings{
		Frequency: o.frequency, Level: o.level, ByFigure: o.byFigure, Figure: o.figure,
		Attenuation: o.attenuation, Attenuator: a,
		AtReceiver: o.at == atReceiver, Listen: o.listen, Earlier: earlier,
		Tell: func(text string) { h.c.note("%s", text) },
	}
}

// measureWithBar measures, and draws how far it is.
func measureWithBar(ctx context.Context, c *console, k *calibrate.Calibrator, r *calibrate.Run) error {
	var bar *progress
	k.Progress = func(done, total int) {
		if bar == nil {
			bar = newProgress(c, "calibrating", total)
		}
		bar.at(done)
		if done >= total { // a person may be asked next
			bar.end()
			bar = nil
		}
	}
	err := r.Measure(ctx)
	if bar != nil {
		bar.end()
	}
	return err
}

// printCalibration shows a calibration, as one JSON document or for a person to read.
func (o *calibrateOptions) printCalibration(c *console, p plan.Plan, r *calibrate.Run) error {
	shown := calibration.Run{Calibration: r.Calibration, Simulated: r.Simulated, LeftWords: calibrate.ByReason(r.Skipped),
		SelfNoise: r.SelfNoise, Left: r.Skipped, Attenuation: o.attenuation, PlanPPM: p.FrontEnd.PPM, Doubts: r.Doubts}
	if r.Clock != nil {
		shown.NewPPM = r.NewClockError()
	}
	if o.json {
		return result.WriteJSON(c.out, shown.Document())
	}
	return shown.WriteText(c.out)
}
