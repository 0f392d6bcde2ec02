package capture_test

import (
	"context"
	"fmt"
	"log/slog"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A memory is a store of its own kind: it keeps what it is given, and fails at
// the n-th sweep (from 1) where failAt says so.
type memory struct {
	survey    survey.Survey
	sweeps    []survey.Sweep
	ids       int64
	atOnce    int // carriers measured by force that came with their sweep
	late      int // those added afterwards
	lateCombs int
	ends      int
	gaps      []survey.Gap
	visits    []survey.Visit
	resumed   int64
	tries     int
	failAt    int
	failFor   int // tries in a row; 0: 1
	failure   error
	endFails  error // of EndSurvey
	gapFails  error // of AddGap

	resumeFails error         // of ResumeSurvey
	hold        time.Duration // that AddSweep takes at the failing try, by clock
	clock       *capturetest.Fake
}

func (m *memory) BeginSurvey(_ context.Context, s survey.Survey) (int64, error) {
	m.survey = s
	return 7, nil
}

func (m *memory) AddSweep(ctx context.Context, s *survey.Sweep) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	m.tries++
	if m.hold > 0 && m.tries >= m.failAt && m.tries < m.failAt+max(1, m.failFor) {
		if err := m.clock.Sleep(ctx, m.hold); err != nil {
			return err
		}
	}
	if m.failure != nil && len(m.sweeps)+1 == m.failAt && m.tries < m.failAt+max(1, m.failFor) {
		return m.failure
	}
	s.ID = int64(len(m.sweeps) + 1)
	for i := range s.Readings {
		m.ids++
		s.Readings[i].ID = m.ids
	}
	kept := *s
	kept.Readings = append([]survey.Reading(nil), s.Readings...)
	for i := range kept.Readings {
		kept.Readings[i].Carriers = append([]survey.Carrier(nil), s.Readings[i].Carriers...)
		kept.Readings[i].Findings = append([]survey.Finding(nil), s.Readings[i].Findings...)
		for _, c := range kept.Readings[i].Carriers {
			if !c.Detected {
				m.atOnce++
			}
		}
	}
	m.sweeps = append(m.sweeps, kept)
	return nil
}

func (m *memory) AddCarriers(ctx context.Context, carriers map[int64][]survey.Carrier) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	for id, add := range carriers {
		m.late += len(add)
		for i := range m.sweeps {
			for k := range m.sweeps[i].Readings {
				if r := &m.sweeps[i].Readings[k]; r.ID == id {
					r.Carriers = append(r.Carriers, add...)
				}
			}
		}
	}
	return nil
}

func (m *memory) AddFindings(ctx context.Context, findings map[int64][]survey.Finding) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	for id, add := range findings {
		m.lateCombs += len(add)
		for i := range m.sweeps {
			for k := range m.sweeps[i].Readings {
				if r := &m.sweeps[i].Readings[k]; r.ID == id {
					r.Findings = append(r.Findings, add...)
				}
			}
		}
	}
	return nil
}

func (m *memory) AddVisit(ctx context.Context, v survey.Visit) error {
	m.visits = append(m.visits, v)
	return ctx.Err()
}

func (m *memory) AddGap(ctx context.Context, gap survey.Gap) error {
	if m.gapFails != nil {
		return m.gapFails
	}
	m.gaps = append(m.gaps, gap)
	return ctx.Err()
}

func (m *memory) FlagFrom(ctx context.Context, _ int64, visit int, flag string) error {
	for i := range m.sweeps {
		if m.sweeps[i].Visit < visit {
			continue
		}
		for k := range m.sweeps[i].Readings {
			q := &m.sweeps[i].Readings[k].Quality
			q.Flags = append(q.Flags, flag)
		}
	}
	return ctx.Err()
}

func (m *memory) ResumeSurvey(ctx context.Context, id int64) error {
	if m.resumeFails != nil {
		return fmt.Errorf("resume survey %d: %w", id, m.resumeFails) // as the store says it
	}
	m.resumed = id
	return ctx.Err()
}

func (m *memory) EndSurvey(ctx context.Context, id int64, at time.Time, ending string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if m.endFails != nil {
		return m.endFails
	}
	m.ends++
	m.survey.ID, m.survey.End, m.survey.Ending = id, at, ending
	return nil
}

var (
	loop = survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}
	whip = survey.Setup{Antenna: "whip", Placement: "attic"}
	wire = survey.Setup{Antenna: "wire", Placement: "garden"}
)

// The fake samples at 250 kS/s, so that a segment may be 73 kHz wide.
var (
	lower  = survey.Segment{Name: "lower", Low: 6.00e6, High: 6.06e6}
	higher = survey.Segment{Name: "higher", Low: 9.50e6, High: 9.56e6}
)

// smallPlan takes 0.1 s a reading: 25,000 samples, some 24 frames of 2048.
func smallPlan() plan.Plan {
	return plan.Plan{Setups: []survey.Setup{loop, whip, wire}, Segments: []survey.Segment{lower, higher},
		Dwell: 100 * time.Millisecond, Sweeps: 2, Rounds: 3, Seed: 5, Text: "the plan"}
}

// recorderOf puts a recorder together; tests change what they are about.
func recorderOf(sky capturetest.Sky, p plan.Plan) (*capture.Recorder, *capturetest.Fake, *memory) {
	fake, m := capturetest.New(sky), &memory{}
	return &capture.Recorder{Plan: p, Receiver: fake, Clock: fake, Changer: fake, Store: m, Version: "test", Log: slog.New(slog.DiscardHandler)}, fake, m
}

// quiet is a sky with noise and nothing else.
var quiet = capturetest.Sky{Floor: -120}

// run carries the plan out and wants no error.
func run(t *testing.T, r *capture.Recorder) {
	t.Helper()
	if id, err := r.Run(t.Context()); err != nil || id != 7 {
		t.Fatalf("survey %d: %v", id, err)
	}
}
