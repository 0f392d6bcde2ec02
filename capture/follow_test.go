package capture_test

import (
	"bytes"
	"log/slog"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"nightfloor/capture/capturetest"
	"nightfloor/survey"
)

// night records eight rounds of an hour from 20:00 on under a sky whose level changes by so much at midnight, and gives
// the gain of each setup by round, and how many readings of a round have a floor less than 6 dB over rounding.
func night(t *testing.T, sky capturetest.Sky, at midnight, own survey.DBFSPerHz) (gains map[survey.Setup][8]survey.DB, low [8]int, said string) {
	t.Helper()
	sky.Drift = func(since time.Duration) survey.DB {
		if since < at.after || at.until > 0 && since >= at.until {
			return 0
		}
		return at.by
	}
	p := smallPlan()
	p.Setups, p.Segments, p.Rounds, p.Every = []survey.Setup{loop, whip}, []survey.Segment{lower}, 8, 30*time.Minute
	r, _, m := recorderOf(sky, p)
	var log bytes.Buffer
	r.Log = slog.New(slog.NewTextHandler(&log, nil))
	if own != 0 {
		r.SelfNoise = func(survey.Segment, survey.DB) (survey.DBFSPerHz, bool) { return own, true }
	}
	run(t, r)
	rounding := capturetest.Sky{}.Density("", 0)
	gains = map[survey.Setup][8]survey.DB{}
	for i, s := range m.sweeps {
		for _, reading := range s.Readings {
			of := gains[s.Setup]
			if i > 0 && m.sweeps[i-1].Visit == s.Visit && of[s.Round-1] != reading.Gain.DB {
				t.Errorf("round %d: %v changes its gain within a visit", s.Round, s.Setup)
			}
			of[s.Round-1] = reading.Gain.DB
			gains[s.Setup] = of
			if reading.Quality.Has(survey.FlagLowDrive) || reading.Floor.Density.Over(rounding) < 6 {
				low[s.Round-1]++
			}
		}
	}
	return gains, low, log.String()
}

// A midnight is when a sky's level changes, and by how much; until is when it is back, 0: never.
type midnight struct {
	after time.Duration
	by    survey.DB
	until time.Duration
}

// A level that falls at midnight is followed within a round: with the gains of dusk every reading of the rest of the
// night would have too little drive. −110 dBm/Hz over 250 kHz are −56 dBm, −46 dBFS at no gain: 26 dB to the aim of −20
// dBFS, step 24, and 24 dB later another eight steps of 3 dB.
func TestGainFollowsAFallingLevel(t *testing.T) {
	gains, low, said := night(t, capturetest.Sky{Floor: -110}, midnight{after: 4*time.Hour - time.Minute, by: -25}, 0)
	for setup, of := range gains {
		for round, gain := range of {
			want := survey.DB(24)
			if round >= 5 {
				want = 48
			}
			if math.Abs(float64(gain-want)) > 3 {
				t.Errorf("%v: round %d at %v, want %v", setup, round+1, gain, want)
			}
		}
		if of[5] != of[6] || of[6] != of[7] || of[0] != of[4] {
			t.Errorf("%v: %v", setup, of)
		}
	}
	if low != [8]int{4: 4} { // the round after midnight, which tells of it
		t.Errorf("readings of low drive by round: %v", low)
	}
	if n := strings.Count(said, "gain raised"); n != 2 { // of two setups, once
		t.Errorf("said %d times:\n%s", n, said)
	}
}

// Where the receiver's own noise is known, a margin under 6 dB counts as too little before the codes do: 10 dB less leave
// 2.3 codes rms, with 12 dB to the aim, and a floor of −86 dBFS/Hz, 4 dB over own noise of −90 dBFS/Hz.
func TestGainFollowsTheMargin(t *testing.T) {
	for own, want := range map[survey.DBFSPerHz]survey.DB{0: 0, -90: 12, -93: 0} {
		gains, low, _ := night(t, capturetest.Sky{Floor: -110}, midnight{after: 4*time.Hour - time.Minute, by: -10}, own)
		for setup, of := range gains {
			if rise := of[7] - of[0]; rise != want && rise != max(0, want-3) || of[4] != of[0] || of[5] != of[7] || low != [8]int{} {
				t.Errorf("own noise %v: %v rose by %v, want %v; %v", own, setup, rise, want, of)
			}
		}
	}
}

