package calibrate

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/capture/droop"
	"nightfloor/survey"
	"nightfloor/survey/level"
	"nightfloor/survey/plan"
)

// Settings are what a run is told beyond the plan.
type Settings struct {
	Frequency   survey.Hz            // level: the generator's; clock: the station's, 0 for the raster
	Level       survey.DBm           // level: the generator's
	SecondLevel survey.DBm           // level: another of the generator's, which tells compression; 0: none
	Generator   Generator            // level: is set to either of two levels
	By          string               // level: one of survey's bases
	Figure      survey.DB            // level: the receiver's noise figure
	ENR         survey.DB            // level: the noise source's excess noise ratio
	Source      NoiseSource          // level: turns it on and off
	Uncertainty survey.DB            // level: of what it rests on
	Changed     bool                 // noise, level: the receiver is not as it was in earlier runs
	Attenuation survey.DB            // linearity
	Attenuator  Attenuator           // linearity
	AtReceiver  bool                 // lines: the terminator is there, not at the antenna's end of the feed line
	Listen      time.Duration        // clock: for how long
	Earlier     []survey.Calibration // of the receiver, the newest first
	Tell        func(text string)    // says something to the operator
}

// A Run is one calibration: what it found, and what is to be said of it besides.
type Run struct {
	survey.Calibration
	Simulated bool
	SelfNoise []survey.MeasuredNoise // of a calibration of noise, or of level by a noise figure
	Skipped   []survey.SkippedStep   // of a calibration of level
	Found     survey.Hz              // where the generator's carrier stands by the receiver's clock; 0: there is none
	Figures   []level.Figure         // that own noise and levels imply
	Doubts    []string               // in words

	calibrator *Calibrator
	plan       plan.Plan
	settings   Settings
}

// NewRun prepares a calibration of a kind. Its Calibration has neither ID nor results yet.
func NewRun(k *Calibrator, p plan.Plan, c survey.Calibration, s Settings) *Run {
	return &Run{Calibration: c, Simulated: k.Receiver().Simulated, calibrator: k, plan: p, settings: s}
}

const (
	// sweepsForLines is how many sweeps the lines are sought in.
	sweepsForLines = 8
	// sweepsForLinearity is the least for each of three measurements: a carrier that fades between
	// sweeps, by 5.6 dB (PHYSICS.md 9.1), is known to 2 dB by eight.
	sweepsForLinearity = 8
)

// Measure does what the kind asks for. The error says why nothing is to be stored.
func (r *Run) Measure(ctx context.Context) error {
	if c := droop.Newest(r.settings.Earlier, r.Receiver); c != nil {
		if err := r.calibrator.UseDroop(c.Droop); err != nil {
			return err
		}
		r.DroopCalibration = c.ID
	}
	how, err := map[string]func(context.Context) (how string, err error){
		survey.CalibrateNoise: r.ofNoise, survey.CalibrateLevel: r.ofLevel, survey.CalibrateLinearity: r.ofLinearity,
		survey.CalibrateLines: r.ofLines, survey.CalibrateClock: r.ofClock,
	}[r.Kind](ctx)
	if err == nil || errors.Is(err, ErrClock) { // stations do not agree while the clock drifts
		err = cmp.Or(r.steady(), err)
	}
	if err == nil {
		err = r.judge()
	}
	r.Note = strings.Join(append([]string{how}, r.Doubts...), "; ") // what speaks against it is stored too
	return err
}

func (r *Run) doubt(format string, args ...any) {
	r.Doubts = append(r.Doubts, fmt.Sprintf(format, args...))
}

// antennaLines is from how many carriers in a reading on an antenna seems to be connected in
// place of a terminator (TestAntennaInPlaceOfATerminator).
const antennaLines = 10

// selfNoise measures the receiver into a terminator.
func (r *Run) selfNoise(ctx context.Context) error {
	found, heard, err := r.calibrator.terminated(ctx)
	if err != nil {
		return err
	}
	if n := r.calibrator.broadcasters(heard, r.plan.FrontEnd.Offset); n > 0 {
		return fmt.Errorf("%d of %d lines stand on the raster of broadcasters: an antenna seems to be connected; connect a terminator in its place, at the receiver's input, and measure again", n, len(heard))
	}
	if r.SelfNoise = found; len(found) == 0 {
		return errors.New("no segment has a floor: lines everywhere; connect a terminator in place of the antenna")
	}
	lines, over := 0, 0
	for _, n := range found {
		lines = max(lines, n.Carriers)
		if slices.Contains(n.Flags, survey.FlagOverload) {
			over++
		}
	}
	if over > 0 {
		return errors.New("the receiver is overloaded, and a terminator overloads none; connect one in place of whatever is there, and measure again")
	}
	for _, figures := range bySegment(found) {
		floors := map[survey.DB]float64{}
		known := slices.ContainsFunc(figures, func(n survey.MeasuredNoise) bool { return !n.Doubtful })
		for _, n := range figures {
			if !n.Doubtful || !known {
				floors[n.Gain] = float64(n.Density)
			}
		}
		r.doubtGain("the floor of "+figures[0].Segment.Name, floors)
	}
	if lines >= antennaLines {
		r.doubt("up to %s in a segment: is a terminator connected, and not an antenna?", survey.Count(lines, "line"))
	}
	return r.calibrator.watch(ctx, showsNoise)
}

