package capture_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
)

func TestRoundsAreShuffledAndComplete(t *testing.T) {
	p := smallPlan()
	p.Rounds = 6
	r, fake, m := recorderOf(quiet, p)
	r.DroopCalibration = 3
	run(t, r)
	if m.survey.Ending != "all rounds done" || m.survey.ID != 7 || m.ends != 1 || !m.survey.End.Equal(fake.Now()) {
		t.Errorf("%+v, ended %d times", m.survey, m.ends)
	}
	if s := m.survey; !s.Simulated || s.Plan != "the plan" || s.First != loop || s.Kind != survey.KindRecord || s.Seed != 5 || s.Version != "test" || s.DroopCalibration != 3 {
		t.Errorf("%+v", s)
	}
	if want := 6 * 3 * 2; len(m.sweeps) != want {
		t.Fatalf("%d sweeps, want %d", len(m.sweeps), want)
	}
	orders := map[[3]survey.Setup]bool{}
	var last survey.Setup
	for round := range 6 {
		var order [3]survey.Setup
		for turn := range 3 {
			for sweep := range 2 {
				s := m.sweeps[round*6+turn*2+sweep]
				order[turn] = s.Setup
				if s.Round != round+1 || s.Visit != round*3+turn+1 || s.Survey != 7 {
					t.Errorf("sweep %d: survey %d, round %d, visit %d", s.ID, s.Survey, s.Round, s.Visit)
				}
				if len(s.Readings) != 2 || s.Readings[0].Segment != lower || s.Readings[1].Segment != higher || !s.Start.Equal(s.Readings[0].Start) {
					t.Errorf("sweep %d: %d readings, from %v", s.ID, len(s.Readings), s.Start)
				}
			}
		}
		sorted := order[:]
		orders[order] = true
		if sorted[0] == last {
			t.Errorf("round %d opens with %v, which closed the one before", round+1, last)
		}
		last = order[2]
		for _, s := range p.Setups {
			if !slices.Contains(order[:], s) {
				t.Errorf("round %d: %v without %v", round+1, order, s)
			}
		}
	}
	if len(orders) < 2 { // six rounds alike have a chance of 1/6 · (1/4)^5 at most
		t.Errorf("every round in the same order")
	}
}

// The floor of each reading is the sky's own, and knows gain and conditions.
func TestReadingsAreTrue(t *testing.T) {
	sky := capturetest.Sky{Floor: -120, Antennas: map[string]survey.DB{"loop": 30, "wire": 12}}
	r, _, m := recorderOf(sky, smallPlan())
	run(t, r)
	for _, s := range m.sweeps {
		for _, reading := range s.Readings {
			if reading.Floor == nil || !reading.Gain.Known || !reading.Gain.Exact {
				t.Fatalf("%v: floor %v, gain %+v", s.Setup, reading.Floor, reading.Gain)
			}
			want := sky.Density(s.Setup.Antenna, reading.Gain.DB)
			// Some 490 bins of 24 frames half overlapping: 0.06 dB a sigma, 36 readings.
			if got := reading.Floor.Density; math.Abs(float64(got.Over(want))) > 0.3 {
				t.Errorf("%v, %s: floor %.2f dBFS/Hz, want %.2f ± 0.3", s.Setup, reading.Segment.Name, got, want)
			}
			if reading.Duration != 100*time.Millisecond || reading.SampleRate != 250e3 || len(reading.Carriers) != 0 || reading.Spectrum == nil {
				t.Errorf("%v: %v at %v, %d carriers", s.Setup, reading.Duration, reading.SampleRate, len(reading.Carriers))
			}
		}
	}
}

