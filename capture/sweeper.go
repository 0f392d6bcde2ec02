package capture

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/capture/drive"
	"nightfloor/dsp"
	"nightfloor/dsp/codes"
	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A Sweeper turns I/Q into readings. It is the only one that knows how a
// receiver misbehaves after a retune: samples from before it are thrown away.
// Not for concurrent use.
type Sweeper struct {
	receiver Receiver
	clock    Clock
	plan     plan.Plan
	info     Info
	tunings  []Tuning
	meter    *dsp.Meter
	codes    *codes.Counter
	gains    map[gainKey]survey.Gain
	raised   map[gainKey]survey.Gain // what the gains were that rose since the setup had its turn
	watch    drive.Watch[gainKey]
	options  SweepOptions
	scratch  []byte      // scratch for pilots and for what is thrown away
	buffers  chan []byte // I/Q buffers of one reading, in turn
}

// SweepOptions are what the plan does not say.
type SweepOptions struct {
	Seek  bool   // interference, too
	Alive func() // called whenever samples have come; nil: it is not
	// Droop is the power response of the receiver's filters as it was measured, 1 at the centre; nil:
	// what the receiver says of its own filter.
	Droop func(offset survey.Hz) float64
	// Samples is handed the I/Q of every reading; nil: it is not.
	Samples func(iq []byte)
	// SelfNoise gives the receiver's own noise in a segment at a gain, where it is known.
	SelfNoise func(survey.Segment, survey.DB) (density survey.DBFSPerHz, known bool)
	// Raised is told of gains that rose for want of drive, of some segments through a setup.
	Raised func(setup survey.Setup, segments string, from, to survey.DB)
}

// A gainKey is what a gain belongs to: a whip and an active loop can differ by tens of
// dB, and so can bands. All bearings of an antenna share one gain; with different ones
// their levels would compare through the labels of gain steps only.
type gainKey struct {
	antenna, placement string
	tuning             int
}

func gainKeyOf(s survey.Setup, tuning int) gainKey { return gainKey{s.Antenna, s.Placement, tuning} }

// NewSweeper prepares sweeps over the plan's segments, with readings of its dwell, at the
// gains that it prescribes or pilot sweeps find. The error names segments that do not fit the
// receiver's sample rate.
func NewSweeper(r Receiver, c Clock, p plan.Plan, options SweepOptions) (*Sweeper, error) {
	info := r.Info()
	tunings, err := Tunings(p.Segments, info.SampleRate)
	if err != nil {
		return nil, err
	}
	samples := int64(float64(info.SampleRate) * p.Dwell.Seconds())
	o := dsp.MeterOptions{Rate: float64(info.SampleRate), Samples: samples}
	if options.Seek {
		o.Seek = seekOptions(p.Site.MainsHz, p.Region)
	}
	if options.Alive == nil {
		options.Alive = func() {}
	}
	if options.Samples == nil {
		options.Samples = func([]byte) {}
	}
	if options.SelfNoise == nil {
		options.SelfNoise = func(survey.Segment, survey.DB) (survey.DBFSPerHz, bool) { return 0, false }
	}
	droop := options.Droop
	if droop == nil {
		droop = info.Droop
	}
	if droop != nil {
		o.Droop = func(offset float64) float64 { return droop(survey.Hz(offset)) }
	}
	o.Centre, o.Bands = float64(tunings[0].Centre), bandsOf(tunings[0].Segments)
	meter, err := dsp.NewMeter(o)
	if err != nil {
		return nil, fmt.Errorf("dwell of %v: %w", p.Dwell, err)
	}
	s := &Sweeper{receiver: r, clock: c, plan: p, info: info, tunings: tunings, meter: meter, codes: codes.NewCounter(8),
		options: options, gains: map[gainKey]survey.Gain{}, raised: map[gainKey]survey.Gain{}, buffers: make(chan []byte, 2)}
	s.scratch = make([]byte, 2*int(float64(info.SampleRate)*max(pilotLook, info.Stale).Seconds()+1))
	for range cap(s.buffers) {
		s.buffers <- make([]byte, 2*samples)
	}
	return s, nil
}

func bandsOf(segments []survey.Segment) []spectrum.Band {
	bands := make([]spectrum.Band, len(segments))
	for i, s := range segments {
		bands[i] = spectrum.Band{Low: float64(s.Low), High: float64(s.High)}
	}
	return bands
}

