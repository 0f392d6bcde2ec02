package rank_test

import (
	"fmt"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/rank"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Which of two antennas hears better? In this simulated evening of nine rounds the loop delivers
// carriers 3 dB weaker than the whip, give or take half a dB of its own fading, but noise 8 dB
// lower: so its SNR is 5 dB better. Fading common to both, 3 dB from round to round, cancels.
func ExampleOf() {
	whip, loop := survey.Setup{Antenna: "whip", Placement: "attic"}, survey.Setup{Antenna: "loop", Placement: "attic"}
	start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, First: whip, Start: start}}}
	for round := range 9 {
		for k, setup := range []survey.Setup{whip, loop} {
			at := start.Add(time.Duration(2*round+k) * time.Minute)
			floor, signal := survey.DBFSPerHz(-100), survey.DBFS(0)
			if setup == loop {
				floor, signal = -108, -3+survey.DBFS(round%3-1)/2
			}
			r := survey.Reading{Segment: survey.SegmentOf(9.4e6, 9.9e6), Start: at, Duration: time.Second, BinWidth: 73, Resolution: 110,
				Gain: survey.Gain{DB: 20, Known: true, Exact: true}, Floor: &survey.Floor{Density: floor, Sigma: 0.05, Quiet: floor}}
			for c := range 4 {
				level := signal + survey.DBFS(-40-6*c-(round+c)%4)
				r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(9.42e6 + 50e3*float64(c)), Power: level.Linear(), Sigma: 1e-9, Detected: true})
			}
			in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: round + 1, Visit: 2*round + k + 1, Setup: setup, Start: at, Readings: []survey.Reading{r}})
		}
	}
	selected, err := input.Select(in, input.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	found := rank.Of(selected, rank.House{}, 1)
	for _, s := range found.Segments[0].Setups {
		fmt.Printf("%d. %v: SNR %s dB, 95 %% %s; signal %s dB, floor %s dB; %d rounds\n", s.Rank, s.Setup, wording.Signed(s.SNRAdvantage, 1),
			wording.Interval(s.Low, s.High, 1), wording.Signed(s.SignalChange, 1), wording.Signed(s.FloorChange, 1), s.Rounds)
	}
	// Output:
	// 1. loop@attic: SNR +5.0 dB, 95 % +4.5 … +5.5; signal −3.0 dB, floor −8.0 dB; 9 rounds
	// 2. whip@attic: SNR 0.0 dB, 95 % 0.0 … 0.0; signal 0.0 dB, floor 0.0 dB; 9 rounds
}