// undone gives the error of a run of which something connected was to be undone at the end. Where both
// failed, it tells the operator what is left to do.
func (r *Run) undone(err, undoing error) error {
	if err != nil && undoing != nil {
		r.settings.Tell(undoing.Error())
		return err
	}
	return cmp.Or(err, undoing)
}

func (r *Run) ofNoise(ctx context.Context) (how string, err error) {
	passband, err := r.droopMeasured(ctx)
	if err != nil {
		return "", err
	}
	if err := r.selfNoise(ctx); err != nil {
		return "", err
	}
	low := 0
	for _, n := range r.SelfNoise {
		r.Noise = append(r.Noise, n.SelfNoise)
		if n.Doubtful {
			low++
		}
	}
	if low > 0 {
		r.doubt("%d of %d figures move too few codes: they may be off by 2.5 dB, and are stored with that doubt; reports compute them where calibrate level has measured those gains and a higher one", low, len(r.SelfNoise))
	}
	return "terminator at the receiver's input" + passband, nil
}

func (r *Run) ofLevel(ctx context.Context) (how string, err error) {
	switch r.settings.By {
	case survey.BasisFigure:
		return r.byFigure(ctx)
	case survey.BasisSource:
		return r.bySource(ctx)
	}
	if how, err = r.byGenerator(ctx); err == nil && len(r.Levels) == 0 {
		err = r.noLevels()
	}
	full := map[survey.DB]float64{}
	for _, l := range r.Levels {
		full[l.Gain] = float64(l.FullScale)
	}
	r.doubtGain("full scale", full)
	return how, err
}

func (r *Run) byFigure(ctx context.Context) (how string, err error) {
	if err := r.selfNoise(ctx); err != nil {
		return "", err
	}
	o := r.settings
	r.Levels, r.Skipped = LevelsFromFigure(r.SelfNoise, o.Figure, o.Uncertainty)
	if len(r.Levels) == 0 {
		return "", errors.New("at no gain does the receiver's own noise stand out of the converter's steps; use a generator, with --frequency and --level")
	}
	r.doubt("levels are as good as the noise figure that was given; at lower gains it may be higher")
	return fmt.Sprintf("terminator at the receiver's input, noise figure of %g ± %g dB as given", float64(o.Figure), float64(o.Uncertainty)), nil
}

// noLevels says why no gain step gave a level.
func (r *Run) noLevels() error {
	missing := func(l survey.SkippedStep) bool {
		return l.Why == ReasonNoCarrier || strings.HasPrefix(l.Why, ReasonWeak)
	}
	if !slices.ContainsFunc(r.Skipped, func(l survey.SkippedStep) bool { return !missing(l) }) {
		return fmt.Errorf("no carrier within %v of %v stands out of the noise at any gain; check that the generator is on, its frequency, level and cable", GeneratorHalf, r.settings.Frequency)
	}
	return fmt.Errorf("the generator's carrier is of no use at any gain (%s); give it another level", strings.Join(ByReason(r.Skipped), "; "))
}

