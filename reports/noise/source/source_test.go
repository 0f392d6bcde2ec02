package source

import (
	"math"
	"slices"
	"testing"

	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/survey"
)

// Two findings of chance agree more easily where ten ratios are allowed than where they must
// share a spacing. Of 2,880 epochs two are chosen in 4.1 million ways, six times that for other
// numbers tried: where each is wrong once in 10,000 times, 4.1e6·6·1e-8·1e-3 = 2.5e-4 is left for
// one spacing, and for aliases, at 10·2·8e-4/ln(500/15) = 4.6e-3, more than the 1e-3 that is allowed.
func TestAliasesAgreeByChance(t *testing.T) {
	l := readlog.New(reporttest.NewDin(1).Input())
	found := track.Track{{Doubt: 1e-4, Round: 0}, {Doubt: 1e-4, Round: 30}}
	if got := doubtOf(l, found, combsAgree); math.Abs(got/2.5e-4-1) > 0.02 {
		t.Errorf("of one spacing: %.2g, want 2.5e-4", got)
	}
	found[1].HarmonicAlias = true
	if got := doubtOf(l, found, combsAgree); got < 1.1e-3 || got > 1.3e-3 {
		t.Errorf("of aliases: %.2g, want 1.1e-3 to 1.3e-3", got)
	}
}

// Of one detection, however sure, a doubt of 1e-9 is left, and so many times that where it was sought at
// so many epochs; of many a millionth, for what they have in common.
func TestDoubtThatIsLeft(t *testing.T) {
	l := sixMinuteRounds(2880)
	var doubts []float64
	for n := range 20 {
		l.Readings[10*n].Findings = []survey.Finding{{Kind: survey.FindingComb, Spacing: 65013, Confidence: 1, Lines: 20}}
		doubts = append(doubts, doubtOf(l, track.Combs(l)[0], combsAgree))
	}
	if math.Abs(doubts[0]/2880e-9-1) > 0.01 || math.Abs(doubts[19]/1e-6-1) > 0.01 {
		t.Errorf("of one %.2g, want 2.9e-6; of 20 %.2g, want 1e-6", doubts[0], doubts[19])
	}
}

// Lines of which one epoch in nine shows a modulation are modulated, one in twelve is too few.
func TestLinesModulatedOften(t *testing.T) {
	for of, want := range map[int]bool{9: true, 12: false} {
		if got := (LineModulation{With: 1, Of: of}).Found(); got != want {
			t.Errorf("one of %d epochs: found %t", of, got)
		}
	}
}

// Noise modulated at 50 Hz comes before that at 60 Hz, whichever was found first, where both are as sure.
func TestFiftyHertzFirst(t *testing.T) {
	l := sixMinuteRounds(20)
	for i := range l.Readings {
		for _, mains := range []survey.Hz{60, 50} {
			l.Readings[i].Findings = append(l.Readings[i].Findings, survey.Finding{Kind: survey.FindingMains, Mains: mains, Envelope: 2 * mains, Confidence: 1})
		}
	}
	all, _ := Find(l)
	if len(all) != 2 || all[0].Modulation().Mains != 50 || all[1].Modulation().Mains != 60 {
		t.Errorf("%d sources, want those of 50 and 60 Hz", len(all))
	}
}

// Where most findings tell no depth, that of the others counts.
func TestDepthsThatAreKnown(t *testing.T) {
	var all []track.Finding
	for _, depth := range []float64{0, 0.4, 0} {
		all = append(all, track.Finding{Finding: &survey.Finding{Kind: survey.FindingMains, Envelope: 100, Depth: depth}})
	}
	if m := modulationOf(slices.Values(all)); m.Depth != 0.4 || m.Envelope != 100 || m.Mains != 50 {
		t.Errorf("%+v", m)
	}
}
