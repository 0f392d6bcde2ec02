package store

import (
	"context"
	"errors"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"nightfloor/survey"
)

// TestFilter: survey, time and segment, in the order of surveys and starts
// whatever the order of storing.
func TestFilter(t *testing.T) {
	s := openTemp(t)
	first, second := begin(t, s), begin(t, s)
	n := night{seeded(), 2, 2, 0}
	for _, i := range []int{3, 0, 2, 1} {
		for _, id := range []int64{second, first} {
			if err := s.AddSweep(t.Context(), n.sweep(id, i)); err != nil {
				t.Fatal(err)
			}
		}
	}
	lonely := n.sweep(second, 4) // a sweep that has found nothing
	lonely.Readings = nil
	if err := s.AddSweep(t.Context(), lonely); err != nil {
		t.Fatal(err)
	}
	at := func(i int) time.Time { return evening.Add(time.Duration(i) * 10 * time.Second) }
	type place struct {
		survey int64
		sweep  int
	}
	for _, test := range []struct {
		filter   Filter
		want     []place
		readings int // of each sweep
	}{
		{Filter{}, []place{{first, 0}, {first, 1}, {first, 2}, {first, 3}, {second, 0}, {second, 1}, {second, 2}, {second, 3}, {second, 4}}, 2},
		{Filter{Survey: first}, []place{{first, 0}, {first, 1}, {first, 2}, {first, 3}}, 2},
		{Filter{Survey: first, From: at(1), To: at(3)}, []place{{first, 1}, {first, 2}}, 2},
		{Filter{Survey: first, From: at(1).Add(1), To: at(3).Add(1)}, []place{{first, 2}, {first, 3}}, 2},
		{Filter{Survey: second, Segment: "b", From: at(3)}, []place{{second, 3}}, 1},
		{Filter{Segment: "no such"}, nil, 0},
		{Filter{Survey: 99}, nil, 0},
	} {
		var got []place
		for _, sw := range all(t, s, test.filter) {
			got = append(got, place{sw.Survey, int(sw.Start.Sub(evening) / (10 * time.Second))})
			if want := test.readings; len(sw.Readings) != want && sw.ID != lonely.ID {
				t.Errorf("%+v: %d readings, want %d", test.filter, len(sw.Readings), want)
			}
			for _, r := range sw.Readings {
				if len(r.Carriers) != 2 || test.filter.Segment != "" && r.Segment.Name != test.filter.Segment {
					t.Errorf("%+v: %d carriers in %s", test.filter, len(r.Carriers), r.Segment.Name)
				}
			}
		}
		if !slices.Equal(got, test.want) {
			t.Errorf("%+v: %v, want %v", test.filter, got, test.want)
		}
	}
}

// TestYieldStops: an error of yield comes back, and a cancelled context ends
// the walk; yield may itself read.
func TestYieldStops(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	for i := range 3 {
		if err := s.AddSweep(t.Context(), night{seeded(), 1, 1, 10}.sweep(id, i)); err != nil {
			t.Fatal(err)
		}
	}
	enough := errors.New("enough")
	seen := 0
	err := s.Sweeps(t.Context(), Filter{}, func(sw *survey.Sweep) error {
		seen++
		if sp, err := s.Spectrum(t.Context(), sw.Readings[0].ID); err != nil || len(sp.Density) != 10 {
			t.Errorf("%v, %v", sp, err)
		}
		return enough
	})
	if !errors.Is(err, enough) || seen != 1 {
		t.Errorf("%v after %d sweeps, want enough after 1", err, seen)
	}
	ctx, cancel := context.WithCancel(t.Context())
	err = s.Sweeps(ctx, Filter{}, func(*survey.Sweep) error { cancel(); return nil })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want context.Canceled", err)
	}
	if err := s.AddSweep(ctx, night{rng: seeded()}.sweep(id, 9)); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want context.Canceled", err)
	}
}

