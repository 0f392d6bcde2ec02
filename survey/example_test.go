package survey_test

import (
	"encoding/json"
	"fmt"
	"time"
	_ "time/tzdata" // Europe/Berlin, wherever the example runs

	"nightfloor/survey"
)

// A density and a bandwidth give a power; how far one power stands above another is in dB.
// Here a carrier of −60 dBFS over noise of −110 dBFS/Hz, in the 9 kHz of a broadcast channel.
func ExampleDBFSPerHz_In() {
	noise := survey.DBFSPerHz(-110).In(9e3)
	carrier := survey.DBFS(-60)
	fmt.Printf("noise %.1f dBFS, carrier %.1f dB above it\n", noise, carrier.Over(noise))
	// Output:
	// noise -70.5 dBFS, carrier 10.5 dB above it
}

// Powers are kept linear, since a measured one less the noise may come out negative: that
// has no level in dB.
func ExampleLevelOf() {
	for _, power := range []float64{1e-6, -2e-9} {
		if level, ok := survey.LevelOf(power); ok {
			fmt.Printf("%g: %.0f dBFS\n", power, level)
		} else {
			fmt.Printf("%g: no level\n", power)
		}
	}
	// Output:
	// 1e-06: -60 dBFS
	// -2e-09: no level
}

// Bare numbers are kHz. A segment whose edges are those of a named band bears its name.
func ExampleParseSegment() {
	for _, text := range []string{"9400-9900", "9.4-9.5 MHz", "9400"} {
		s, err := survey.ParseSegment(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%s: %v to %v\n", s.Name, s.Low, s.High)
	}
	// Output:
	// 31 m: 9.4 MHz to 9.9 MHz
	// 9400-9500 kHz: 9.4 MHz to 9.5 MHz
	// segment "9400": no edges; write LOW-HIGH in kHz, as 9400-9900
}

// One name may have other edges in another region of the Radio Regulations, or stand for two
// stretches.
func ExampleBandsNamed() {
	for _, want := range []struct {
		name   string
		region survey.Region
	}{{"41 m", 1}, {"41 m", 2}, {"60 m", 1}} {
		bands, err := survey.BandsNamed(want.name, want.region)
		if err != nil {
			fmt.Println(err)
			continue
		}
		for _, b := range bands {
			fmt.Printf("region %d, %s: %v to %v\n", want.region, b.Name, b.Low, b.High)
		}
	}
	// Output:
	// region 1, 41 m: 7.2 MHz to 7.45 MHz
	// region 2, 41 m: 7.3 MHz to 7.4 MHz
	// region 1, 60 m lower: 4.75 MHz to 4.995 MHz
	// region 1, 60 m upper: 5.005 MHz to 5.06 MHz
}

// A setup is printed as the command line reads it; in documents the bearing is a number, or
// null where there is none. Setups compare with ==.
func ExampleSetup() {
	loop := survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(-320)}
	whip := survey.Setup{Antenna: "whip", Placement: "garden"}
	for _, s := range []survey.Setup{loop, whip} {
		text, err := json.Marshal(s)
		if err != nil {
			fmt.Println(err)
		}
		fmt.Printf("%v, %v: %s\n", s, s.Bearing, text)
	}
	fmt.Println("opposite", loop.Bearing.Opposite())
	// Output:
	// loop@attic:40, 040°: {"antenna":"loop","placement":"attic","bearing_deg":40}
	// whip@garden, –: {"antenna":"whip","placement":"garden","bearing_deg":null}
	// opposite 220°
}

// Levels taken at two gains compare where both were measured; the label on a tuner's step may be
// off by decibels.
func ExampleGain_Comparable() {
	measured := func(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true, Exact: true} }
	label := func(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true} }
	for _, pair := range [][2]survey.Gain{{measured(30), measured(20)}, {label(30), label(20)}, {label(20), label(20)}} {
		lower, ok := pair[0].Comparable(pair[1])
		if !ok {
			fmt.Printf("labels of %v and %v dB do not compare\n", pair[0].DB, pair[1].DB)
			continue
		}
		fmt.Printf("at %v dB levels stand %v dB higher than at %v dB\n", pair[0].DB, lower, pair[1].DB)
	}
	// Output:
	// at 30 dB levels stand 10 dB higher than at 20 dB
	// labels of 30 and 20 dB do not compare
	// at 20 dB levels stand 0 dB higher than at 20 dB
}

// Times of day are those of a zone's clocks. In the night in which these are set back an hour has
// its times twice: both are given. A time that the clocks never
// showed, since they were set forward over it, is refused.
func ExampleParseMoment() {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, text := range []string{"2026-11-03 21:04", "2026-10-25 02:30", "2026-03-29 02:30"} {
		at, again, err := survey.ParseMoment(text, zone)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(at.UTC().Format(time.RFC3339), !again.IsZero())
	}
	// Output:
	// 2026-11-03T20:04:00Z false
	// 2026-10-25T00:30:00Z true
	// "2026-03-29 02:30": clocks were set forward over this time; write it with its zone, as 2026-11-03T21:04:10Z
}

// Setups are read as a person writes them; what is left out matches anything.
func ExampleParseSetup() {
	setups := []survey.Setup{
		{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)},
		{Antenna: "loop", Placement: "garden"},
		{Antenna: "whip", Placement: "attic"},
	}
	for _, text := range []string{"loop", "loop@attic", "loop@attic:90"} {
		pattern, err := survey.ParseSetup(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%s:", text)
		for _, s := range setups {
			if s.Matches(pattern) {
				fmt.Printf(" %v", s)
			}
		}
		fmt.Println()
	}
	// Output:
	// loop: loop@attic:40 loop@garden
	// loop@attic: loop@attic:40
	// loop@attic:90:
}

// Where there is little room a name is cut in its middle: what tells bearings apart stays, and the
// setup is still found by it.
func ExampleSetup_Short() {
	s := survey.Setup{Antenna: "shielded loop", Placement: "north end of the attic", Bearing: survey.BearingOf(40)}
	short := s.Short(28)
	pattern, err := survey.ParseSetup(short)
	fmt.Println(s, "or", short, err, s.Matches(pattern))
	// Output:
	// shielded loop@north end of the attic:40 or shielde…loop@north e…ttic:40 <nil> true
}