// The pilot drives every setup alike, though they are 30 dB apart, and clips none.
func TestPilotFindsTheGain(t *testing.T) {
	sky := capturetest.Sky{Floor: -125, Antennas: map[string]survey.DB{"loop": 30}}
	p := smallPlan()
	p.Setups = []survey.Setup{loop, whip}
	r, _, m := recorderOf(sky, p)
	run(t, r)
	gain := map[survey.Setup]survey.DB{}
	for _, s := range m.sweeps {
		for _, reading := range s.Readings {
			if reading.Quality.ClippedShare > 0 || reading.Quality.Has(survey.FlagOverload) || reading.Quality.Has(survey.FlagLowDrive) {
				t.Errorf("%v: %.4f clipped, flags %v", s.Setup, reading.Quality.ClippedShare, reading.Quality.Flags)
			}
			gain[s.Setup] = reading.Gain.DB
		}
	}
	// Through the whip −125 dBm/Hz · 250 kHz = −71 dBm, −61 dBFS at no gain: 41 dB to
	// the aim of −20 dBFS rms, so step 39; through the loop 11 dB, so step 9.
	if gain[whip] != 39 || gain[loop] != 9 {
		t.Errorf("gains %v, want whip 39, loop 9", gain)
	}
}

// A station heard late in a round is measured by force in the round's earlier
// readings, so that it exists for every setup or for none.
func TestCarriersHeardLateAreMeasuredInEarlierReadings(t *testing.T) {
	station := capturetest.Carrier{At: 6.03e6, Level: -80, Through: "loop"} // over −120 dBm/Hz · 183 Hz: 17 dB
	sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{station}}
	late, atOnce := 0, 0
	for seed := range uint64(6) {
		p := smallPlan()
		p.Rounds, p.Seed, sky.Seed = 1, seed, seed
		r, _, m := recorderOf(sky, p)
		run(t, r)
		late, atOnce = late+m.late, atOnce+m.atOnce
		if m.late+m.atOnce != 4 { // two sweeps through each of the two others
			t.Errorf("seed %d: %d carriers by force with their sweep and %d later, want 4 in all", seed, m.atOnce, m.late)
		}
		for _, s := range m.sweeps {
			checkStation(t, sky, station, s)
		}
	}
	// With the loop's turn in the middle of a round two come later, and two at
	// once, which a power cut before the round's end does not lose.
	if late == 0 || atOnce == 0 {
		t.Errorf("%d carriers by force with their sweep, %d later: want some of each", atOnce, late)
	}
}

// A beacon that the plan lists is measured in every reading of its segment, from the first on, though it
// is under the noise through all setups.
func TestListedInEveryReading(t *testing.T) {
	beacon := capturetest.Carrier{At: 6.03e6, Level: -99}
	sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{beacon}}
	p := smallPlan()
	p.Listed = map[string][]survey.Hz{lower.Name: {beacon.At}}
	r, _, m := recorderOf(sky, p)
	run(t, r)
	var mean float64
	readings := 0
	for _, s := range m.sweeps {
		for _, reading := range s.Readings {
			if reading.Segment != lower {
				if len(reading.Carriers) > 0 {
					t.Errorf("%s: %+v", reading.Segment.Name, reading.Carriers)
				}
				continue
			}
			if len(reading.Carriers) != 1 || reading.Carriers[0].Frequency != beacon.At || reading.Carriers[0].Detected || !(reading.Carriers[0].Sigma > 0) {
				t.Fatalf("round %d, %v: %+v, want the beacon alone, by force", s.Round, s.Setup, reading.Carriers)
			}
			mean += reading.Carriers[0].Power / sky.Power(beacon, s.Setup.Antenna, reading.Gain.DB)
			readings++
		}
	}
	// −99 dBm over −120 dBm/Hz in 183 Hz is −1.6 dB: a reading of 24 frames tells it to some 30 %.
	if mean /= float64(readings); m.late > 0 || readings != len(m.sweeps) || math.Abs(mean-1) > 4*0.4/math.Sqrt(float64(readings)) {
		t.Errorf("%d readings of %d sweeps, %d lines came late, their power %.2f of what it is", readings, len(m.sweeps), m.late, mean)
	}
}