// TestOneState: a walk sees one state of the database, whatever is stored
// meanwhile.
func TestOneState(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	n := night{seeded(), 1, 2, 0}
	store := func(i int) *survey.Sweep {
		sw := n.sweep(id, i)
		if err := s.AddSweep(t.Context(), sw); err != nil {
			t.Fatal(err)
		}
		return sw
	}
	store(0)
	last := store(1)
	seen := 0
	err := s.Sweeps(t.Context(), Filter{}, func(sw *survey.Sweep) error {
		seen++
		if len(sw.Readings[0].Carriers) != 2 {
			t.Errorf("sweep %d: %d carriers, want 2", sw.ID, len(sw.Readings[0].Carriers))
		}
		store(1 + seen)
		return s.AddCarriers(t.Context(), map[int64][]survey.Carrier{last.Readings[0].ID: {{Frequency: survey.Hz(seen)}}})
	})
	if err != nil || seen != 2 {
		t.Errorf("%d sweeps, %v, want the 2 there were", seen, err)
	}
	if n := len(all(t, s, Filter{})); n != 4 {
		t.Errorf("%d sweeps afterwards, want 4", n)
	}
}

// TestAddCarriers: what was detected is never replaced by what was measured by
// force; a second run changes nothing.
func TestAddCarriers(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	sweep := night{seeded(), 1, 0, 0}.sweep(id, 0)
	sweep.Readings[0].Carriers = []survey.Carrier{{Frequency: 200, Power: 2, Detected: true}, {Frequency: 300, Power: 3}}
	if err := s.AddSweep(t.Context(), sweep); err != nil {
		t.Fatal(err)
	}
	added := map[int64][]survey.Carrier{sweep.Readings[0].ID: {
		{Frequency: 300, Power: -30, Sigma: 1, Detected: true}, {Frequency: 200, Power: -20},
		{Frequency: 100, Power: -10}, {Frequency: 100, Power: -11}}}
	want := []survey.Carrier{{Frequency: 100, Power: -10}, {Frequency: 200, Power: 2, Detected: true},
		{Frequency: 300, Power: -30, Sigma: 1, Detected: true}}
	for range 2 {
		if err := s.AddCarriers(t.Context(), added); err != nil {
			t.Fatal(err)
		}
		if got := all(t, s, Filter{})[0].Readings[0].Carriers; !slices.Equal(got, want) {
			t.Errorf("%v, want %v", got, want)
		}
	}
	if err := s.AddCarriers(t.Context(), map[int64][]survey.Carrier{99: nil}); !isErr(err, ErrUnknown) {
		t.Errorf("nothing for no reading: %v, want ErrUnknown", err)
	}
	added[99] = []survey.Carrier{{Frequency: 1}}
	added[sweep.Readings[0].ID] = []survey.Carrier{{Frequency: 400}}
	if err := s.AddCarriers(t.Context(), added); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
	if got := all(t, s, Filter{})[0].Readings[0].Carriers; len(got) != len(want) {
		t.Errorf("%d carriers after a refusal, want %d", len(got), len(want))
	}
}

