package capture_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// logged lets a test read what the recorder says.
func logged(r *capture.Recorder) *bytes.Buffer {
	var said bytes.Buffer
	r.Log = slog.New(slog.NewTextHandler(&said, nil))
	return &said
}

// A receiver that goes away in mid-survey is opened again, with growing pauses;
// the gap is marked, and every round is done.
func TestUnpluggedReceiverComesBack(t *testing.T) {
	sky := quiet
	// The 3rd read of a pilot, one in mid-sweep, one later, and two in a row.
	sky.Faults = map[int]error{3: capture.ErrUnplugged, 40: capture.ErrUnplugged, 60: capture.ErrStuck, 61: capture.ErrUnplugged}
	r, fake, m := recorderOf(sky, smallPlan())
	said := logged(r)
	away := 0
	r.Reopen = func(context.Context) (capture.Receiver, error) {
		if away++; away%4 != 0 {
			return nil, errors.New("no dongle found")
		}
		fake.Reopen()
		return fake, nil
	}
	run(t, r)
	if m.survey.Ending != capture.EndDone || len(m.sweeps) != 3*3*2 {
		t.Errorf("%q, %d sweeps", m.survey.Ending, len(m.sweeps))
	}
	if len(m.gaps) != 3 {
		t.Fatalf("gaps %v", m.gaps)
	}
	for i, g := range m.gaps {
		// 1 + 2 + 4 + 8 s of pauses, 16 + 3·30 s more where it failed at once, and what was
		// measured in vain.
		want := []time.Duration{15 * time.Second, 15 * time.Second, 121 * time.Second}[i]
		if took := g.To.Sub(g.From); took < want || took > want+2*time.Second {
			t.Errorf("gap %d: %v", i, took)
		}
		if !strings.HasPrefix(g.Why, "receiver ") || g.Survey != 7 {
			t.Errorf("gap %d: %+v", i, g)
		}
		for _, s := range m.sweeps {
			for _, reading := range s.Readings {
				if reading.Start.Before(g.To) && reading.Start.Add(reading.Duration).After(g.From.Add(time.Millisecond)) {
					t.Errorf("a reading from %v lies in the gap %v–%v", reading.Start, g.From, g.To)
				}
			}
		}
	}
	// It speaks when something changes: began, still away (once a reason), cleared.
	for what, want := range map[string]int{"fault began": 3, "still away": 4, "fault cleared": 3} {
		if got := strings.Count(said.String(), what); got != want {
			t.Errorf("%q was said %d times, want %d:\n%s", what, got, want, said)
		}
	}
}

// A receiver that opens and fails at each tuning is away all the time: the pauses grow, one
// gap is marked, and little is said.
func TestReceiverThatOpensAndFails(t *testing.T) {
	refused := fmt.Errorf("tune: the driver gave error -9: %w", capture.ErrStuck)
	for _, ends := range []bool{false, true} { // while it fails
		r, fake, m := recorderOf(quiet, smallPlan())
		said := logged(r)
		dongle := &refusing{Fake: fake, why: refused}
		r.Receiver = dongle
		tries := 0
		r.Reopen = func(context.Context) (capture.Receiver, error) {
			fake.Reopen()
			if tries++; tries == 20 {
				dongle.why = nil
			}
			return dongle, nil
		}
		var last time.Time // end of the last reading before
		r.Stored = func(s *survey.Sweep) {
			if s.ID == 5 {
				last = s.Readings[1].Start.Add(s.Readings[1].Duration)
				dongle.due.Store(true)
			}
		}
		if ends {
			r.Until = fake.Now().Add(3 * time.Minute)
		}
		run(t, r)
		// 1 + 2 + 4 + 8 + 16 s, then 30 s each.
		want, ending, cleared := 31*time.Second+15*30*time.Second, capture.EndDone, 1
		if ends {
			want, ending, cleared = 3*time.Minute, "the time was up", 0
		}
		if len(m.gaps) != 1 || !strings.HasPrefix(m.gaps[0].Why, "receiver stuck: ") || !strings.Contains(m.gaps[0].Why, refused.Error()) {
			t.Fatalf("ends %v: gaps %v", ends, m.gaps)
		}
		g := m.gaps[0]
		if took := g.To.Sub(g.From); !g.From.Equal(last) || took < want-5*time.Second || took > want+2*time.Second || m.survey.Ending != ending {
			t.Errorf("ends %v: away from %v for %v, want %v for %v; %q", ends, g.From, took, last, want, m.survey.Ending)
		}
		// It began at one tuning, and goes on at the first one of a visit.
		if n := strings.Count(said.String(), "level=WARN"); n != 2+cleared || strings.Count(said.String(), "fault cleared: receiver") != cleared {
			t.Errorf("ends %v: %d warnings:\n%s", ends, n, said)
		}
	}
}

