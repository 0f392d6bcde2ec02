package open

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"nightfloor/store"
	"nightfloor/survey"
)

// The newest curve of the receiver counts. A survey that goes on keeps the curve that it began with, or
// none, also where its calibration was removed meanwhile.
func TestDroop(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "night.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	evening := time.Date(2026, 11, 3, 20, 0, 0, 0, time.UTC)
	for i, of := range []string{"a", "a", "b", "a"} {
		c := survey.Calibration{Kind: survey.CalibrateNoise, Receiver: of, At: evening.Add(time.Duration(i) * time.Hour), Droop: []survey.Droop{{Offset: 0, Response: survey.DB(-i)}}}
		if err := db.AddCalibration(t.Context(), &c); err != nil {
			t.Fatal(err)
		}
	}
	used := survey.Survey{Kind: survey.KindRecord, Receiver: "a", Start: evening, DroopCalibration: 1}
	if used.ID, err = db.BeginSurvey(t.Context(), used); err != nil {
		t.Fatal(err)
	}
	if err := db.RemoveCalibration(t.Context(), 1, 4); err != nil {
		t.Fatal(err)
	}
	before := survey.Survey{ID: 7, Receiver: "a", Start: evening.Add(5 * time.Hour)}
	spoiled := survey.Survey{ID: 8, Receiver: "a", DroopCalibration: 4}
	for _, test := range []struct {
		receiver string
		goesOn   *survey.Survey
		by       int64 // 0: none
		says     string
	}{
		{"a", nil, 2, "the passband is corrected as calibration 2 measured it"},
		{"b", nil, 3, "the passband is corrected as calibration 3 measured it"},
		{"c", nil, 0, ""},
		{"a", &used, 1, "the passband is corrected as calibration 1 measured it, which was removed: its curve was kept for this survey, and --new begins one without it"},
		{"a", &before, 0, ""},
		{"a", &spoiled, 0, "go on with survey 8: the passband was corrected as calibration 4 measured it, and that is not there any more; begin another survey with --new"},
	} {
		response, by, said, err := Droop(t.Context(), db, test.receiver, test.goesOn)
		if err != nil {
			said += err.Error()
		}
		if (err != nil) != (test.goesOn == &spoiled) || by != test.by || (response == nil) != (test.by == 0) || said != test.says {
			t.Errorf("%+v: %d, %q, %v", test, by, said, err)
		}
		if response != nil && math.Abs(10*math.Log10(response(0))+float64(by-1)) > 1e-9 {
			t.Errorf("%+v: %v", test, response(0))
		}
	}
}
