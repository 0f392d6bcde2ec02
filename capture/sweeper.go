package capture

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/dsp"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
)

// A Sweeper turns I/Q into readings. It is the only one that knows how a
// receiver misbehaves after a retune: samples from before it are thrown away.
// Not for concurrent use.
type Sweeper struct {
	receiver Receiver
	clock    Clock
	info     Info
	tunings  []Tuning
	dwell    time.Duration
	meter    *dsp.Meter
	codes    *spectrum.CodeCounter
	gains    map[gainKey]survey.Gain
	look     []byte      // scratch for pilots and for what is thrown away
	free     chan []byte // I/Q buffers of one reading, in turn
	// fixed gives a gain that the plan prescribes for a setup and a segment.
	fixed func(survey.Setup, string) (survey.DB, bool)
	alive func() // is told that samples have come; may be nil
	// likewise gives setups at the gains of the first of which, that is measured at a
	// tuning, another one is, so that its levels compare; none where it has gains of
	// its own. nil: all have.
	likewise func(survey.Setup) []survey.Setup
	// measures tells whether a segment is measured through a setup; nil: all are.
	measures func(survey.Setup, survey.Segment) bool
}

// Gain belongs to setup and segment, where segments share a tuning to that: a
// whip and an active loop can differ by tens of dB. The bearings of an antenna
// share theirs, else their levels would compare through labels only.
type gainKey struct {
	antenna, placement string
	tuning             int
}

func gainOf(s survey.Setup, tuning int) gainKey { return gainKey{s.Antenna, s.Placement, tuning} }

// NewSweeper prepares sweeps over segments. The error names segments that do
// not fit the receiver's sample rate.
func NewSweeper(r Receiver, c Clock, segments []survey.Segment, dwell time.Duration) (*Sweeper, error) {
	return newSweeper(r, c, segments, dwell, nil)
}