// A refusing receiver tunes no more once it is due to fail, until why is nil.
type refusing struct {
	*capturetest.Fake
	due atomic.Bool
	why error
}

func (r *refusing) Tune(ctx context.Context, centre survey.Hz) (survey.Hz, error) {
	if r.why != nil && r.due.Load() {
		return 0, r.why
	}
	return r.Fake.Tune(ctx, centre)
}

// The operator can stop a survey whose receiver is away.
func TestStopWhileTheReceiverIsAway(t *testing.T) {
	sky := quiet
	sky.Faults = map[int]error{40: capture.ErrUnplugged}
	r, fake, m := recorderOf(sky, smallPlan())
	r.Until = fake.Now().Add(time.Minute)
	r.Reopen = func(context.Context) (capture.Receiver, error) { return nil, capture.ErrUnplugged }
	run(t, r)
	if m.survey.Ending != "the time was up" || len(m.gaps) != 1 || m.survey.End.Sub(r.Until) > 2*time.Second {
		t.Errorf("%q at %v, gaps %v", m.survey.Ending, m.survey.End, m.gaps)
	}
}

// While the disk is full the recorder goes on, says so once, marks the gap, and
// keeps the carriers measured by force until there is room.
func TestFullDisk(t *testing.T) {
	full := errors.New("the disk is full")
	sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{{At: 6.03e6, Level: -80, Through: "loop"}}}
	r, _, m := recorderOf(sky, smallPlan())
	said := logged(r)
	m.failAt, m.failFor, m.failure = 5, 7, full
	r.Passing = func(err error) bool { return errors.Is(err, full) }
	run(t, r)
	if want := 3*3*2 - 7; len(m.sweeps) != want || m.survey.Ending != capture.EndDone {
		t.Errorf("%d sweeps, want %d; %q", len(m.sweeps), want, m.survey.Ending)
	}
	if len(m.gaps) != 1 || !strings.Contains(m.gaps[0].Why, "disk is full") || !m.gaps[0].From.After(m.sweeps[3].Start) || m.gaps[0].To.Before(m.sweeps[4].Start) {
		t.Errorf("gaps %v", m.gaps)
	}
	if n := strings.Count(said.String(), "fault began"); n != 1 || strings.Count(said.String(), "fault cleared") != 1 {
		t.Errorf("%s", said)
	}
	for _, s := range m.sweeps {
		checkStation(t, sky, sky.Carriers[0], s)
	}
}

// A sweep with a figure that cannot be is left out and said why, once; it leaves a gap, and the
// night goes on.
func TestSweepThatCannotBe(t *testing.T) {
	r, _, m := recorderOf(quiet, smallPlan())
	said := logged(r)
	m.failAt, m.failFor, m.failure = 5, 2, fmt.Errorf("store sweep: %w: power 7e+304 is not from -1e+15 to 1e+15", survey.ErrInvalid)
	run(t, r)
	if want := 3*3*2 - 2; len(m.sweeps) != want || m.survey.Ending != capture.EndDone {
		t.Errorf("%d sweeps, want %d; %q", len(m.sweeps), want, m.survey.Ending)
	}
	if len(m.gaps) != 2 {
		t.Fatalf("gaps %v, want one for each of two sweeps", m.gaps)
	}
	before, after := m.sweeps[3].Readings[1], m.sweeps[4]
	for _, g := range m.gaps {
		if !strings.HasPrefix(g.Why, "a sweep was left out: store sweep: ") || !g.To.After(g.From) || g.From.Before(before.Start.Add(before.Duration)) || g.To.After(after.Start) {
			t.Errorf("gap %+v, want it between %v and %v", g, before.Start, after.Start)
		}
	}
	if n := strings.Count(said.String(), slog.LevelError.String()); n != 1 || !strings.Contains(said.String(), "7e+304") {
		t.Errorf("%d errors in the log, want 1:\n%s", n, said)
	}
}

