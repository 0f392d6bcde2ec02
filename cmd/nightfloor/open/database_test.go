package open

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"nightfloor/store"
	"nightfloor/survey"
)

// The newest curve of the receiver counts, of those until a moment where one is given.
func TestDroop(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "night.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	evening := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	for i, of := range []string{"a", "a", "b"} {
		c := survey.Calibration{Kind: survey.CalibrateNoise, Receiver: of, At: evening.Add(time.Duration(i) * time.Hour), Droop: []survey.Droop{{Offset: 0, Response: survey.DB(-i)}}}
		if err := db.AddCalibration(t.Context(), &c); err != nil {
			t.Fatal(err)
		}
	}
	for _, test := range []struct {
		receiver string
		until    time.Time
		by       int64 // 0: none
	}{{"a", time.Time{}, 2}, {"b", time.Time{}, 3}, {"c", time.Time{}, 0}, {"a", evening, 1}, {"a", evening.Add(-time.Second), 0}} {
		response, by, err := Droop(t.Context(), db, test.receiver, test.until)
		if err != nil || by != test.by || (response == nil) != (test.by == 0) {
			t.Errorf("%+v: %d, %v", test, by, err)
		}
		if response != nil && math.Abs(10*math.Log10(response(0))+float64(by-1)) > 1e-9 {
			t.Errorf("%+v: %v", test, response(0))
		}
	}
}
