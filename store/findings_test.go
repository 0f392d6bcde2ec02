package store

import (
	"math"
	"reflect"
	"testing"

	"nightfloor/survey"
)

// TestAddFindings: what is added stands behind what was found; a strength that is not
// known comes back as such, and what does not apply as NULL.
func TestAddFindings(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	sweep := night{seeded(), 2, 0, 0}.sweep(id, 0)
	if err := s.AddSweep(t.Context(), sweep); err != nil {
		t.Fatal(err)
	}
	first, second := sweep.Readings[0].ID, sweep.Readings[1].ID
	had := len(sweep.Readings[0].Findings)
	comb := survey.Finding{Kind: survey.FindingComb, Low: 1, High: 2, Spacing: 65012, Lines: 3, Strength: survey.DB(math.NaN()), Power: -1, Sigma: 2}
	notch := survey.Finding{Kind: survey.FindingNotch, Low: 7e6, High: 7.2e6, Strength: -9, Confidence: 0.9999}
	still := survey.Finding{Kind: survey.FindingComb, Low: 1, High: 2, Spacing: 71340, Lines: 23, Sought: true, Strength: 20, Confidence: 0.9999}
	beating := still
	beating.Envelope, beating.Mains, beating.Depth = 100.02, 50, 0.8
	for _, some := range [][]survey.Finding{{comb}, {notch, notch}, {still, beating}} {
		if err := s.AddFindings(t.Context(), map[int64][]survey.Finding{first: some, second: nil}); err != nil {
			t.Fatal(err)
		}
	}
	got := all(t, s, Filter{})[0].Readings
	if len(got[0].Findings) != had+5 || len(got[1].Findings) != had {
		t.Fatalf("%d and %d findings, want %d and %d", len(got[0].Findings), len(got[1].Findings), had+5, had)
	}
	if !math.IsNaN(float64(got[0].Findings[had].Strength)) {
		t.Errorf("strength %v, want NaN", got[0].Findings[had].Strength)
	}
	got[0].Findings[had].Strength, comb.Strength = 0, 0 // NaN is not equal to itself
	if want := []survey.Finding{comb, notch, notch, still, beating}; !reflect.DeepEqual(got[0].Findings[had:], want) {
		t.Errorf("got\n%+v\nwant\n%+v", got[0].Findings[had:], want)
	}
	var nulls int
	if err := s.reader.QueryRow(`SELECT count(*) FROM findings WHERE kind = 'notch' AND strength_db = -9 AND coalesce(spacing_hz, width_hz, lines, envelope_hz,
		mains_hz, depth, shape, rate_hz, regular, power, sigma) IS NULL`).Scan(&nulls); err != nil || nulls != 2 {
		t.Errorf("%d notches with NULL in all that does not apply, %v, want 2", nulls, err)
	}
	// Of combs: not looked at, no beat found, beating.
	if err := s.reader.QueryRow(`SELECT count(*) FROM findings WHERE reading = ? AND (spacing_hz = 65012 AND coalesce(envelope_hz, depth) IS NULL
		OR spacing_hz = 71340 AND (envelope_hz IS NULL AND depth = 0 OR envelope_hz = 100.02 AND depth = 0.8))`, first).Scan(&nulls); err != nil || nulls != 3 {
		t.Errorf("%d combs as they should be, %v, want 3", nulls, err)
	}
	bad := still
	bad.Rate = survey.Hz(math.NaN())
	if err := s.AddFindings(t.Context(), map[int64][]survey.Finding{first: {bad}}); !isErr(err, ErrInvalid) {
		t.Errorf("%v, want ErrInvalid for a rate that no comb has", err)
	}
	if err := s.AddFindings(t.Context(), map[int64][]survey.Finding{99: nil}); !isErr(err, ErrUnknown) {
		t.Errorf("nothing for no reading: %v, want ErrUnknown", err)
	}
	err := s.AddFindings(t.Context(), map[int64][]survey.Finding{first: {comb}, 99: {comb}})
	if !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
	if got := len(all(t, s, Filter{})[0].Readings[0].Findings); got != had+5 {
		t.Errorf("%d findings after a refusal, want %d", got, had+5)
	}
	do(t, s, "DELETE FROM sweeps")
	if err := s.reader.QueryRow(`SELECT count(*) FROM findings`).Scan(&nulls); err != nil || nulls != 0 {
		t.Errorf("%d findings of no reading, %v", nulls, err)
	}
}
