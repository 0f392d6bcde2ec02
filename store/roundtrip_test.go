package store

import (
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"nightfloor/store/ranges"
	"nightfloor/survey"
)

// figure draws any number that can stand in a column; SQLite keeps 64-bit floats as they are.
func figure(column string) *rapid.Generator[float64] {
	l := ranges.ByColumn()[column]
	return rapid.Float64Range(l.Low, l.High)
}

// instants are times to the millisecond, as the store keeps them.
func instants() *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		return time.UnixMilli(rapid.Int64Range(0, 7258118400000).Draw(t, "ms")).UTC()
	})
}

func setups() *rapid.Generator[survey.Setup] {
	return rapid.Custom(func(t *rapid.T) survey.Setup {
		s := survey.Setup{Antenna: rapid.StringN(1, 9, -1).Draw(t, "antenna"), Placement: rapid.String().Draw(t, "placement")}
		if rapid.Bool().Draw(t, "turned") {
			s.Bearing = survey.BearingOf(rapid.Float64Range(-720, 720).Draw(t, "bearing"))
		}
		return s
	})
}

// carriers are sorted by frequency, each at one of its own. Their quiet errors are so many quarters of a dB
// under sigma, as the store keeps them.
func carriers() *rapid.Generator[[]survey.Carrier] {
	return rapid.Custom(func(t *rapid.T) []survey.Carrier {
		var cs []survey.Carrier
		fs := rapid.SliceOfNDistinct(figure("frequency_hz"), 0, 6, rapid.ID).Draw(t, "frequencies")
		slices.Sort(fs)
		for _, f := range fs {
			sigma, quiet := figure("sigma").Draw(t, "sigma"), 0.0
			if sigma > 1e-200 && rapid.Bool().Draw(t, "quiet known") {
				quiet = quietOf(sigma, rapid.Int64Range(0, 4000).Draw(t, "quarters"))
			}
			cs = append(cs, survey.Carrier{Frequency: survey.Hz(f), Power: figure("power").Draw(t, "power"),
				Sigma: sigma, Quiet: quiet, Detected: rapid.Bool().Draw(t, "detected")})
		}
		return cs
	})
}

// spectra have densities that are multiples of 0.1 dB, as the store keeps them.
func spectra() *rapid.Generator[*survey.Spectrum] {
	return rapid.Custom(func(t *rapid.T) *survey.Spectrum {
		sp := &survey.Spectrum{First: survey.Hz(figure("first_hz").Draw(t, "first")), Step: survey.Hz(figure("step_hz").Draw(t, "step")),
			ENBW: figure("enbw").Draw(t, "enbw"), Looks: figure("looks").Draw(t, "looks"), Density: []float32{}}
		for _, code := range rapid.SliceOf(rapid.Int16Range(-32000, 32000)).Draw(t, "codes") {
			sp.Density = append(sp.Density, float32(float64(code)*0.1))
		}
		return sp
	})
}

// findings have what applies to their kinds, as the store keeps it.
func findings() *rapid.Generator[[]survey.Finding] {
	one := rapid.Custom(func(t *rapid.T) survey.Finding {
		hz := func(column string) survey.Hz { return survey.Hz(figure(column).Draw(t, column)) }
		f := survey.Finding{Low: hz("low_hz"), High: hz("high_hz"), Confidence: figure("confidence").Draw(t, "confidence"),
			Kind: rapid.SampledFrom([]string{survey.FindingComb, survey.FindingMains, survey.FindingImpulses, survey.FindingHump}).Draw(t, "kind")}
		if f.Kind == survey.FindingComb || f.Kind == survey.FindingMains {
			f.Mains, f.Power, f.Sigma = rapid.SampledFrom([]survey.Hz{0, 50, 60}).Draw(t, "mains"), figure("power").Draw(t, "power"), figure("sigma").Draw(t, "sigma")
		}
		switch f.Kind {
		case survey.FindingComb:
			f.Spacing, f.Width, f.Lines = hz("spacing_hz"), hz("width_hz"), rapid.IntRange(0, 1e6).Draw(t, "lines")
		case survey.FindingMains:
			f.Envelope, f.Depth, f.Shape = hz("envelope_hz"), figure("depth").Draw(t, "depth"), rapid.String().Draw(t, "shape")
			return f
		case survey.FindingImpulses:
			f.Rate, f.Regular = hz("rate_hz"), rapid.Bool().Draw(t, "regular")
		}
		f.Strength = survey.DB(figure("strength_db").Draw(t, "strength"))
		return f
	})
	return rapid.Custom(func(t *rapid.T) []survey.Finding {
		some := rapid.SliceOfN(one, 0, 4).Draw(t, "findings")
		if len(some) == 0 {
			return nil
		}
		return some
	})
}