// Info gives what the receiver says of itself.
func (s *Sweeper) Info() Info { return s.info }

// Tunings gives the tunings of a sweep in their order.
func (s *Sweeper) Tunings() []Tuning { return s.tunings }

// SetGain has a tuning measured at a gain through a setup from now on, whatever a
// pilot sweep would find.
func (s *Sweeper) SetGain(setup survey.Setup, tuning int, gain survey.DB) {
	s.gains[gainKeyOf(setup, tuning)] = survey.Gain{DB: gain, Known: true}
}

// Read takes one reading of each segment of a tuning, counted from 0, at the gain
// that was set or found last for the setup in place.
func (s *Sweeper) Read(ctx context.Context, setup survey.Setup, tuning int) ([]survey.Reading, error) {
	iq := <-s.buffers
	defer func() { s.buffers <- iq }()
	r, err := s.take(ctx, setup, tuning, iq)
	if err != nil {
		return nil, err
	}
	p, err := s.measure(r)
	if err != nil {
		return nil, err
	}
	return p.readings, nil
}

// rawReading is the I/Q of one reading on its way from the receiver to the meter.
type rawReading struct {
	conditions
	tuning int
	iq     []byte
}

// Prepare finds the gain of each tuning for the setup in place, by a pilot sweep where
// neither the plan nor an earlier visit gives it, or where it has risen since.
func (s *Sweeper) Prepare(ctx context.Context, setup survey.Setup) error {
	for _, i := range s.tuningsFor(setup) {
		t, key := s.tunings[i], gainKeyOf(setup, i)
		if gain, ok := s.gainTakenOver(setup, i); ok {
			s.gains[key] = gain
			continue
		}
		gain, known := s.gains[key]
		was, raised := s.raised[key]
		if known && !raised {
			continue
		}
		var err error
		steps := s.info.Gains
		prescribed, fixed := s.prescribed(setup, t)
		switch {
		case raised:
			gain, err = s.lookAgain(ctx, t, was, gain)
		case fixed:
			gain, err = s.receiver.SetGain(ctx, prescribed)
		case len(steps) == 0: // there is only one gain, so that levels compare
			gain = survey.Gain{Known: true, Exact: true}
		default:
			gain, err = s.pilot(ctx, t, len(steps)/2, len(steps)-1)
		}
		if err != nil {
			return fmt.Errorf("pilot sweep at %v through %v: %w", t.Centre, setup, err)
		}
		if s.gains[key] = gain; raised {
			delete(s.raised, key)
			if gain.DB > was.DB && s.options.Raised != nil {
				s.options.Raised(setup, segmentNames(t.Segments), was.DB, gain.DB)
			}
		}
	}
	return nil
}

// gainTakenOver gives the gain that a control takes over, once one is known: of those that it serves the one after that
// at which it was measured last. A pilot sweep would give it the highest gain, at which its levels would
// compare with the antennas' through the labels of gain steps only. A gain that the plan
// prescribes for the control goes first.
func (s *Sweeper) gainTakenOver(setup survey.Setup, tuning int) (survey.Gain, bool) {
	control := s.plan.Antenna(setup.Antenna)
	if !control.Control() || slices.ContainsFunc(s.plan.Gains, func(g plan.FixedGain) bool { return g.Antenna == setup.Antenna }) {
		return survey.Gain{}, false
	}
	gains := s.gainsServed(control, tuning)
	if len(gains) == 0 {
		return survey.Gain{}, false
	}
	last := slices.Index(gains, s.gains[gainKeyOf(setup, tuning)])
	return gains[(last+1)%len(gains)], true
}

// gainsServed gives the gains at which a control is to be measured, as far as they are known, each once: that of the
// first antenna where the control is a terminator in an antenna's place, that of its own antenna where the element is
// replaced, and those of all antennas at the receiver's input, since own noise at one gain says nothing of that
// at another.
func (s *Sweeper) gainsServed(control survey.Antenna, tuning int) (gains []survey.Gain) {
	for _, other := range s.plan.Setups {
		a := s.plan.Antenna(other.Antenna)
		if a.Control() || !slices.Contains(s.tuningsFor(other), tuning) || control.Kind == survey.KindReplaced && !control.Serves(a) {
			continue
		}
		gain, known := s.gains[gainKeyOf(other, tuning)]
		if known && !slices.Contains(gains, gain) {
			gains = append(gains, gain)
		}
		if control.Kind == survey.KindTerminator && !control.AtReceiver() {
			break
		}
	}
	return gains
}

