package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/capture/calibrate"
	"nightfloor/reports/calibration"
	"nightfloor/reports/result"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// calibrationRun is a calibration on its way: what measures it, and what is to be said
// of it besides what is stored.
type calibrationRun struct {
	survey.Calibration
	options    calibrateOptions
	plan       plan.Plan
	calibrator *calibrate.Calibrator
	hand       operator
	simulated  bool
	earlier    []survey.Calibration // of the receiver, the newest first

	noise  []calibrate.MeasuredNoise
	left   []calibrate.SkippedStep
	doubts []string
}

// sweepsForLines is how many sweeps the lines are sought in.
const sweepsForLines = 8

// measure does what the kind asks for.
func (m *calibrationRun) measure(ctx context.Context, c *console) error {
	do := map[string]func(context.Context) error{
		survey.CalibrateNoise: m.ofNoise, survey.CalibrateLevel: m.ofLevel, survey.CalibrateLinearity: m.ofLinearity,
		survey.CalibrateLines: m.ofLines, survey.CalibrateClock: m.ofClock,
	}[m.Kind]
	var bar *progress
	m.calibrator.Progress = func(done, total int) {
		if bar == nil {
			bar = newProgress(c, "calibrating", total)
		}
		bar.at(done)
		if done >= total { // a person may be asked next
			bar.end()
			bar = nil
		}
	}
	err := do(ctx)
	if bar != nil {
		bar.end()
	}
	return err
}

func (m *calibrationRun) doubt(format string, args ...any) {
	m.doubts = append(m.doubts, fmt.Sprintf(format, args...))
}

// antennaLines is from how many carriers in a reading on an antenna, rather than a
// terminator, seems to be connected.
const antennaLines = 10

// selfNoise measures the receiver into a terminator.
func (m *calibrationRun) selfNoise(ctx context.Context) error {
	found, err := m.calibrator.SelfNoise(ctx)
	if err != nil {
		return err
	}
	if m.noise = found; len(found) == 0 {
		return errors.New("no segment has a floor: lines everywhere; connect a terminator in place of the antenna")
	}
	lines, low, over := 0, 0, 0
	for _, n := range found {
		lines = max(lines, n.Carriers)
		if n.Doubtful {
			low++
		}
		if slices.Contains(n.Flags, survey.FlagOverload) {
			over++
		}
	}
	if over > 0 {
		return errors.New("the receiver is overloaded, and a terminator overloads none; connect one in place of whatever is there, and measure again")
	}
	if lines >= antennaLines {
		m.doubt("up to %d lines in a segment: is a terminator connected, and not an antenna?", lines)
	}
	if low > 0 {
		m.doubt("%d of %d figures move too few codes: they may be off by 2.5 dB, and are stored with that doubt", low, len(found))
	}
	return nil
}

func (m *calibrationRun) ofNoise(ctx context.Context) error {
	if err := m.selfNoise(ctx); err != nil {
		return err
	}
	for _, n := range m.noise {
		m.Noise = append(m.Noise, n.SelfNoise)
	}
	m.Note = m.noted("terminator at the receiver's input")
	return nil
}

func (m *calibrationRun) ofLevel(ctx context.Context) (err error) {
	if m.options.figure != "" {
		if err := m.selfNoise(ctx); err != nil {
			return err
		}
		m.doubts = nil // of steps that are left out here
		m.Levels, m.left = calibrate.LevelsFromFigure(m.noise, m.options.parsed.figure)
		if len(m.Levels) == 0 {
			return errors.New("at no gain does the receiver's own noise stand out of the converter's steps; use a generator, with --frequency and --level")
		}
		m.doubt("levels are as good as the noise figure that was given")
		m.Note = m.noted(fmt.Sprintf("terminator at the receiver's input, noise figure of %g dB as given", float64(m.options.parsed.figure)))
		return nil
	}
	m.Levels, m.left, err = m.calibrator.Levels(ctx, m.options.parsed.frequency, m.options.parsed.level)
	if err != nil {
		return err
	}
	if len(m.Levels) == 0 {
		return m.noLevels()
	}
	m.Note = m.noted(fmt.Sprintf("generator, %g dBm at %v", float64(m.options.parsed.level), m.options.parsed.frequency))
	return nil
}

// noLevels says why no gain step gave a level.
func (m *calibrationRun) noLevels() error {
	missing := func(l calibrate.SkippedStep) bool {
		return l.Why == calibrate.ReasonNoCarrier || strings.HasPrefix(l.Why, calibrate.ReasonWeak)
	}
	if !slices.ContainsFunc(m.left, func(l calibrate.SkippedStep) bool { return !missing(l) }) {
		return fmt.Errorf("no carrier within %v of %v stands out of the noise at any gain; check that the generator is on, its frequency, level and cable", calibrate.GeneratorHalf, m.options.parsed.frequency)
	}
	return fmt.Errorf("the generator's carrier is of no use at any gain (%s); give it another level", strings.Join(calibrate.ByReason(m.left), "; "))
}

func (m *calibrationRun) ofLinearity(ctx context.Context) (err error) {
	program := m.options.attenuator
	timeOut := m.plan.Change.TimeOut
	if timeOut == 0 {
		timeOut = 10 * time.Second
	}
	put := func(in bool) error { return m.hand.attenuator(ctx, program, timeOut, in) }
	if err := put(false); err != nil {
		return err
	}
	without, err := m.calibrator.Sweeps(ctx, m.plan.Sweeps)
	if err != nil {
		return err
	}
	if len(program) > 0 {
		defer func() { // also after an interrupt
			err = errors.Join(err, runAttenuator(context.WithoutCancel(ctx), program, timeOut, false))
		}()
	}
	if err := put(true); err != nil {
		return err
	}
	with, err := m.calibrator.Sweeps(ctx, m.plan.Sweeps)
	if err != nil {
		return err
	}
	if m.Linearity, err = calibrate.Linearity(without, with, m.options.parsed.attenuation); err != nil {
		return fmt.Errorf("%w nothing was stored", err)
	}
	if over := without.Overloaded(); len(over) > 0 {
		m.doubt("overloaded without the attenuator: %s", strings.Join(over, ", "))
	}
	if len(program) == 0 {
		m.hand.c.note("take the attenuator out again")
	}
	m.Note = m.noted(fmt.Sprintf("attenuator of %g dB between antenna and receiver, %d sweeps each", float64(m.options.parsed.attenuation), m.plan.Sweeps))
	return nil
}

