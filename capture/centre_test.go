package capture_test

import (
	"math"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/calibrate"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
)

// A recording whose centre is a station's frequency lists no carrier there, and says so where the segment holds the
// centre; tuned 10 kHz beside it, it lists the station.
func TestStationAtTheCentre(t *testing.T) {
	sky := capturetest.Sky{Floor: -130, Carriers: []capturetest.Carrier{{At: 9.650002e6, Level: -90}}}
	band, beside := survey.Segment{Name: "31 m", Low: 9.6e6, High: 9.7e6}, survey.Segment{Name: "beside", Low: 9.66e6, High: 9.7e6}
	for _, test := range []struct {
		centre        survey.Hz
		flag, carrier bool
	}{{9.65e6, true, false}, {9.66e6, false, true}} {
		source := record(sky, whip, test.centre, 30, time.Unix(0, 0), 250_000)
		readings, err := capture.Measure(t.Context(), source, []survey.Segment{band, beside}, 1)
		if err != nil {
			t.Fatal(err)
		}
		listed := false
		for _, c := range readings[0].Carriers {
			listed = listed || math.Abs(float64(c.Frequency-9.650002e6)) < 5
		}
		if has := readings[0].Quality.Has(survey.FlagLineAtCentre); has != test.flag || listed != test.carrier || readings[1].Quality.Has(survey.FlagLineAtCentre) {
			t.Errorf("centre %v: flags %v and %v, %d carriers", test.centre, readings[0].Quality.Flags, readings[1].Quality.Flags, len(readings[0].Carriers))
		}
	}
}

// Where the program tunes by itself nothing that is measured stands at the centre: no part of a named band, of a segment
// of the user's or of a generator's, and no frequency on the broadcasters' raster. A dongle takes whole hertz.
func TestNothingIsMeasuredAtTheCentre(t *testing.T) {
	clear := func(segments []survey.Segment, rate survey.Hz) {
		t.Helper()
		tunings, err := capture.Tunings(segments, rate)
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range tunings {
			centre := survey.Hz(math.Round(float64(g.Centre)))
			for _, s := range g.Segments {
				if s.Low-centre < 4.9e3 && centre-s.High < 4.9e3 {
					t.Errorf("%s is measured at %v", s, centre)
				}
			}
			if off := math.Abs(math.Remainder(float64(centre), float64(survey.BroadcastRaster))); off < 1e3 {
				t.Errorf("%v is %.0f Hz off the raster", centre, off)
			}
		}
	}
	for region := survey.Region(1); region <= 3; region++ {
		all := survey.BandsWithin(1e6, 30.5e6, region)
		for i, s := range all {
			if s.High-s.Low > 780e3 { // more than one tuning at this rate takes in
				all[i] = survey.SegmentOf(s.Low, s.Low+780e3)
			}
			clear(all[i:i+1], 2.4e6)
		}
		clear(all, 2.4e6)
	}
	for f := survey.Hz(2.5e6); f < 30e6; f += 312.5e3 { // generators anywhere, on the raster and beside it
		clear([]survey.Segment{calibrate.GeneratorSegment(f)}, 2.4e6)
		clear([]survey.Segment{calibrate.GeneratorSegment(f + 1150)}, 1.024e6)
		clear([]survey.Segment{survey.SegmentOf(f, f+1e3), survey.SegmentOf(f+11e3, f+12e3), survey.SegmentOf(f+12e3, f+200e3)}, 1.024e6)
	}
}