// TestRefusedInOurWords: what the store refuses, it refuses in its own words.
func TestRefusedInOurWords(t *testing.T) {
	s := openTemp(t)
	sweep := func(id int64, spoil func(*survey.Sweep)) error {
		sw := night{seeded(), 1, 1, 0}.sweep(id, 0)
		spoil(sw)
		return s.AddSweep(t.Context(), sw)
	}
	id := begin(t, s)
	nan, name := math.NaN(), "attic"
	if _, _, err := s.ImportSurvey(t.Context(), name, "1.2"); err != nil {
		t.Fatal(err)
	}
	_, second := s.addOne(t.Context(), "name survey", "survey_names", columns{{"survey", &id}, {"name", &name}})
	for _, test := range []struct {
		got  error
		kind error
		want string
	}{
		{s.AddEvent(t.Context(), survey.Event{Survey: 99, At: evening}), ErrUnknown, "store event: survey 99: no such entry; begin the survey first"},
		{s.AddGap(t.Context(), survey.Gap{Survey: 99, From: evening, To: evening}), ErrUnknown, "store gap: survey 99: no such entry; begin the survey first"},
		{s.AddVisit(t.Context(), survey.Visit{Survey: 99, Asked: nightSetups[0], Start: evening}), ErrUnknown,
			"store visit: survey 99: no such entry; begin the survey first"},
		{s.AddVisit(t.Context(), survey.Visit{Survey: id}), ErrInvalid, "store visit: a figure cannot be stored: it asks for no setup; " + mistake},
		{sweep(99, func(*survey.Sweep) {}), ErrUnknown, "store sweep: survey 99: no such entry; begin the survey first"},
		{sweep(id, func(sw *survey.Sweep) { sw.Setup = survey.Setup{} }), ErrInvalid,
			"store sweep: a figure cannot be stored: the sweep has no setup; " + mistake},
		{sweep(id, func(sw *survey.Sweep) { sw.Readings[0].Carriers[0].Sigma = nan }), ErrInvalid,
			"store sweep: segment a: carriers 1: sigma: a figure cannot be stored: NaN; " + mistake},
		{sweep(id, func(sw *survey.Sweep) { sw.Readings[0].Occupancy = nan }), ErrInvalid,
			"store sweep: segment a: occupancy: a figure cannot be stored: NaN; " + mistake},
		{s.AddCarriers(t.Context(), map[int64][]survey.Carrier{7: {{}}}), ErrUnknown,
			"store carriers: reading 7: no such entry; store its sweep first"},
		{s.AddCalibration(t.Context(), &survey.Calibration{Kind: "guess", Receiver: dongle, At: evening}), ErrInvalid,
			"store calibration: row of calibrations: a figure cannot be stored; " + mistake},
		{second, ErrStored, "name survey: row of survey_names: already stored; " + mistake},
	} {
		if !isErr(test.got, test.kind) || test.got.Error() != test.want {
			t.Errorf("%v\nwant %s", test.got, test.want)
		}
	}
}

// TestSpectra come with what belongs to them, in order.
func TestSpectra(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	n := night{seeded(), 2, 0, 50}
	var stored []*survey.Sweep
	for i := range 4 {
		stored = append(stored, n.sweep(id, i))
		if err := s.AddSweep(t.Context(), stored[i]); err != nil {
			t.Fatal(err)
		}
	}
	i := 0
	err := s.Spectra(t.Context(), Filter{Segment: "b"}, func(reading int64, sp *survey.Spectrum) error {
		if reading != stored[i].Readings[1].ID || sp.First != stored[i].Readings[1].Spectrum.First || len(sp.Density) != 50 {
			t.Errorf("spectrum %d: of reading %d, %v", i, reading, sp)
		}
		again, err := s.Spectrum(t.Context(), reading)
		if err != nil || !reflect.DeepEqual(again, sp) {
			t.Errorf("spectrum %d alone: %v, %v", i, again, err)
		}
		i++
		return nil
	})
	if err != nil || i != 4 {
		t.Errorf("%d spectra, %v, want 4", i, err)
	}
	if _, err := s.Spectrum(t.Context(), 99); !isErr(err, ErrUnknown) {
		t.Errorf("%v, want ErrUnknown", err)
	}
	bare := night{seeded(), 1, 0, 0}.sweep(id, 5)
	if err := s.AddSweep(t.Context(), bare); err != nil {
		t.Fatal(err)
	}
	if sp, err := s.Spectrum(t.Context(), bare.Readings[0].ID); sp != nil || err != nil {
		t.Errorf("%v, %v, want none", sp, err)
	}
}

// BenchmarkMerge is a micro-measure of the walk alone, a tenth of a night.
func BenchmarkMerge(b *testing.B) {
	s := openTemp(b)
	if _, err := s.writer.Exec("PRAGMA synchronous=OFF"); err != nil { // only the filling
		b.Fatal(err)
	}
	fill(b, s, night{seeded(), nightSegments, nightCarriers, 0}, nightSweeps/10)
	b.ReportAllocs()
	for b.Loop() {
		if err := s.Sweeps(b.Context(), Filter{}, func(*survey.Sweep) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
}