func readings() *rapid.Generator[survey.Reading] {
	return rapid.Custom(func(t *rapid.T) survey.Reading {
		hz := func(column string) survey.Hz { return survey.Hz(figure(column).Draw(t, column)) }
		db := func(column string) survey.DB { return survey.DB(figure(column).Draw(t, column)) }
		r := survey.Reading{
			Segment: survey.Segment{Name: rapid.String().Draw(t, "segment"), Low: hz("low_hz"), High: hz("high_hz")},
			Start:   instants().Draw(t, "start"), Duration: time.Duration(rapid.Int64Range(0, 1e15).Draw(t, "duration")),
			Centre: hz("centre_hz"), SampleRate: hz("sample_rate_hz"), BinWidth: hz("bin_hz"), Resolution: hz("resolution_hz"),
			VdBandwidth: hz("vd_bandwidth_hz"), Occupancy: figure("occupancy").Draw(t, "occupancy"),
			Carriers: carriers().Draw(t, "carriers"), Findings: findings().Draw(t, "findings"),
			Quality: survey.Quality{ClippedShare: figure("clipped_share").Draw(t, "clipped"), DroppedSamples: rapid.Int64Range(0, 1e15).Draw(t, "dropped"),
				DC: survey.DBFS(math.Inf(-1)), IQImbalance: db("iq_imbalance_dbc")},
		}
		if rapid.Bool().Draw(t, "gain known") {
			r.Gain = survey.Gain{DB: db("gain_db"), Known: true, Exact: rapid.Bool().Draw(t, "exact")}
		}
		if rapid.Bool().Draw(t, "floor known") {
			r.Floor = &survey.Floor{Density: survey.DBFSPerHz(db("floor_dbfs_hz")), Sigma: db("floor_sigma_db"), Quiet: survey.DBFSPerHz(db("quiet_dbfs_hz"))}
		}
		if rapid.Bool().Draw(t, "vd known") {
			r.Vd = new(db("vd_db"))
		}
		if rapid.Bool().Draw(t, "spectrum kept") {
			r.Spectrum = spectra().Draw(t, "spectrum")
		}
		flags := rapid.SliceOfDistinct(rapid.SampledFrom([]string{survey.FlagCrowded, survey.FlagLowDrive,
			survey.FlagOverload, survey.FlagShort}), rapid.ID).Draw(t, "flags")
		if len(flags) > 0 {
			slices.Sort(flags)
			r.Quality.Flags = flags
		}
		return r
	})
}