// What was measured by force afterwards, and cannot be, is left out alone.
func TestForcedThatCannotBe(t *testing.T) {
	sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{{At: 6.03e6, Level: -80, Through: "loop"}}}
	r, _, m := recorderOf(sky, smallPlan())
	said, late := logged(r), &unfitLate{memory: m}
	r.Store = late
	run(t, r)
	if len(m.sweeps) != 3*3*2 || m.survey.Ending != capture.EndDone || late.refused == 0 || len(m.gaps) != 0 {
		t.Errorf("%d sweeps, %d refused, gaps %v; %q", len(m.sweeps), late.refused, m.gaps, m.survey.Ending)
	}
	if n := strings.Count(said.String(), slog.LevelError.String()); n != 1 || !strings.Contains(said.String(), "a figure cannot be") {
		t.Errorf("%d errors in the log, want 1:\n%s", n, said)
	}
}

// unfitLate refuses all carriers that were measured by force afterwards.
type unfitLate struct {
	*memory
	refused int
}

func (u *unfitLate) AddCarriers(_ context.Context, carriers map[int64][]survey.Carrier) error {
	if len(carriers) == 0 {
		return nil
	}
	u.refused++
	return fmt.Errorf("store carriers: %w", survey.ErrInvalid)
}

// Time that passes in the store, which another program holds locked, is no standstill of the
// host: where the sweep is refused in the end it has its gap, where it is stored late the gap
// says why.
func TestLockedStore(t *testing.T) {
	locked := errors.New("another program holds it locked")
	for _, test := range []struct {
		failure error
		gaps    int
		says    string
	}{{locked, 1, "not stored: another program"}, {nil, 2, "the database took long to store a sweep"}} {
		r, fake, m := recorderOf(quiet, smallPlan())
		said := logged(r)
		r.Passing = func(err error) bool { return errors.Is(err, locked) }
		m.failAt, m.failFor, m.failure, m.hold, m.clock = 3, 3, test.failure, 6*time.Second, fake
		run(t, r)
		if len(m.gaps) != test.gaps || strings.Contains(said.String(), "suspended") {
			t.Errorf("%d gaps, want %d: %v\n%s", len(m.gaps), test.gaps, m.gaps, said)
		}
		for _, g := range m.gaps {
			if !strings.HasPrefix(g.Why, test.says) || g.To.Sub(g.From) < 6*time.Second {
				t.Errorf("gap %+v, want %q", g, test.says)
			}
		}
	}
}