// A round that is cut short, by a stop or by a second interrupt, keeps the rule.
func TestCarriersHeardLateInARoundCutShort(t *testing.T) {
	station := capturetest.Carrier{At: 6.03e6, Level: -80, Through: "loop"}
	sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{station}}
	seeds := uint64(6)
	if testing.Short() { // the race detector takes ten times as long
		seeds = 2
	}
	for _, hard := range []bool{false, true} {
		late := 0
		for seed := range seeds {
			p := smallPlan()
			p.Sweeps, p.Seed, sky.Seed = 4, seed, seed // the stop falls into the loop's visit
			r, _, m := recorderOf(sky, p)
			ctx, cancel := context.WithCancel(t.Context())
			asked, stop := context.WithCancel(t.Context())
			r.Stop = func() bool { return asked.Err() != nil }
			r.Stored = func(s *survey.Sweep) {
				if s.Setup == loop {
					stop()
					if hard {
						cancel()
					}
				}
			}
			// The second interrupt may find the survey at its end already.
			if _, err := r.Run(ctx); err != nil && !(hard && errors.Is(err, context.Canceled)) {
				t.Errorf("seed %d, hard %v: %v", seed, hard, err)
			}
			cancel()
			late += m.late
			for _, s := range m.sweeps {
				checkStation(t, sky, station, s)
			}
		}
		if late == 0 {
			t.Error("the loop had the first turn in every round: nothing was tested")
		}
	}
}

// A station that comes up after the pilot and overloads lowers the gain of its
// segment, visit by visit, until it fits; the other segment keeps its gain.
func TestOverloadLowersTheGain(t *testing.T) {
	// At step 39 a station of −40 dBm stands at +9 dBFS; −4 dB of that or less fit
	// into 8 bits (an amplitude of 0.63 and the noise). Pilots end within 2.4 s.
	sky := capturetest.Sky{Floor: -125, Carriers: []capturetest.Carrier{{At: 6.03e6, Level: -40, From: 4 * time.Second}}}
	p := smallPlan()
	p.Setups, p.Rounds = []survey.Setup{whip}, 12
	r, _, m := recorderOf(sky, p)
	run(t, r)
	first, last := m.sweeps[0], m.sweeps[len(m.sweeps)-1]
	overloads := 0
	for _, s := range m.sweeps {
		if s.Readings[0].Quality.Has(survey.FlagOverload) {
			overloads++
		}
	}
	if overloads == 0 || last.Readings[0].Quality.Has(survey.FlagOverload) {
		t.Errorf("%d overloads, at the end %v at gain %v", overloads, last.Readings[0].Quality.Flags, last.Readings[0].Gain.DB)
	}
	if first.Readings[0].Gain.DB != 39 || last.Readings[0].Gain.DB > 27 || last.Readings[0].Gain.DB < 21 {
		t.Errorf("gain %v, at the end %v, want 39 and 21 to 27", first.Readings[0].Gain.DB, last.Readings[0].Gain.DB)
	}
	if last.Readings[1].Gain.DB != 39 {
		t.Errorf("the other segment's gain is %v, want 39", last.Readings[1].Gain.DB)
	}
}