// TestSweepRoundTrip: what is stored comes back equal, field by field.
func TestSweepRoundTrip(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	// Each commit waits for the disk; nothing here depends on it.
	if _, err := s.writer.Exec("PRAGMA synchronous=OFF"); err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		want := &survey.Sweep{Survey: id, Round: rapid.IntRange(1, 1e6).Draw(t, "round"), Visit: rapid.IntRange(0, 1e8).Draw(t, "visit"),
			Setup: setups().Draw(t, "setup"), Start: instants().Draw(t, "start"),
			Readings: rapid.SliceOfN(readings(), 1, 4).Draw(t, "readings")}
		if err := s.AddSweep(t.Context(), want); err != nil {
			t.Fatal(err)
		}
		var got *survey.Sweep
		filter := Filter{Survey: id, From: want.Start, To: want.Start.Add(time.Millisecond)}
		err := s.Sweeps(t.Context(), filter, func(sw *survey.Sweep) error {
			if sw.ID == want.ID {
				got = sw
			}
			return nil
		})
		if err != nil || got == nil {
			t.Fatalf("sweep %d: %v, %v", want.ID, got, err)
		}
		for i := range got.Readings {
			if got.Readings[i].Spectrum, err = s.Spectrum(t.Context(), got.Readings[i].ID); err != nil {
				t.Fatal(err)
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("got\n%+v\nwant\n%+v", got, want)
		}
	})
}

// TestNotANumber: what is not known comes back as such, and what must be known
// is refused.
func TestNotANumber(t *testing.T) {
	s := openTemp(t)
	id := begin(t, s)
	nan := math.NaN()
	sweep := night{rng: seeded(), segments: 1}.sweep(id, 0)
	q := &sweep.Readings[0].Quality
	q.DC, q.IQImbalance = survey.DBFS(nan), survey.DB(nan)
	sweep.Readings[0].Floor.Quiet = survey.DBFSPerHz(nan)
	if err := s.AddSweep(t.Context(), sweep); err != nil {
		t.Fatal(err)
	}
	got := all(t, s, Filter{})[0].Readings[0]
	if !math.IsNaN(float64(got.Quality.DC)) || !math.IsNaN(float64(got.Quality.IQImbalance)) || !math.IsNaN(float64(got.Floor.Quiet)) {
		t.Errorf("%+v, %+v: want NaN for DC, imbalance, quiet", got.Quality, got.Floor)
	}
	for name, spoil := range map[string]func(*survey.Reading){
		"floor":     func(r *survey.Reading) { r.Floor.Density = survey.DBFSPerHz(nan) },
		"Vd":        func(r *survey.Reading) { *r.Vd = survey.DB(nan) },
		"occupancy": func(r *survey.Reading) { r.Occupancy = nan },
		"carrier":   func(r *survey.Reading) { r.Carriers = []survey.Carrier{{Frequency: 6e6, Power: nan}} },
		"finding":   func(r *survey.Reading) { r.Findings = []survey.Finding{{Kind: survey.FindingComb, Power: nan}} },
		"gain":      func(r *survey.Reading) { r.Gain = survey.Gain{DB: survey.DB(nan)} }, // not known either
		"edge":      func(r *survey.Reading) { r.Segment.High = survey.Hz(nan) },
		"spacing": func(r *survey.Reading) {
			r.Findings = []survey.Finding{{Kind: survey.FindingHump, Spacing: survey.Hz(nan)}}
		},
		"depth":    func(r *survey.Reading) { r.Findings = []survey.Finding{{Kind: survey.FindingComb, Depth: nan}} },
		"power":    func(r *survey.Reading) { r.Findings = []survey.Finding{{Kind: survey.FindingImpulses, Power: nan}} },
		"flag":     func(r *survey.Reading) { r.Quality.Flags = []string{"a,b"} },
		"spectrum": func(r *survey.Reading) { r.Spectrum = &survey.Spectrum{Density: []float32{1e6}} },
	} {
		sweep := night{rng: seeded(), segments: 1}.sweep(id, 1)
		spoil(&sweep.Readings[0])
		if err := s.AddSweep(t.Context(), sweep); !isErr(err, ErrInvalid) || sweep.ID != 0 || sweep.Readings[0].ID != 0 {
			t.Errorf("%s: %v, sweep %d; want ErrInvalid and no number", name, err, sweep.ID)
		}
	}
	if n := len(all(t, s, Filter{})); n != 1 {
		t.Errorf("%d sweeps, want the first alone", n)
	}
}
