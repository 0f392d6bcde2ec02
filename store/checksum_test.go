package store

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"nightfloor/survey"
)

// TestChecksum: what changed in a sweep since it was stored is told, however plausible, and nothing that
// the store itself changes is.
func TestChecksum(t *testing.T) {
	if testing.Short() {
		t.Skip("it stores for seconds")
	}
	for _, harm := range []string{
		"UPDATE sweeps SET visit = 2 WHERE id = 2",
		"UPDATE readings SET floor_dbfs_hz = floor_dbfs_hz + 1e-9 WHERE id = 3",
		"UPDATE readings SET flags = '' WHERE id = 3",
		"UPDATE readings SET gain_db = NULL WHERE id = 4",
		"UPDATE carriers SET power = 1.5 * power WHERE reading = 3 AND frequency_hz = (SELECT max(frequency_hz) FROM carriers WHERE reading = 3)",
		"UPDATE carriers SET quiet_quarters = quiet_quarters + 1 WHERE reading = 3 AND frequency_hz = (SELECT max(frequency_hz) FROM carriers WHERE reading = 3)",
		"UPDATE carriers SET quiet_quarters = NULL WHERE reading = 3 AND frequency_hz = (SELECT max(frequency_hz) FROM carriers WHERE reading = 3)",
		"UPDATE carriers SET quiet_quarters = 0 WHERE reading = 4 AND detected = 0",
		"DELETE FROM carriers WHERE reading = 4 AND detected = 0",
		"UPDATE findings SET spacing_hz = 65013 WHERE reading = 3 AND number = 2",
		"UPDATE spectra SET step_hz = 2 * step_hz WHERE reading = 3",
		"UPDATE spectra SET density = CAST(substr(density, 1, 1) || x'c8' || substr(density, 3) AS BLOB) WHERE reading = 3", // steps of 0.2 dB
		"UPDATE spectra SET density = (SELECT density FROM spectra WHERE reading = 5) WHERE reading = 3",
		"UPDATE sweeps SET checksum = checksum + 1 WHERE id = 2",
	} {
		s := openTemp(t)
		id := begin(t, s)
		n := night{seeded(), 2, 3, 20}
		for i := range 3 {
			if err := s.AddSweep(t.Context(), n.sweep(id, i)); err != nil {
				t.Fatal(err)
			}
		}
		if err := first(
			s.AddCarriers(t.Context(), map[int64][]survey.Carrier{3: {{Frequency: 6.3e6, Power: 1e-9, Sigma: 1e-9, Quiet: 8e-10}}, 4: {{Frequency: 6.3e6, Sigma: 1e-9}}}),
			s.AddFindings(t.Context(), map[int64][]survey.Finding{3: {{Kind: survey.FindingHump, Low: 6e6, High: 7e6}}}),
			s.FlagFrom(t.Context(), id, 1, survey.FlagShort)); err != nil {
			t.Fatal(err)
		}
		if err := s.Check(t.Context()); err != nil {
			t.Errorf("before %s: %v", harm, err)
		}
		do(t, s, harm)
		for range 2 { // what is stored later does not hide it
			err := s.Check(t.Context())
			if !isErr(err, ErrDamaged) || !strings.Contains(err.Error(), "sweep 2: its rows, or those of its readings, carriers, findings or spectra, are not as they were stored") || strings.Contains(err.Error(), "sweep 1") {
				t.Errorf("%s: %v", harm, err)
			}
			if err := s.FlagFrom(t.Context(), id, 1, survey.FlagCrowded); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// TestOnlyWhatChangesIsRead: of many imported sweeps only those are read and sealed anew that get
// another turn or other recordings.
func TestOnlyWhatChangesIsRead(t *testing.T) {
	s := openTemp(t)
	id, _, err := s.ImportSurvey(t.Context(), "", "test")
	must(t, err)
	n, turns := night{seeded(), 2, 3, 0}, map[int64]survey.Turn{}
	for i := range 10 {
		must(t, s.AddImported(t.Context(), n.sweep(id, i), survey.Recording{Digest: fmt.Sprint(i)}))
		turns[int64(i+1)] = survey.Turn{Sweep: i, Visit: i + 1, Round: 1}
	}
	must(t, s.Regroup(t.Context(), id, turns))
	for want, moved := range [][]int64{{}, {4}, {4, 5}, {6, 7, 8}} { // recordings that get another turn
		for _, recording := range moved {
			turn := turns[recording]
			turn.Visit += 100
			turns[recording] = turn
		}
		must(t, s.write(t.Context(), "regroup", func(c change) error {
			return c.resealed(func(touched *seals) error {
				err := touched.regroup(id, slices.Sorted(maps.Keys(turns)), turns)
				if len(touched.good) != want {
					t.Errorf("%d sweeps read, want %d", len(touched.good), want)
				}
				return err
			})
		}))
	}
	must(t, s.Check(t.Context()))
}
