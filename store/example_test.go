package store_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"nightfloor/store"
	"nightfloor/survey"
)

// A survey is begun with what is known beforehand, sweeps are added one by one, each safely on
// the disk when AddSweep returns, and a filter says which of them are wanted.
func ExampleStore() {
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

	start := time.Date(2026, 11, 3, 18, 0, 0, 0, time.UTC)
	whip := survey.Setup{Antenna: "whip", Placement: "attic"}
	id, err := db.BeginSurvey(ctx, survey.Survey{Kind: survey.KindRecord, Simulated: true, First: whip, Start: start})
	if err != nil {
		fmt.Println(err)
		return
	}
	for hour := range 3 {
		at := start.Add(time.Duration(hour) * time.Hour)
		floor := &survey.Floor{Density: survey.DBFSPerHz(-100 - hour)}
		sweep := &survey.Sweep{Survey: id, Round: hour + 1, Visit: hour + 1, Setup: whip, Start: at, Readings: []survey.Reading{
			{Segment: survey.SegmentOf(9.4e6, 9.9e6), Start: at, Duration: time.Second, Floor: floor}}}
		if err := db.AddSweep(ctx, sweep); err != nil {
			fmt.Println(err)
		}
	}
	late := store.Filter{Survey: id, From: start.Add(time.Hour)}
	err = db.Sweeps(ctx, late, func(s *survey.Sweep) error {
		for _, r := range s.Readings {
			fmt.Printf("%s %v, %s: %v dBFS/Hz\n", s.Start.Format("15:04"), s.Setup, r.Segment.Name, r.Floor.Density)
		}
		return nil
	})
	if err != nil {
		fmt.Println(err)
	}
	// Output:
	// 19:00 whip@attic, 31 m: -101 dBFS/Hz
	// 20:00 whip@attic, 31 m: -102 dBFS/Hz
}

// Errors name what failed and what to do; which one it is is asked with errors.Is. A file that
// is no database of ours is left as it is.
func ExampleOpen_refused() {
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "notes.txt")
	if err := os.WriteFile(path, []byte("antennas to try: loop, whip, dipole"), 0o644); err != nil {
		fmt.Println(err)
		return
	}
	_, err = store.Open(context.Background(), path)
	fmt.Println(errors.Is(err, store.ErrNotOurs))
	text, err := os.ReadFile(path)
	fmt.Println(string(text), err)
	// Output:
	// true
	// antennas to try: loop, whip, dipole <nil>
}