// newSweeper is NewSweeper for a survey, in which interference is sought, too.
func newSweeper(r Receiver, c Clock, segments []survey.Segment, dwell time.Duration, seek *interference.Options) (*Sweeper, error) {
	info := r.Info()
	tunings, err := Tunings(segments, info.SampleRate)
	if err != nil {
		return nil, err
	}
	samples := int64(float64(info.SampleRate) * dwell.Seconds())
	o := dsp.MeterOptions{Rate: float64(info.SampleRate), Samples: samples, Seek: seek}
	if droop := info.Droop; droop != nil {
		o.Droop = func(offset float64) float64 { return droop(survey.Hz(offset)) }
	}
	o.Centre, o.Bands = float64(tunings[0].Centre), bandsOf(tunings[0].Segments)
	meter, err := dsp.NewMeter(o)
	if err != nil {
		return nil, fmt.Errorf("dwell of %v: %w", dwell, err)
	}
	s := &Sweeper{receiver: r, clock: c, info: info, tunings: tunings, dwell: dwell, meter: meter, codes: spectrum.NewCodeCounter(8),
		gains: map[gainKey]survey.Gain{}, free: make(chan []byte, 2)}
	s.look = make([]byte, 2*int(float64(info.SampleRate)*max(pilotLook, info.Stale).Seconds()+1))
	for range cap(s.free) {
		s.free <- make([]byte, 2*samples)
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

// raw is the I/Q of one reading on its way from the receiver to the meter.
type raw struct {
	tuning  int
	centre  survey.Hz // realised
	start   time.Time
	gain    survey.Gain
	dropped int64
	iq      []byte
}

// Prepare takes the pilot sweep for a setup that is in place: each segment's
// gain. It does nothing where they are known already.
func (s *Sweeper) Prepare(ctx context.Context, setup survey.Setup) error {
	for _, i := range s.tuningsFor(setup) {
		t, key := s.tunings[i], gainOf(setup, i)
		if gain, ok := s.gainLikewise(setup, i); ok {
			s.gains[key] = gain
			continue
		}
		if _, known := s.gains[key]; known {
			continue
		}
		gain, err := s.gainFor(ctx, setup, t)
		if err != nil {
			return fmt.Errorf("pilot sweep at %v through %v: %w", t.Centre, setup, err)
		}
		s.gains[key] = gain
	}
	return nil
}

// gainLikewise gives the gain of the setup that this one is measured like, once it
// is known.
func (s *Sweeper) gainLikewise(setup survey.Setup, tuning int) (survey.Gain, bool) {
	if s.likewise == nil {
		return survey.Gain{}, false
	}
	for _, other := range s.likewise(setup) {
		if slices.Contains(s.tuningsFor(other), tuning) {
			gain, known := s.gains[gainOf(other, tuning)]
			return gain, known
		}
	}
	return survey.Gain{}, false
}

// tuningsFor gives the tunings, by number, at which something is measured through
// a setup.
func (s *Sweeper) tuningsFor(setup survey.Setup) []int {
	var some []int
	for i, t := range s.tunings {
		if s.measures == nil || slices.ContainsFunc(t.Segments, func(g survey.Segment) bool { return s.measures(setup, g) }) {
			some = append(some, i)
		}
	}
	return some
}

// prescribe lets a plan fix gains.
func (s *Sweeper) prescribe(fixed func(survey.Setup, string) (survey.DB, bool)) { s.fixed = fixed }

// gainFor gives what the plan prescribes for the segments of a tuning, the least
// where they differ, else what a pilot finds.
func (s *Sweeper) gainFor(ctx context.Context, setup survey.Setup, t Tuning) (survey.Gain, error) {
	if gain, ok := s.prescribed(setup, t); ok {
		return s.receiver.SetGain(ctx, gain)
	}
	return s.pilot(ctx, t)
}

// prescribed gives the plan's gain for a tuning.
func (s *Sweeper) prescribed(setup survey.Setup, t Tuning) (least survey.DB, ok bool) {
	if s.fixed == nil || len(s.info.Gains) == 0 {
		return 0, false
	}
	for _, g := range t.Segments {
		if gain, fixed := s.fixed(setup, g.Name); fixed && (!ok || gain < least) {
			least, ok = gain, true
		}
	}
	return least, ok
}

// Visit makes sweeps through the setup in place, each handed to done as it is
// finished. It ends early, without error, once stop says so between two sweeps.
// The receiver delivers the next reading while one is being measured.
func (s *Sweeper) Visit(ctx context.Context, setup survey.Setup, sweeps int, stop func() bool, done func(start time.Time, readings []survey.Reading) error) error {
	return s.visit(ctx, setup, sweeps, stop, func(bands []*passband) error {
		var readings []survey.Reading
		for _, p := range bands {
			readings = append(readings, p.readings...)
		}
		return done(readings[0].Start, readings)
	})
}

// visit is Visit with what each tuning of a sweep gave.
func (s *Sweeper) visit(ctx context.Context, setup survey.Setup, sweeps int, stop func() bool, done func(bands []*passband) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	tunings := s.tuningsFor(setup)
	if len(tunings) == 0 {
		return nil
	}
	ready := make(chan raw)
	failed := make(chan error, 1)
	go func() {
		defer close(ready)
		failed <- s.receive(ctx, setup, tunings, sweeps, stop, ready)
	}()
	var bands []*passband
	var err error
	for r := range ready {
		if err == nil {
			var fresh *passband
			if fresh, err = s.measure(r); err == nil {
				fresh.readings = s.wanted(setup, fresh.readings)
				bands = append(bands, fresh)
			}
		}
		s.free <- r.iq
		if err == nil && r.tuning == tunings[len(tunings)-1] {
			err = done(bands)
			bands = nil
		}
		if err != nil {
			cancel() // and drain what is under way
		}
	}
	if rxErr := <-failed; err == nil {
		err = rxErr
	}
	return err
}

// wanted leaves out what a setup does not measure.
func (s *Sweeper) wanted(setup survey.Setup, readings []survey.Reading) []survey.Reading {
	if s.measures == nil {
		return readings
	}
	return slices.DeleteFunc(readings, func(r survey.Reading) bool { return !s.measures(setup, r.Segment) })
}

// receive takes the I/Q of sweeps and sends it off, a reading at a time.
func (s *Sweeper) receive(ctx context.Context, setup survey.Setup, tunings []int, sweeps int, stop func() bool, ready chan<- raw) error {
	for n := range sweeps {
		if n > 0 && stop() {
			return nil
		}
		for _, i := range tunings {
			t := s.tunings[i]
			var iq []byte
			select {
			case iq = <-s.free:
			case <-ctx.Done():
				return ctx.Err()
			}
			r, err := s.take(ctx, setup, i, iq)
			if err != nil {
				s.free <- iq
				return fmt.Errorf("read %s at %v: %w", named(t.Segments), t.Centre, err)
			}
			select {
			case ready <- r:
			case <-ctx.Done():
				s.free <- iq
				return ctx.Err()
			}
		}
	}
	return nil
}

// A timed receiver knows when its samples were made; others are taken to make
// them when they are asked for.
type timed interface {
	// Begun gives the moment at which the first sample of the last Read was made.
	Begun() time.Time
}

// A host that is busy loses less than standing at once; one that lost more was
// suspended, or the process stopped. The last of mostTakes is kept, and marked.
const (
	standing  = time.Second
	mostTakes = 5
)

// take gives the I/Q of a reading. One during which the host stood still is of two
// times, and is taken again; the recorder marks the gap.
func (s *Sweeper) take(ctx context.Context, setup survey.Setup, tuning int, iq []byte) (raw, error) {
	_, live := s.receiver.(timed)
	for n := 1; ; n++ {
		r, err := s.takeOnce(ctx, setup, tuning, iq)
		lost := time.Duration(float64(r.dropped) / float64(s.info.SampleRate) * float64(time.Second))
		if err != nil || !live || lost < standing || n == mostTakes {
			return r, err
		}
	}
}

// takeOnce tunes, waits until the tuning holds, and fills iq.
func (s *Sweeper) takeOnce(ctx context.Context, setup survey.Setup, tuning int, iq []byte) (raw, error) {
	t := s.tunings[tuning]
	centre, err := s.receiver.Tune(ctx, t.Centre)
	if err != nil {
		return raw{}, err
	}
	gain := s.gains[gainOf(setup, tuning)]
	if len(s.info.Gains) > 0 {
		if gain, err = s.receiver.SetGain(ctx, gain.DB); err != nil {
			return raw{}, err
		}
	}
	if err := s.settle(ctx); err != nil {
		return raw{}, err
	}
	start := s.clock.Now()
	dropped, err := s.receiver.Read(ctx, iq)
	if err == nil && s.alive != nil {
		s.alive()
	}
	if t, ok := s.receiver.(timed); ok {
		start = t.Begun()
	}
	return raw{tuning: tuning, centre: centre, start: start, gain: gain, dropped: dropped, iq: iq}, err
}

// settle throws away what may still come from before a change.
func (s *Sweeper) settle(ctx context.Context) error {
	stale := 2 * int(math.Ceil(float64(s.info.SampleRate)*s.info.Stale.Seconds()))
	for stale > 0 {
		n := min(stale, len(s.look))
		n += n & 1
		if _, err := s.receiver.Read(ctx, s.look[:n]); err != nil {
			return err
		}
		stale -= n
	}
	return nil
}

// measure makes the readings of one tuning's I/Q.
func (s *Sweeper) measure(r raw) (*passband, error) {
	t := s.tunings[r.tuning]
	if err := s.meter.Retune(float64(r.centre), bandsOf(t.Segments)); err != nil {
		return nil, fmt.Errorf("measure %s: %w", named(t.Segments), err)
	}
	s.codes.Reset()
	s.codes.AddU8(r.iq)
	s.meter.WriteU8(r.iq)
	m, err := s.meter.Finish()
	if err != nil {
		return nil, fmt.Errorf("measure %s: %w", named(t.Segments), err)
	}
	p := newPassband(m, Conditions{Segments: t.Segments, Start: r.start, Centre: r.centre, SampleRate: s.info.SampleRate, Gain: r.gain, Dropped: r.dropped, Codes: s.codes})
	for i := range p.readings {
		if s.info.Flags != nil {
			q := &p.readings[i].Quality
			q.Flags = append(q.Flags, s.info.Flags(p.readings[i].Segment)...)
			slices.Sort(q.Flags)
		}
	}
	return p, nil
}

// Ease lowers the gain of a setup where a segment was overloaded, unless the plan
// prescribes it; it gives the segments that share it, by tuning.
func (s *Sweeper) Ease(setup survey.Setup, overloaded map[string]bool) []string {
	const step = 6 // dB: products of second and third order fall by 12 and 18
	var eased []string
	for i, t := range s.tunings {
		if !slices.ContainsFunc(t.Segments, func(g survey.Segment) bool { return overloaded[g.Name] }) {
			continue
		}
		key := gainOf(setup, i)
		if _, fixed := s.prescribed(setup, t); fixed {
			continue
		}
		if g, ok := s.gains[key]; ok && len(s.info.Gains) > 0 {
			g.DB = s.info.Gains[stepNear(s.info.Gains, g.DB-step)]
			s.gains[key] = g
			eased = append(eased, named(t.Segments))
		}
	}
	return eased
}

// named lists segments by name.
func named(segments []survey.Segment) string {
	names := make([]string, len(segments))
	for i, s := range segments {
		names[i] = s.Name
	}
	return strings.Join(names, ", ")
}
