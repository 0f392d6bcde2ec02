package scene_test

import (
	"context"
	"fmt"
	"time"

	"nightfloor/capture/scene"
	"nightfloor/dsp/codes"
	"nightfloor/survey"
)

// The simulated house is a receiver like any other, and says of itself that it is simulated.
// Its time passes with samples and with sleep, and nothing waits.
func ExampleOpen() {
	house, err := scene.Open("scene:house?seed=7", scene.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer house.Close()
	info := house.Info()
	fmt.Printf("%s, simulated %v, %.0f samples a second\n", info.Name, info.Simulated, float64(info.SampleRate))

	ctx, before := context.Background(), house.Now()
	if _, err := house.Change(ctx, survey.Setup{Antenna: "whip", Placement: "loft"}); err != nil {
		fmt.Println(err)
	}
	gain, err := house.SetGain(ctx, 30)
	if err != nil {
		fmt.Println(err)
	}
	if _, err := house.Tune(ctx, 9.65e6); err != nil {
		fmt.Println(err)
	}
	if err := house.Sleep(ctx, 2*time.Hour); err != nil {
		fmt.Println(err)
	}
	iq := make([]byte, 1<<16)
	if _, err := house.Read(ctx, iq); err != nil {
		fmt.Println(err)
	}
	codes := codes.NewCounter(8)
	codes.AddU8(iq)
	fmt.Printf("%v later, at a gain of %.1f dB: low drive %v\n", house.Now().Sub(before).Round(time.Minute), float64(gain.DB), codes.LowDrive())
	// Output:
	// simulated house, simulated true, 1024000 samples a second
	// 2h0m0s later, at a gain of 29.7 dB: low drive false
}

// A simulation knows its own truth, which no receiver does, so that a measurement can be held
// against it: how much better a whip hears in the loft than in the study, and which switching
// supplies are on.
func ExampleTruth() {
	house, err := scene.Open("scene:house?seed=7", scene.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer house.Close()
	truth, night := house.Truth(), time.Date(2026, 11, 3, 22, 0, 0, 0, time.UTC)
	study := survey.Setup{Antenna: "whip", Placement: "study"}
	loft := survey.Setup{Antenna: "whip", Placement: "loft"}
	db, stations, err := truth.Advantage(loft, study, 9.4e6, 9.9e6, night, night.Add(time.Hour))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%v hears the %d stations of 31 m %.0f dB better than %v\n", loft, stations, float64(db), study)
	for _, s := range truth.Supplies(night, night.Add(time.Hour)) {
		fmt.Printf("%s, a comb of %v\n", s.Name, s.Spacing)
	}
	// Output:
	// whip@loft hears the 16 stations of 31 m 9 dB better than whip@study
	// lamp driver, a comb of 65.013 kHz
	// charger, a comb of 48.617 kHz
	// set-top box, a comb of 113.29 kHz
}
