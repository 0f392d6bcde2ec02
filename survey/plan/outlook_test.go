package plan

import (
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

func TestOutlook(t *testing.T) {
	p := Plan{Setups: make([]survey.Setup, 3), Segments: make([]survey.Segment, 4), Dwell: 500 * time.Millisecond, Sweeps: 10, Rounds: 20}
	o := p.Outlook(3, 0)
	// A sweep of 3 · 0.55 s, a visit of 10 of them and 1 s, a round of 3 visits.
	if o.Sweep != 1650*time.Millisecond || o.Visit != 17500*time.Millisecond || o.Round != 52500*time.Millisecond || o.Total != 17*time.Minute+30*time.Second {
		t.Errorf("%+v", o)
	}
	if o.Sweeps != 600 || o.Readings != 2400 || o.PerSetup != 100*time.Second || o.Bytes != 2400*4600 {
		t.Errorf("%+v", o)
	}
	// 16.5 s at 0.5 Hz hold 8.25 fades: 7.9 dB / √8.25 = 2.75 dB, so 30 + 2 rounds.
	if o.Scatter < 2.74 || o.Scatter > 2.76 || o.Needed != 32 {
		t.Errorf("scatter %.3f dB, %d rounds", o.Scatter, o.Needed)
	}
	if o := p.Outlook(3, 10*time.Minute); o.Rounds != 11 || o.Total != 11*52500*time.Millisecond {
		t.Errorf("in ten minutes: %+v", o)
	}
	// A person takes half a minute in place of a second.
	p.Change.By = ByPerson
	if o := p.Outlook(3, 0); o.Visit != 46500*time.Millisecond {
		t.Errorf("by hand: %+v", o)
	}
	p.Change.By = ""
	p.Rounds = 0
	if o := p.Outlook(3, 0); o.Rounds != 0 || o.Total != 0 || o.Bytes != 0 {
		t.Errorf("without end: %+v", o)
	}
	p.Every = 5 * time.Minute
	if o := p.Outlook(3, 10*time.Hour); o.Visit != 5*time.Minute || o.Busy != 17500*time.Millisecond || o.Rounds != 40 {
		t.Errorf("every five minutes: %+v", o)
	}
}

// Of 8 rounds the interval is by Student's t a fifth wider than many rounds would make it
// (2.36 in place of 1.96), which is doubted; of 20 it is by a fifteenth (2.09).
func TestFewRounds(t *testing.T) {
	for rounds, doubted := range map[int]bool{8: true, 20: false} {
		p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 1), Dwell: 500 * time.Millisecond, Sweeps: 100, Rounds: rounds}
		if doubts := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n"); strings.Contains(doubts, "shorten the visits or record longer") != doubted {
			t.Errorf("%d rounds: %s", rounds, doubts)
		}
	}
}

// Under six rounds there is no interval, however long the visits, and eight
// carriers never take more than one.
func TestRoundsNeeded(t *testing.T) {
	for sweeps := 1; sweeps <= 1e6; sweeps *= 3 {
		p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 1), Dwell: 500 * time.Millisecond, Sweeps: sweeps}
		if o := p.Outlook(1, 0); o.Needed < 6 || o.NeededOnEight < 6 || o.NeededOnEight > o.Needed {
			t.Errorf("%d sweeps: %d rounds, on eight carriers %d", sweeps, o.Needed, o.NeededOnEight)
		}
	}
	// Snapshots: (1.96 · 7.9)² = 239.8 and 2; of eight carriers 239.8/8 = 29.97 and 2.
	p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 1), Dwell: 500 * time.Millisecond, Sweeps: 1}
	if o := p.Outlook(1, 0); o.Needed != 242 || o.NeededOnEight != 32 {
		t.Errorf("%d rounds, on eight carriers %d", o.Needed, o.NeededOnEight)
	}
}

// Pairs by the formula of PHYSICS.md 9.3, before two are added for Student's t.
func TestPairsFor(t *testing.T) {
	for _, c := range []struct {
		h, s survey.DB
		want int
	}{{0.5, 1.5, 35}, {1, 3, 35}, {2, 3, 9}, {1, 8, 246}, {0.5, 6, 553}, {1, 4, 61}} {
		// These are rounded; pairsFor rounds up.
		if got := pairsFor(c.h, c.s) - 2; got != c.want && got != c.want+1 {
			t.Errorf("s %v, h %v: %d, want %d", c.s, c.h, got, c.want)
		}
	}
}