// checkStation wants the station once in the lower segment: detected through the
// loop, by force and within its error of nothing through the others.
func checkStation(t *testing.T, sky capturetest.Sky, station capturetest.Carrier, s survey.Sweep) {
	t.Helper()
	var found []survey.Carrier
	for _, c := range s.Readings[0].Carriers {
		if math.Abs(float64(c.Frequency-station.At)) < 100 {
			found = append(found, c)
		}
	}
	if len(found) != 1 {
		t.Errorf("%v, round %d: %d carriers at %v, want 1", s.Setup, s.Round, len(found), station.At)
		return
	}
	c, want := found[0], sky.Power(station, s.Setup.Antenna, s.Readings[0].Gain.DB)
	if c.Detected != (s.Setup == loop) {
		t.Errorf("%v: detected %v", s.Setup, c.Detected)
	}
	// 24 readings by force in all: 4.5 sigma.
	if !(c.Sigma > 0) || math.Abs(c.Power-want) > 4.5*c.Sigma+0.05*want {
		t.Errorf("%v: power %.3g ± %.2g, want %.3g", s.Setup, c.Power, c.Sigma, want)
	}
	// With nothing there the error would be less than that of a line that is found, and no other where nothing is.
	if !(c.Quiet > 0) || c.Quiet > c.Sigma || c.Detected && c.Quiet > c.Sigma/3 || !c.Detected && c.Power < c.Sigma && c.Quiet != c.Sigma {
		t.Errorf("%v: power %.3g ± %.2g, %.2g with nothing there", s.Setup, c.Power, c.Sigma, c.Quiet)
	}
	if len(s.Readings[1].Carriers) != 0 {
		t.Errorf("%v: the other segment has %v", s.Setup, s.Readings[1].Carriers)
	}
}

// What is stored is the setup that was reached, not the one that was asked for.
func TestReachedSetupIsStored(t *testing.T) {
	r, fake, m := recorderOf(quiet, smallPlan())
	r.Changer = changes(func(asked survey.Setup) (capture.Reached, error) {
		if asked == loop {
			asked.Bearing = survey.BearingOf(43)
		}
		return fake.Change(t.Context(), asked)
	})
	run(t, r)
	var got []string
	for _, s := range m.sweeps {
		got = append(got, s.Setup.String())
	}
	slices.Sort(got)
	if got = slices.Compact(got); !slices.Equal(got, []string{"loop@attic:43", "whip@attic", "wire@garden"}) {
		t.Errorf("%v", got)
	}
}

// changes puts setups in place as a function says.
type changes func(asked survey.Setup) (capture.Reached, error)

func (c changes) Change(_ context.Context, asked survey.Setup) (capture.Reached, error) {
	return c(asked)
}

// losing loses samples before one of its reads.
type losing struct {
	*capturetest.Fake
	reads, at int
	samples   int64
}

func (l *losing) Read(ctx context.Context, buf []byte) (dropped int64, err error) {
	if l.reads++; l.reads == l.at {
		dropped = l.samples
		if err := l.Sleep(ctx, time.Duration(float64(dropped)/float64(l.Info().SampleRate)*1e9)); err != nil {
			return 0, err
		}
	}
	_, err = l.Fake.Read(ctx, buf)
	return dropped, err
}

// Samples that were lost are told of in the reading they were lost from.
func TestLostSamplesAreMarked(t *testing.T) {
	sky := quiet
	sky.Gains = []survey.DB{} // no pilot: reads come in pairs, one thrown away and one measured
	p := smallPlan()
	p.Rounds = 1
	r, fake, m := recorderOf(sky, p)
	r.Receiver = &losing{Fake: fake, at: 4, samples: 321}
	run(t, r)
	for i, s := range m.sweeps {
		for k, reading := range s.Readings {
			if want := i == 0 && k == 1; (reading.Quality.DroppedSamples == 321) != want || reading.Quality.Has(survey.FlagDroppedSamples) != want {
				t.Errorf("sweep %d, reading %d: %d lost, flags %v", i+1, k+1, reading.Quality.DroppedSamples, reading.Quality.Flags)
			}
		}
	}
}

// Visits begin every so often, whatever a visit takes.
func TestVisitsEverySoOften(t *testing.T) {
	p := smallPlan()
	p.Every = 5 * time.Minute
	r, _, m := recorderOf(quiet, p)
	run(t, r)
	for i := 2; i < len(m.sweeps); i += 2 {
		// A pilot takes up to 6 looks of 91 ms at 2 segments before the first sweep of a setup.
		if got := m.sweeps[i].Start.Sub(m.sweeps[i-2].Start); (got - p.Every).Abs() > 1500*time.Millisecond {
			t.Errorf("visit %d begins %v after the one before, want %v", m.sweeps[i].Visit, got, p.Every)
		}
	}
}