func (m *calibrationRun) ofLines(ctx context.Context) error {
	found, err := m.calibrator.OwnLines(ctx, sweepsForLines, m.plan.FrontEnd.Offset)
	if err != nil {
		return err
	}
	if why := m.antennaSeen(found); why != "" {
		return fmt.Errorf("%s: an antenna seems to be connected; put the terminator in its place, or where the feed line itself hears so much, at the receiver with --at receiver; nothing was stored", why)
	}
	m.Lines = found.Lines
	if len(found.Doubtful) > 0 {
		m.doubt("too few codes move in %s: the converter may make lines that an antenna's noise would smooth out", strings.Join(found.Doubtful, ", "))
	}
	where := "terminator at the antenna's end of the feed line"
	if m.options.at == atReceiver {
		where = "terminator at the receiver's input"
		if i := slices.IndexFunc(m.earlier, func(c survey.Calibration) bool { return c.Kind == survey.CalibrateLines }); i >= 0 {
			m.hand.c.note("this run counts in place of calibration %d; what the feed line picks up is in it no more: measure with --at antenna once more, if it does", m.earlier[i].ID)
		}
	} else {
		m.doubt("what the receiver makes itself and what the feed line picks up stand here together")
	}
	m.Note = m.noted(fmt.Sprintf("%s, %d sweeps", where, sweepsForLines))
	return nil
}

// antennaOver is from how far over the receiver's own noise a floor comes from
// outside: gain drifts by a decibel or two.
const antennaOver survey.DB = 6

// antennaSeen tells by what an antenna shows in what should be heard without one; ""
// where none does.
func (m *calibrationRun) antennaSeen(found calibrate.MeasuredLines) string {
	if found.Broadcasters > 0 {
		return fmt.Sprintf("%d of %d lines stand on the raster of broadcasters", found.Broadcasters, len(found.Lines))
	}
	for _, f := range found.Floors {
		for _, c := range m.earlier {
			i := slices.IndexFunc(c.Noise, func(n survey.SelfNoise) bool {
				return n.Segment == f.Segment && math.Abs(float64(n.Gain-f.Gain)) < 0.05
			})
			if i < 0 {
				continue
			}
			if over := f.Density.Over(c.Noise[i].Density); over >= antennaOver {
				return fmt.Sprintf("the floor of %s stands %.0f dB over the receiver's own noise of calibration %d", f.Segment.Name, float64(over), c.ID)
			}
			break // older ones do not count
		}
	}
	return ""
}

func (m *calibrationRun) ofClock(ctx context.Context) error {
	o := m.options
	e, err := m.calibrator.ClockError(ctx, o.listen, o.parsed.frequency, m.plan.FrontEnd.Offset)
	if err != nil {
		return err
	}
	m.Clock = &e
	by := "against the raster of 5 kHz"
	if o.parsed.frequency > 0 {
		by = fmt.Sprintf("against a station at %v", o.parsed.frequency)
		m.doubt("one station: it is as good as its own frequency, and it must be the one that was named")
	}
	switch m.plan.FrontEnd.Way {
	case survey.WayUp:
		m.doubt("the error is of the tuned frequency, %v higher than what is heard; the up-converter's own oscillator is in it and cannot be told apart: it is right with this converter only", m.plan.FrontEnd.Offset)
	case survey.WayDirectI, survey.WayDirectQ:
	default:
		if m.simulated {
			break
		}
		m.doubt("the tuner's own steps put every tuning off by up to 28 Hz; that is in the standard error")
	}
	m.Note = m.noted(fmt.Sprintf("%s, for %v, %g ppm corrected already", by, o.listen, m.plan.FrontEnd.PPM))
	return nil
}

// clockError gives what the plan is to say: two errors of one clock multiply.
func (m *calibrationRun) clockError() float64 {
	return m.plan.FrontEnd.PPM + m.Clock.PPM + m.plan.FrontEnd.PPM*m.Clock.PPM*1e-6
}

// noted gives the note that is stored: how it was done, and what speaks against it.
func (m *calibrationRun) noted(how string) string {
	return strings.Join(append([]string{how}, m.doubts...), "; ")
}

// print shows the calibration, as one JSON document or for a person to read.
func (m *calibrationRun) print(c *console) error {
	run := calibration.Run{Calibration: m.Calibration, Simulated: m.simulated, LeftWords: calibrate.ByReason(m.left),
		Attenuation: m.options.parsed.attenuation, PlanPPM: m.plan.FrontEnd.PPM, Doubts: m.doubts}
	for _, n := range m.noise {
		run.SelfNoise = append(run.SelfNoise, calibration.Noise{SelfNoise: n.SelfNoise, Flags: n.Flags, Doubtful: n.Doubtful})
	}
	for _, l := range m.left {
		run.Left = append(run.Left, calibration.Left(l))
	}
	if m.Clock != nil {
		run.NewPPM = m.clockError()
	}
	if m.options.json {
		return result.WriteJSON(c.out, run.Document())
	}
	return run.WriteText(c.out)
}