// A level that rises is met by lower gains as the overload is seen, and a flat night changes nothing, be it as weak as
// the highest gain does not lift or as strong as the lowest one takes.
func TestGainOfOtherNights(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	for _, floor := range []survey.DBmPerHz{-150, -120, -95, -75} {
		gains, _, said := night(t, capturetest.Sky{Floor: floor}, midnight{}, -90)
		for setup, of := range gains {
			for round, gain := range of {
				if gain != of[0] && floor != -75 {
					t.Errorf("%v: %v: round %d at %v", floor, setup, round+1, of)
				}
			}
		}
		if strings.Contains(said, "gain raised") {
			t.Errorf("%v: %s", floor, said)
		}
	}
	gains, _, said := night(t, capturetest.Sky{Floor: -120}, midnight{after: 4*time.Hour - time.Minute, by: 25}, -90)
	for setup, of := range gains {
		if of[0]-of[7] < 12 || of[4] != of[0] || of[5] >= of[4] {
			t.Errorf("%v: %v", setup, of)
		}
	}
	if strings.Contains(said, "gain raised") || !strings.Contains(said, "overload; gain lowered") {
		t.Errorf("%s", said)
	}
}

// A pilot sweep looks before a raised gain is used: a level that is back by then overloads nothing.
func TestRaisedGainIsLookedAt(t *testing.T) {
	gains, low, said := night(t, capturetest.Sky{Floor: -110}, midnight{after: 4*time.Hour - time.Minute, by: -25, until: 5*time.Hour - time.Minute}, 0)
	for setup, of := range gains {
		if of != [8]survey.DB{of[0], of[0], of[0], of[0], of[0], of[0], of[0], of[0]} {
			t.Errorf("%v: %v", setup, of)
		}
	}
	if low != [8]int{4: 4} || strings.Contains(said, "gain raised") || strings.Contains(said, "overload") {
		t.Errorf("low by round %v, %s", low, said)
	}
}

// What a terminator takes over rises with its antenna's gain, whichever of them comes first in the round.
func TestTerminatorFollowsTheGain(t *testing.T) {
	terminator := survey.Setup{Antenna: survey.KindTerminator, Placement: "attic"}
	p := smallPlan()
	p.Setups, p.Segments, p.Rounds, p.Every = []survey.Setup{loop, terminator, whip}, []survey.Segment{lower}, 12, 10*time.Minute
	falls := func(since time.Duration) survey.DB { return -8 * survey.DB(since/(100*time.Minute)) }
	r, _, m := recorderOf(capturetest.Sky{Floor: -110, Antennas: map[string]survey.DB{survey.KindTerminator: -60}, Drift: falls}, p)
	r.SelfNoise = func(survey.Segment, survey.DB) (survey.DBFSPerHz, bool) { return -85, true }
	run(t, r)
	gain, first := map[survey.Setup][12]survey.DB{}, map[survey.Setup]int{}
	for i, s := range m.sweeps {
		of := gain[s.Setup]
		of[s.Round-1] = s.Readings[0].Gain.DB
		gain[s.Setup] = of
		if i == 0 || m.sweeps[i-1].Round != s.Round {
			first[s.Setup]++
		}
	}
	of := gain[loop]
	for round := 1; round < 12; round++ { // in the first one it may come before the antenna
		if gain[terminator][round] != of[round] {
			t.Errorf("round %d at %v, and %v for the terminator", round+1, of[round], gain[terminator][round])
		}
	}
	if of[11]-of[1] < 12 || first[loop] == 0 || first[terminator] == 0 {
		t.Errorf("gains by round %v, first came %v", gain, first)
	}
}

// Levels that fade by 6 dB rms from visit to visit, with a receiver's own noise at which the margin is too low half of the
// time, do not make the gain rise and fall in turns: it moves some twice in 24 rounds.
func TestGainInFading(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	const nights, rounds, most = 3, 24, 3 // changes a night of one setup; 1.2 up and 0.7 down in six nights
	changes := 0
	for seed := range uint64(nights) {
		p := smallPlan()
		p.Setups, p.Segments, p.Rounds, p.Every, p.Dwell = []survey.Setup{loop, whip}, []survey.Segment{lower}, rounds, 30*time.Minute, 50*time.Millisecond
		fades := func(since time.Duration) survey.DB {
			return survey.DB(6 * rand.New(rand.NewPCG(seed, uint64(since/(20*time.Minute)))).NormFloat64())
		}
		r, _, m := recorderOf(capturetest.Sky{Floor: -110, Seed: seed, Drift: fades}, p)
		r.SelfNoise = func(survey.Segment, survey.DB) (survey.DBFSPerHz, bool) { return -85, true }
		run(t, r)
		gain := map[survey.Setup]survey.DB{}
		for _, s := range m.sweeps {
			if was, known := gain[s.Setup]; known && was != s.Readings[0].Gain.DB {
				changes++
			}
			gain[s.Setup] = s.Readings[0].Gain.DB
		}
	}
	if changes == 0 || changes > 2*nights*most {
		t.Errorf("%d changes of two gains in %d nights", changes, nights)
	}
}