func (r *Run) ofLinearity(ctx context.Context) (how string, err error) {
	a, sweeps := r.settings.Attenuator, max(r.plan.Sweeps, sweepsForLinearity)
	t := AttenuatorTest{Attenuation: r.settings.Attenuation, Earlier: r.settings.Earlier}
	in := false
	defer func() { // also after an interrupt
		switch {
		case in && a.ByHand():
			r.settings.Tell("take the attenuator out again")
		case in:
			err = r.undone(err, a.Put(context.WithoutCancel(ctx), false))
		}
	}()
	for _, step := range []struct {
		in    bool
		heard *SweepSet
	}{{false, &t.Before}, {true, &t.With}, {false, &t.After}} {
		in = in || step.in
		if err := a.Put(ctx, step.in); err != nil {
			return "", err
		}
		in = step.in
		if *step.heard, err = r.calibrator.Sweeps(ctx, sweeps); err != nil {
			return "", err
		}
	}
	r.Linearity, r.Doubts, err = t.Linearity()
	if err != nil {
		return "", err
	}
	if over := t.Before.Overloaded(); len(over) > 0 {
		r.doubt("overloaded without the attenuator: %s", strings.Join(over, ", "))
	}
	own := "own noise not known"
	if slices.ContainsFunc(r.Linearity, func(l survey.Linearity) bool { _, _, ok := ownNoise(t.Earlier, l.Segment, l.Gain); return ok }) {
		own = "own noise subtracted where it is known"
	}
	return fmt.Sprintf("attenuator of %g dB between antenna and receiver, out, in and out, %s each; %s", float64(t.Attenuation), survey.Count(sweeps, "sweep"), own), nil
}

func (r *Run) ofLines(ctx context.Context) (how string, err error) {
	found, err := r.calibrator.OwnLines(ctx, sweepsForLines, r.plan.FrontEnd.Offset)
	if err != nil {
		return "", err
	}
	if why := r.antennaSeen(found); why != "" {
		return "", fmt.Errorf("%s: an antenna seems to be connected; put the terminator in its place, or where the feed line itself hears so much, at the receiver with --at receiver", why)
	}
	r.Lines = found.Lines
	if len(found.Doubtful) > 0 {
		r.doubt("too few codes move in %s: the converter may make lines that an antenna's noise would smooth out", strings.Join(found.Doubtful, ", "))
	}
	where := "terminator at the antenna's end of the feed line"
	if r.settings.AtReceiver {
		where = "terminator at the receiver's input"
		if i := slices.IndexFunc(r.settings.Earlier, func(c survey.Calibration) bool { return c.Kind == survey.CalibrateLines }); i >= 0 {
			r.settings.Tell(fmt.Sprintf("this run counts in place of calibration %d; what the feed line picks up is in it no more: measure with --at antenna once more, if it does", r.settings.Earlier[i].ID))
		}
	} else {
		r.doubt("what the receiver makes itself and what the feed line picks up stand here together")
	}
	return where + ", " + survey.Count(sweepsForLines, "sweep"), nil
}

// antennaOver is from how far over the receiver's own noise a floor comes from
// outside: gain drifts by a decibel or two (TestAntennaSeen).
const antennaOver survey.DB = 6

// antennaSeen tells by what an antenna shows in what should be heard without one; ""
// where none does.
func (r *Run) antennaSeen(found MeasuredLines) string {
	if found.Broadcasters > 0 {
		return fmt.Sprintf("%d of %d lines stand on the raster of broadcasters", found.Broadcasters, len(found.Lines))
	}
	for _, f := range found.Floors {
		n, of, ok := ownNoise(r.settings.Earlier, f.Segment, f.Gain)
		if over := f.Density.Over(n.Density); ok && over >= antennaOver {
			return fmt.Sprintf("the floor of %s stands %.0f dB over the receiver's own noise of calibration %d", f.Segment.Name, float64(over), of)
		}
	}
	return ""
}

func (r *Run) ofClock(ctx context.Context) (how string, err error) {
	o := r.settings
	e, err := r.calibrator.ClockError(ctx, o.Listen, o.Frequency, r.plan.FrontEnd.Offset)
	if err != nil {
		return "", err
	}
	r.Clock = &e
	by := "against the raster of 5 kHz"
	if o.Frequency > 0 {
		by = fmt.Sprintf("against a station at %v", o.Frequency)
		r.doubt("one station: it is as good as its own frequency, and it must be the one that was named")
	}
	switch fe := r.plan.FrontEnd; {
	case fe.Way == survey.WayUp:
		r.doubt("the error is of the tuned frequency, %v higher than what is heard; the up-converter's own oscillator is in it and cannot be told apart: it is right with this converter only", fe.Offset)
	case !fe.Direct() && !r.Simulated:
		r.doubt("the tuner's own steps put every tuning off by up to 28 Hz; that is in the standard error")
	}
	return fmt.Sprintf("%s, for %v, %g ppm corrected already", by, o.Listen, r.plan.FrontEnd.PPM), nil
}

// NewClockError gives the clock error that the plan is to say, ppm: two errors of one clock
// multiply.
func (r *Run) NewClockError() float64 {
	return r.plan.FrontEnd.PPM + r.Clock.PPM + r.plan.FrontEnd.PPM*r.Clock.PPM*1e-6
}
