package capture_test

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/store"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// The recorder carries out a plan and stores its sweeps. Receiver, clock and changer are one
// fake here, a simulated sky of which the loop delivers 10 dB more than the whip; nothing waits.
func ExampleRecorder() {
	p, err := plan.Parse([]byte(`
turns = { dwell = "100 ms", sweeps = 1, rounds = 2 }
setup = [{ antenna = "loop", placement = "attic" }, { antenna = "whip", placement = "attic" }]
segment = [{ low = "5.95 MHz", high = "6.01 MHz" }]
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	ctx := context.Background()
	db, err := store.Open(ctx, filepath.Join(folder, "night.db"))
	if err != nil {
		fmt.Println(err)
		return
	}
	defer db.Close()

	fake := capturetest.New(capturetest.Sky{Floor: -120, Antennas: map[string]survey.DB{"loop": 10}})
	r := &capture.Recorder{Plan: p, Receiver: fake, Clock: fake, Changer: fake, Store: db, Version: "example", Log: slog.New(slog.DiscardHandler)}
	floors := map[string]survey.DBFSPerHz{}
	r.Stored = func(s *survey.Sweep) {
		reading := s.Readings[0]
		floors[s.Setup.Antenna] = reading.Floor.Density - survey.DBFSPerHz(reading.Gain.DB) // at a gain of 0 dB
		fmt.Printf("round %d, visit %d\n", s.Round, s.Visit)
	}
	if _, err := r.Run(ctx); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("the loop's floor is %.0f dB over the whip's\n", float64(floors["loop"].Over(floors["whip"])))
	// Output:
	// round 1, visit 1
	// round 1, visit 2
	// round 2, visit 3
	// round 2, visit 4
	// the loop's floor is 10 dB over the whip's
}

// A recording is measured without any database: here a simulated one of a tenth of a second,
// noise of −120 dBm/Hz and a carrier of −80 dBm. A gain of 30 dB, in a receiver that −10 dBm
// drive to full scale at 0 dB, puts them 40 dB higher on the scale of the samples.
func ExampleMeasure() {
	sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{{At: 6.03e6, Level: -80}}}
	recording := record(sky, survey.Setup{Antenna: "whip"}, 5.985e6, 30, time.Time{}, 25_000)
	segments := []survey.Segment{survey.SegmentOf(6.0e6, 6.06e6)}
	readings, err := capture.Measure(context.Background(), recording, segments, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range readings {
		fmt.Printf("%s: floor %.0f dBFS/Hz\n", r.Segment.Name, float64(r.Floor.Density))
		for _, c := range r.Carriers {
			level, _ := survey.LevelOf(c.Power)
			fmt.Printf("carrier at %.0f kHz, %.0f dBFS\n", float64(c.Frequency)/1e3, float64(level))
		}
	}
	// Output:
	// 6000-6060 kHz: floor -80 dBFS/Hz
	// carrier at 6030 kHz, -40 dBFS
}

// Neighbouring segments share a tuning where the usable passband, two thirds of the sample
// rate, holds them beside the spike in its middle. Centres stand off the broadcasters' raster.
func ExampleTunings() {
	segments := []survey.Segment{survey.SegmentOf(11.6e6, 12.1e6), survey.SegmentOf(9.4e6, 9.9e6), survey.SegmentOf(10.0e6, 10.05e6)}
	tunings, err := capture.Tunings(segments, 2.4e6)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range tunings {
		fmt.Printf("%v:", t.Centre)
		for _, s := range t.Segments {
			fmt.Printf(" [%s]", s.Name)
		}
		fmt.Println()
	}
	// Output:
	// 9.39115 MHz: [31 m] [10000-10050 kHz]
	// 11.59115 MHz: [25 m]
}

// The importer makes sweeps of recordings and finds their rounds by their times: here simulated
// ones, in which loop and whip take turns. A recording that is there already is left out.
func ExampleImporter() {
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	ctx := context.Background()
	db, err := store.Open(ctx, filepath.Join(folder, "night.db"))
	if err != nil {
		fmt.Println(err)
		return
	}
	defer db.Close()

	var recordings []capture.Source
	start := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	for i, antenna := range []string{"loop", "whip", "loop", "whip"} {
		sky := capturetest.Sky{Floor: -120, Seed: uint64(i)}
		at := start.Add(time.Duration(i) * time.Minute)
		recordings = append(recordings, record(sky, survey.Setup{Antenna: antenna, Placement: "attic"}, 5.985e6, 30, at, 25_000))
	}
	im := capture.Importer{Store: db, Segments: []survey.Segment{survey.SegmentOf(6.0e6, 6.06e6)}, Region: 1, Version: "example"}
	for range 2 {
		did, err := im.Run(ctx, recordings)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("stored %d, skipped %d; %d setups, %d rounds\n", did.Stored, did.Skipped, did.Setups, did.Rounds)
	}
	// Output:
	// stored 4, skipped 0; 2 setups, 2 rounds
	// stored 0, skipped 4; 2 setups, 2 rounds
}