// tuningsFor gives the tunings, by number, at which something is measured through
// a setup.
func (s *Sweeper) tuningsFor(setup survey.Setup) []int {
	var some []int
	for i, t := range s.tunings {
		if slices.ContainsFunc(t.Segments, func(g survey.Segment) bool { return s.plan.Antenna(setup.Antenna).Measures(g) }) {
			some = append(some, i)
		}
	}
	return some
}

// prescribed gives the plan's gain for the segments of a tuning, the least where they
// differ.
func (s *Sweeper) prescribed(setup survey.Setup, t Tuning) (least survey.DB, ok bool) {
	if len(s.info.Gains) == 0 {
		return 0, false
	}
	for _, g := range t.Segments {
		if gain, fixed := s.plan.FixedGain(setup, g.Name); fixed && (!ok || gain < least) {
			least, ok = gain, true
		}
	}
	return least, ok
}

// Visit makes sweeps through the setup in place, each handed to done as it is
// finished. It ends early, without error, once stop says so between two sweeps.
// The receiver delivers the next reading while one is being measured.
func (s *Sweeper) Visit(ctx context.Context, setup survey.Setup, sweeps int, stop func() bool, done func(readings []survey.Reading) error) error {
	return s.visit(ctx, setup, sweeps, stop, func(bands []*heardPassband) error {
		var readings []survey.Reading
		for _, p := range bands {
			readings = append(readings, p.readings...)
		}
		return done(readings)
	})
}

// visit is Visit with what each tuning of a sweep gave.
func (s *Sweeper) visit(ctx context.Context, setup survey.Setup, sweeps int, stop func() bool, done func(bands []*heardPassband) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	tunings := s.tuningsFor(setup)
	if len(tunings) == 0 {
		return nil
	}
	ready := make(chan rawReading)
	var err, receiveErr error
	go func() {
		defer close(ready)
		receiveErr = s.receive(ctx, setup, tunings, sweeps, stop, ready)
	}()
	var bands []*heardPassband
	for r := range ready {
		if err == nil {
			var fresh *heardPassband
			if fresh, err = s.measure(r); err == nil {
				s.note(setup, r.tuning, fresh.readings)
				fresh.readings = slices.DeleteFunc(fresh.readings, func(r survey.Reading) bool { return !s.plan.Antenna(setup.Antenna).Measures(r.Segment) })
				bands = append(bands, fresh)
			}
		}
		s.buffers <- r.iq
		if err == nil && r.tuning == tunings[len(tunings)-1] {
			err = done(bands)
			bands = nil
		}
		if err != nil {
			cancel() // and receive what is under way, so that the goroutine ends
		}
	}
	return cmp.Or(err, receiveErr)
}

// receive takes the I/Q of sweeps and sends it off, a reading at a time. Whoever gets it takes all
// that comes, and gives the buffers back.
func (s *Sweeper) receive(ctx context.Context, setup survey.Setup, tunings []int, sweeps int, stop func() bool, ready chan<- rawReading) error {
	for n := range sweeps {
		if n > 0 && stop() {
			return nil
		}
		for _, i := range tunings {
			iq := <-s.buffers
			r, err := s.take(ctx, setup, i, iq)
			if err != nil {
				s.buffers <- iq
				return err
			}
			ready <- r
		}
	}
	return nil
}

// A timestamped receiver knows when its samples were digitised; of others it is
// assumed that they digitise when they are asked.
type timestamped interface {
	// Begun gives the time at which the first sample of the last Read was digitised.
	Begun() time.Time
}

// A busy host loses less than longStandstill at a time; if more is lost, the host was
// suspended or the process was stopped. Of mostAttempts the last is kept, and flagged.
const (
	longStandstill = time.Second
	mostAttempts   = 5
)

