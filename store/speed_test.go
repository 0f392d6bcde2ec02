package store

import (
	"flag"
	"fmt"
	"os"
	"testing"

	"nightfloor/survey"
)

// A ten-hour night of a sweep every 10 s over 8 segments: design.md, section 7.
const (
	nightSweeps   = 3600
	nightSegments = 8
	nightCarriers = 20
)

// sweepsOf gives how many sweeps some nights have in a benchmark: a twentieth of them where it only has to run.
func sweepsOf(nights int) int {
	if testing.Short() {
		return nights * nightSweeps / 20
	}
	return nights * nightSweeps
}

// fill stores sweeps of a night.
func fill(t testing.TB, s *Store, n night, sweeps int) {
	t.Helper()
	id := begin(t, s)
	for i := range sweeps {
		if err := s.AddSweep(t.Context(), n.sweep(id, i)); err != nil {
			t.Fatal(err)
		}
	}
}

// sizeOf gives the size of the database in bytes once its log is written back.
func sizeOf(t testing.TB, s *Store) int64 {
	t.Helper()
	if _, err := s.writer.ExecContext(t.Context(), "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(s.path)
	if err != nil {
		t.Fatal(err)
	}
	return info.Size()
}

// TestSizeOfNight holds the budget of design.md, section 7, on a part of a
// night: 150 MB with spectra, 40 MB without. 4,700 bins is the mean of
// shortwave broadcast bands (350 kHz) at 73 Hz.
func TestSizeOfNight(t *testing.T) {
	if testing.Short() {
		t.Skip("stores thousands of readings")
	}
	const share = 20 // one part in 20 of a night
	for _, test := range []struct {
		name   string
		bins   int
		budget float64
	}{{"without spectra", 0, 40e6}, {"with spectra", 4700, 150e6}} {
		t.Run(test.name, func(t *testing.T) {
			s := openTemp(t)
			empty := sizeOf(t, s)
			fill(t, s, night{seeded(), nightSegments, nightCarriers, test.bins}, nightSweeps/share)
			night := float64(empty + share*(sizeOf(t, s)-empty))
			t.Logf("a night takes %.1f MB of %.0f", night/1e6, test.budget/1e6)
			if night > test.budget {
				t.Errorf("a night takes %.1f MB, want at most %.0f", night/1e6, test.budget/1e6)
			}
		})
	}
}

// BenchmarkNight reads a whole night: 28,800 readings of 20 carriers.
func BenchmarkNight(b *testing.B) {
	s := openTemp(b)
	if _, err := s.writer.Exec("PRAGMA synchronous=OFF"); err != nil { // only the filling
		b.Fatal(err)
	}
	fill(b, s, night{seeded(), nightSegments, nightCarriers, 0}, sweepsOf(1))
	b.ReportAllocs()
	for b.Loop() {
		carriers := 0
		err := s.Sweeps(b.Context(), Filter{}, func(sw *survey.Sweep) error {
			for i := range sw.Readings {
				carriers += len(sw.Readings[i].Carriers)
			}
			return nil
		})
		if err != nil || carriers != sweepsOf(1)*nightSegments*nightCarriers {
			b.Fatalf("%d carriers, %v", carriers, err)
		}
	}
	b.ReportMetric(float64(sizeOf(b, s))/1e6, "MB")
}

// BenchmarkAddSweep stores sweeps, each on the disk when it returns.
func BenchmarkAddSweep(b *testing.B) {
	s := openTemp(b)
	id := begin(b, s)
	n := night{seeded(), nightSegments, nightCarriers, 4700}
	sweep := n.sweep(id, 0)
	for b.Loop() {
		if err := s.AddSweep(b.Context(), sweep); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLook looks into a file of several nights, of which this process stored all, after
// another changed it: what each `note` costs a record, and what the survey's end does.
func BenchmarkLook(b *testing.B) {
	s := openTemp(b)
	if _, err := s.writer.Exec("PRAGMA synchronous=OFF"); err != nil { // only the filling
		b.Fatal(err)
	}
	fill(b, s, night{seeded(), nightSegments, nightCarriers, 4700}, sweepsOf(*nights))
	size := float64(sizeOf(b, s)) / 1e6
	b.Run("some", func(b *testing.B) {
		for turn := 1; b.Loop(); turn++ {
			if err := lookIntoSome(b.Context(), s.path, s.guard.stored.own, turn); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(size, "MB")
	})
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			if err := lookIntoAll(b.Context(), s.path, s.guard.stored); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(size, "MB")
	})
}

var nights = flag.Int("nights", 1, "nights in the file that BenchmarkLook looks into")

// BenchmarkFlagFrom flags all readings of several nights; those of a sweep had different flags before.
func BenchmarkFlagFrom(b *testing.B) {
	s := openTemp(b)
	if _, err := s.writer.Exec("PRAGMA synchronous=OFF"); err != nil { // only the filling
		b.Fatal(err)
	}
	id, n := begin(b, s), night{seeded(), nightSegments, nightCarriers, 0}
	for i := range sweepsOf(*nights) {
		sweep := n.sweep(id, i)
		for k := range sweep.Readings {
			sweep.Readings[k].Quality.Flags = []string{fmt.Sprint("own", k%4)}
		}
		if err := s.AddSweep(b.Context(), sweep); err != nil {
			b.Fatal(err)
		}
	}
	for turn := 0; b.Loop(); turn++ {
		if err := s.FlagFrom(b.Context(), id, 0, fmt.Sprint("flag", turn)); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRegroup puts a recording that was imported last among all before it, each time one more.
func BenchmarkRegroup(b *testing.B) {
	s := openTemp(b)
	if _, err := s.writer.Exec("PRAGMA synchronous=OFF"); err != nil {
		b.Fatal(err)
	}
	id, _, err := s.ImportSurvey(b.Context(), "", "test")
	if err != nil {
		b.Fatal(err)
	}
	n, turns := night{seeded(), 1, nightCarriers, 0}, map[int64]survey.Turn{}
	for i := 0; b.Loop(); i++ {
		if err := s.AddImported(b.Context(), n.sweep(id, i), survey.Recording{Digest: fmt.Sprint(i)}); err != nil {
			b.Fatal(err)
		}
		turns[int64(i+1)] = survey.Turn{Sweep: i, Visit: i + 1, Round: i/2 + 1}
		if err := s.Regroup(b.Context(), id, turns); err != nil {
			b.Fatal(err)
		}
	}
}