// A survey that was cut off goes on where it was: the same rounds in the same
// order, each setup as often as planned, and the gap marked.
func TestResume(t *testing.T) {
	station := capturetest.Carrier{At: 6.03e6, Level: -80, Through: "loop"}
	sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{station}}
	whole, _, all := recorderOf(sky, smallPlan())
	run(t, whole)
	cuts := []int{1, 6, 11, 3, 7, 17}
	if testing.Short() { // the race detector takes ten times as long
		cuts = cuts[:3]
	}
	for _, cutAt := range cuts {
		first, fake, m := recorderOf(sky, smallPlan())
		ctx, cancel := context.WithCancel(t.Context())
		first.Stored = func(s *survey.Sweep) {
			if s.ID == int64(cutAt) {
				cancel()
			}
		}
		if _, err := first.Run(ctx); !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
		if len(m.sweeps) != cutAt {
			t.Fatalf("%d sweeps, want %d", len(m.sweeps), cutAt)
		}
		progress := survey.Progress{Survey: m.survey, Made: map[survey.Setup]int{}}
		for i := range m.sweeps {
			s := &m.sweeps[i]
			if s.Round != progress.Round {
				clear(progress.Made)
			}
			progress.Round, progress.Visit, progress.Last = s.Round, s.Visit, s.Readings[1].Start.Add(s.Readings[1].Duration)
			progress.Made[s.Setup]++
			kept := *s
			kept.Readings = append([]survey.Reading(nil), s.Readings...)
			progress.Recent = append(progress.Recent, &kept)
		}
		again, _, _ := recorderOf(sky, smallPlan())
		again.Store, again.Resume = m, &progress
		again.Receiver, again.Clock, again.Changer = fake, fake, fake
		if err := fake.Sleep(t.Context(), time.Hour); err != nil {
			t.Fatal(err)
		}
		run(t, again)
		if m.resumed != 7 || len(m.gaps) != 1 || m.gaps[0].To.Sub(m.gaps[0].From) < time.Hour {
			t.Errorf("cut at %d: resumed %d, gaps %v", cutAt, m.resumed, m.gaps)
		}
		if len(m.sweeps) != len(all.sweeps) {
			t.Fatalf("cut at %d: %d sweeps, want %d", cutAt, len(m.sweeps), len(all.sweeps))
		}
		for i := range m.sweeps {
			if got, want := m.sweeps[i], all.sweeps[i]; got.Setup != want.Setup || got.Round != want.Round || got.Visit < want.Visit {
				t.Errorf("cut at %d: sweep %d is %v in round %d, want %v in round %d", cutAt, i, got.Setup, got.Round, want.Setup, want.Round)
			}
			checkStation(t, sky, station, m.sweeps[i])
		}
	}
}

// A settable clock beside one that nobody sets.
type settable struct {
	*capturetest.Fake
	by *time.Duration
}

func (c settable) Now() time.Time         { return c.Fake.Now().Add(*c.by) }
func (c settable) Elapsed() time.Duration { return c.Fake.Now().Sub(time.Unix(0, 0)) }

// Readings from before the clock was set are marked; those after are not, and a
// clock that is kept right by and by is no clock that was set.
func TestClockIsSet(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	var by time.Duration
	r.Clock = settable{fake, &by}
	r.Stored = func(s *survey.Sweep) {
		by += 20 * time.Millisecond
		if s.ID == 7 {
			by -= time.Hour
		}
	}
	run(t, r)
	for _, s := range m.sweeps {
		for _, reading := range s.Readings {
			if got, want := reading.Quality.Has(survey.FlagClockSet), s.ID <= 7; got != want {
				t.Errorf("sweep %d: marked %v, want %v", s.ID, got, want)
			}
		}
	}
}

// A survey that is taken up while the clock stands behind its last reading marks what it measures
// until the clock is set; so it is known which times are in doubt even if that never happens.
func TestClockBehindTheLastReading(t *testing.T) {
	for _, set := range []bool{false, true} {
		r, fake, m := recorderOf(quiet, smallPlan())
		var by time.Duration
		r.Clock = settable{fake, &by}
		r.Resume = &survey.Progress{Survey: survey.Survey{ID: 7}, Made: map[survey.Setup]int{}, Last: fake.Now().Add(24 * time.Hour)}
		r.Stored = func(s *survey.Sweep) {
			if set && s.ID == 7 {
				by = 48 * time.Hour
			}
		}
		run(t, r)
		if len(m.sweeps) != 18 {
			t.Fatalf("%d sweeps", len(m.sweeps))
		}
		for _, s := range m.sweeps {
			for _, reading := range s.Readings {
				if got, want := reading.Quality.Has(survey.FlagClockSet), !set || s.ID <= 7; got != want {
					t.Errorf("set %v: sweep %d: marked %v, want %v", set, s.ID, got, want)
				}
			}
		}
	}
}