// take gives the I/Q of a reading. If the host stood still meanwhile, its samples come
// from two different times, and it is taken again; the recorder marks the gap.
func (s *Sweeper) take(ctx context.Context, setup survey.Setup, tuning int, iq []byte) (rawReading, error) {
	_, live := s.receiver.(timestamped)
	for n := 1; ; n++ {
		r, err := s.takeOnce(ctx, setup, tuning, iq)
		lost := time.Duration(float64(r.dropped) / float64(s.info.SampleRate) * float64(time.Second))
		switch {
		case err != nil:
			t := s.tunings[tuning]
			return r, fmt.Errorf("read %s at %v: %w", segmentNames(t.Segments), t.Centre, err)
		case !live || lost < longStandstill || n == mostAttempts:
			return r, nil
		}
	}
}

// takeOnce tunes, waits until the tuning holds, and fills iq.
func (s *Sweeper) takeOnce(ctx context.Context, setup survey.Setup, tuning int, iq []byte) (rawReading, error) {
	t := s.tunings[tuning]
	centre, err := s.receiver.Tune(ctx, t.Centre)
	if err != nil {
		return rawReading{}, err
	}
	gain := s.gains[gainKeyOf(setup, tuning)]
	if len(s.info.Gains) > 0 {
		if gain, err = s.receiver.SetGain(ctx, gain.DB); err != nil {
			return rawReading{}, err
		}
	}
	if err := s.settle(ctx); err != nil {
		return rawReading{}, err
	}
	start := s.clock.Now()
	dropped, err := s.receiver.Read(ctx, iq)
	if err == nil {
		s.options.Alive()
	}
	if by, ok := s.receiver.(timestamped); ok {
		start = by.Begun()
	}
	c := conditions{segments: t.Segments, start: start, centre: centre, rate: s.info.SampleRate, gain: gain, dropped: dropped, codes: s.codes}
	return rawReading{c, tuning, iq}, err
}

// settle throws away the samples that may still come from before a change.
func (s *Sweeper) settle(ctx context.Context) error {
	stale := int(math.Ceil(float64(s.info.SampleRate) * s.info.Stale.Seconds()))
	if stale == 0 {
		return nil
	}
	_, err := s.receiver.Read(ctx, s.scratch[:2*stale])
	return err
}

// measure makes the readings of one tuning's I/Q.
func (s *Sweeper) measure(r rawReading) (*heardPassband, error) {
	if err := s.meter.Retune(float64(r.centre), bandsOf(r.segments)); err != nil {
		return nil, fmt.Errorf("measure %s: %w", segmentNames(r.segments), err)
	}
	s.options.Samples(r.iq)
	s.codes.Reset()
	s.codes.AddU8(r.iq)
	s.meter.WriteU8(r.iq)
	m, err := s.meter.Finish()
	if err != nil {
		return nil, fmt.Errorf("measure %s: %w", segmentNames(r.segments), err)
	}
	p := newHeardPassband(m, r.conditions)
	for i := range p.readings {
		if s.info.Flags != nil {
			q := &p.readings[i].Quality
			q.Flags = append(q.Flags, s.info.Flags(p.readings[i].Segment)...)
			slices.Sort(q.Flags)
		}
	}
	return p, nil
}

// LowerGain lowers the gain of a setup where a segment was overloaded. It gives the segments that
// share it, by tuning: those whose gain fell, and those where it stays, because the plan prescribes
// it or there is no lower one.
func (s *Sweeper) LowerGain(setup survey.Setup, overloaded map[string]bool) (eased, left []string) {
	const step = 6 // dB: products of second and third order fall by 12 and 18
	for i, t := range s.tunings {
		if !slices.ContainsFunc(t.Segments, func(g survey.Segment) bool { return overloaded[g.Name] }) {
			continue
		}
		key, steps := gainKeyOf(setup, i), s.info.Gains
		g, known := s.gains[key]
		_, fixed := s.prescribed(setup, t)
		switch {
		case fixed || len(steps) == 0 || known && g.DB <= steps[0]:
			left = append(left, segmentNames(t.Segments))
		case known:
			g.DB = steps[drive.StepAtMost(steps, g.DB-step)]
			s.gains[key] = g
			eased = append(eased, segmentNames(t.Segments))
		}
	}
	return eased, left
}

// segmentNames lists segments by name.
func segmentNames(segments []survey.Segment) string {
	names := make([]string, len(segments))
	for i, s := range segments {
		names[i] = s.Name
	}
	return strings.Join(names, ", ")
}