// A gain that the plan prescribes is kept, overload or not; the others are found.
func TestPrescribedGain(t *testing.T) {
	p := smallPlan()
	p.Setups = []survey.Setup{whip, loop}
	p.Gains = []plan.FixedGain{{Antenna: "whip", Segment: "lower", Gain: 21}, {Antenna: "whip", Placement: "cellar", Gain: 0}}
	sky := capturetest.Sky{Floor: -125, Carriers: []capturetest.Carrier{{At: 6.03e6, Level: -20}}} // 11 dB over full scale at 21 dB
	r, _, m := recorderOf(sky, p)
	run(t, r)
	for _, s := range m.sweeps {
		lower, higher := s.Readings[0], s.Readings[1]
		if fixed := lower.Gain.DB == 21; fixed != (s.Setup == whip) || higher.Gain.DB != 39 {
			t.Errorf("%v: gains %v and %v", s.Setup, lower.Gain.DB, higher.Gain.DB)
		}
	}
}

// A tuner that loses its lock in mid-survey is opened again; one that never locks
// is asked for what it cannot do, and that is said.
func TestTunerThatDoesNotLock(t *testing.T) {
	for at, heals := range map[int]bool{1: false, 60: true} {
		sky := quiet
		sky.Faults = map[int]error{at: capture.ErrNotLocked}
		r, fake, m := recorderOf(sky, smallPlan())
		r.Reopen = func(context.Context) (capture.Receiver, error) {
			fake.Reopen()
			return fake, nil
		}
		_, err := r.Run(t.Context())
		if (err == nil) != heals || (len(m.gaps) == 1) != heals || heals && (m.survey.Ending != capture.EndDone || m.gaps[0].Why != "the tuner does not lock") {
			t.Errorf("at read %d: %v, %q, %v", at, err, m.survey.Ending, m.gaps)
		}
	}
}

// Another dongle in place of the one that went away is not taken: its gains and
// its calibrations are others.
func TestAnotherReceiverIsNotTaken(t *testing.T) {
	sky := quiet
	sky.Faults = map[int]error{40: capture.ErrUnplugged}
	r, fake, m := recorderOf(sky, smallPlan())
	said := logged(r)
	tries := 0
	r.Reopen = func(context.Context) (capture.Receiver, error) {
		if tries++; tries < 3 {
			return other{fake}, nil
		}
		fake.Reopen()
		return fake, nil
	}
	run(t, r)
	if m.survey.Ending != capture.EndDone || len(m.gaps) != 1 || tries != 3 {
		t.Errorf("%q, %v, %d tries", m.survey.Ending, m.gaps, tries)
	}
	if n := strings.Count(said.String(), "another receiver is there"); n != 1 {
		t.Errorf("said %d times: %s", n, said)
	}
}

type other struct{ *capturetest.Fake }

func (o other) Info() capture.Info {
	info := o.Fake.Info()
	info.Serial = "another"
	return info
}

func (other) Close() error { return nil }

// A host that is suspended between two readings of a visit leaves a gap.
func TestHostStoodStill(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	h := &hand{changer: fake, does: func(int, survey.Setup) error { return nil }}
	r.Changer = h
	var slept atomic.Bool
	r.Stored = func(s *survey.Sweep) {
		if s.ID == 5 { // the first of a visit's two
			slept.Store(true)
		}
	}
	r.Receiver = &sleeper{Fake: fake, due: &slept}
	run(t, r)
	if len(m.gaps) != 1 || m.gaps[0].Why != "the host stood still" || m.gaps[0].To.Sub(m.gaps[0].From) < time.Minute || len(m.sweeps) != 18 {
		t.Errorf("%+v, %d sweeps", m.gaps, len(m.sweeps))
	}
}

// A sleeper loses a minute before a read, once it is due.
type sleeper struct {
	*capturetest.Fake
	due *atomic.Bool
}

func (s *sleeper) Tune(ctx context.Context, centre survey.Hz) (survey.Hz, error) {
	if s.due.CompareAndSwap(true, false) {
		if err := s.Sleep(ctx, time.Minute); err != nil {
			return 0, err
		}
	}
	return s.Fake.Tune(ctx, centre)
}
