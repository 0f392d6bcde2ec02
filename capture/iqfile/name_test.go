package iqfile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

// berlin has summer time: clocks went back on 25 October 2026 at 3:00, and forward on 29 March at 2:00.
func berlin(t testing.TB) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip(err)
	}
	return zone
}

func TestNames(t *testing.T) {
	for _, test := range []struct {
		name string
		want string // Named.String, read in Berlin
	}{
		{"loft-9650kHz-20261103T210410Z.cu8", "centre 9.65 MHz, start 3 Nov 2026 21:04:10 UTC"},
		{"2026-11-03 21.04.10 9.65MHz.wav", "centre 9.65 MHz, start 3 Nov 2026 21:04:10 CET"},
		{"20261103_210410_9650000Hz.cs16", "centre 9.65 MHz, start 3 Nov 2026 21:04:10 CET"},
		{"2026-07-03T21:04:10Z 9.65 MHz 2400ksps.cf32", "centre 9.65 MHz, rate 2.4 MS/s, start 3 Jul 2026 21:04:10 UTC"},
		{"9650KHZ_2.4MSps_2026_07_03_21_04.cf32", "centre 9.65 MHz, rate 2.4 MS/s, start 3 Jul 2026 21:04:00 CEST"},
		{"2026.07.03-21-04-50kHz.cf32", "start 3 Jul 2026 21:04:00 CEST"}, // 50 kHz is no centre
		{"20261103T2104_UTC_1.2GHz.cu8", "centre 1200 MHz, start 3 Nov 2026 21:04:00 UTC"},
		{"whip take 2 9.65MHz.cu8", "centre 9.65 MHz"},
		{"whip_12_9650kHz.cu8", "centre 9.65 MHz"},
		{"loft.9650kHz-2.cu8", "centre 9.65 MHz"},
		{"650kHz-2400ksps.cu8", "centre 650 kHz, rate 2.4 MS/s"},
		{"20261103_210410-9650 kHz.cu8", "centre 9.65 MHz, start 3 Nov 2026 21:04:10 CET"},

		// No unit, no centre; no centre, no rate.
		{"loft-9650-20261103T210410Z.cu8", "start 3 Nov 2026 21:04:10 UTC"},
		{"loft 2400ksps.cu8", ""}, {"night-0412.cu8", ""}, {"9.65.cu8", ""}, {"MHz.cu8", ""},
		// Two of a kind.
		{"9650kHz 2.4MHz.cu8", ""}, {"9650kHz 7100kHzUSB.cu8", ""}, {"9,65MHz 7100kHz.cu8", ""},
		{"9650kHz 2400ksps 250ksps.cu8", "centre 9.65 MHz"},
		{"2026-11-03 21.04 2026-11-04 21.04.cu8", ""}, {"20261103-20261104 2104.cu8", ""}, {"03.11.2026 2026-11-04 21.04.cu8", ""},
		// Stretches.
		{"9400-9900kHz.cu8", ""}, {"9.4-9.9MHz.cu8", ""}, {"10.99-11.5MHz.cu8", ""}, {"9400 to 9900 kHz.cu8", ""}, {"9400to9900kHz.cu8", ""},
		{"9400kHz-9900.cu8", ""}, {"9.4MHz–9.9.cu8", ""}, {"9400..9900kHz.cu8", ""}, {"9400~9900kHz.cu8", ""},
		// Parts of something else.
		{"9,65MHz.cu8", ""}, {"9 650 kHz.cu8", ""}, {"9\u202f650\u00a0kHz.cu8", ""}, {"9'650kHz.cu8", ""}, {"9_650_000Hz.cu8", ""}, {"9.650.000Hz.cu8", ""}, {"144.800kHz.cu8", ""}, {"198.000 Hz.cu8", ""},
		{"1.296MHz.cu8", "centre 1.296 MHz"}, {"9650.125kHz.cu8", "centre 9.650125 MHz"}, {"198.5kHz 2.400Msps.cu8", "centre 198.5 kHz, rate 2.4 MS/s"},
		{"9.65e6Hz.cu8", ""}, {"whip9650kHz.cu8", ""}, {"9650kHz2.cu8", ""}, {"9650kHzish.cu8", ""}, {"９６５０kHz.cu8", ""},
		{"9650kHz+100.cu8", "centre 9.65 MHz"}, {"100+9650kHz.cu8", ""}, {"20261103_210410.9650kHz.cu8", ""},
		// Beyond what is meant: millihertz, light.
		{"50Hz.cu8", ""}, {"3.9650kHz.cu8", ""}, {"9650MHz.cu8", ""}, {strings.Repeat("9", 400) + "kHz.cu8", ""},
		// Dates without a time, times without a date, and what is neither.
		{"2026-11-03.cu8", ""}, {"21.04.10.cu8", ""}, {"20261103-0412.cu8", ""}, {"20261103210410.cu8", ""}, {"2026-11.03 21.04.cu8", ""},
		{"2026-13-03 21.04.cu8", ""}, {"2026-11-03 25.04.cu8", ""}, {"1926-11-03 21.04.cu8", ""}, {"03.11.2026 21.04.cu8", ""},
		{"rec20261103_210410.cu8", ""}, {"20261103_210410h.cu8", ""}, {"20261103_210410.5.cu8", ""}, {"20261103 loft 210410.cu8", ""},
		// Zones that are not read.
		{"20261103T210410+0100.cu8", ""}, {"20261103T210410-01.cu8", ""}, {"20261103T210410 +01:00.cu8", ""}, {"20261103_210410_UTC+1.cu8", ""},
		{"2026-11-03 21.04.10 (UTC+1).cu8", ""}, {"20261103T210410CET.cu8", ""},
		{"20261103_210410_PST.cu8", ""}, {"est 20261103_210410.cu8", ""}, {"20261103_210410 zulu.cu8", ""}, {"20261103_210410_MEZ.cu8", ""},
		{"20261103_210410_CET.cu8", "start 3 Nov 2026 21:04:10 CET"}, {"20260703_210410_CET.cu8", ""},
		// Half a day that is not read; amplitude modulation is none, unless it may be midnight.
		{"2026-11-03 09.04.10 PM.cu8", ""}, {"2026-11-03_09-04-pm.cu8", ""}, {"2026-11-03 12.04 AM.cu8", ""},
		{"20261103_210410_AM.cu8", "start 3 Nov 2026 21:04:10 CET"}, {"20261103_210410_9650kHz_PM.cu8", "centre 9.65 MHz, start 3 Nov 2026 21:04:10 CET"},
		// The clocks showed it twice, and never.
		{"2026-10-25 02.30.cu8", ""}, {"2026-03-29 02.30.cu8", ""}, {"2026-10-25 02.30Z.cu8", "start 25 Oct 2026 02:30:00 UTC"},
	} {
		if got := ReadName(filepath.Join("7100kHz 2026-01-01 10.00", test.name), berlin(t)).String(); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}

// Why a name gives nothing is told only where it has something to be looked at.
func TestWhyNamesGiveNothing(t *testing.T) {
	for name, want := range map[string]Named{
		"2026-10-25 02.30 9650kHz.cu8":    {NoStart: "the 02:30 in its name comes twice that night"},
		"20260329_023000 2MHz 4MHz.cu8":   {NoStart: "the 02:30:00 in its name is none that clocks showed that night", NoCentre: "of two frequencies in its name none is taken"},
		"20261103 2026-11-04 21.04.cu8":   {NoStart: "of two dates in its name none is taken"},
		"20261103_256000 loop.cu8":        {NoStart: "its name says no time of day plainly"},
		"9650kHz 1ksps 2ksps.cu8":         {NoRate: "of two rates in its name none is taken"},
		"9650kHz 2ksps 20260703T2104.cu8": {},
		"loop 9650 7100.cu8":              {NoCentre: "the 9650 in its name has no unit"},
		"IMG9650 0412 99 1.7 7100b.cu8":   {},
		"9650.5kHzish.cu8":                {NoCentre: "its name says none plainly"},
	} {
		got := ReadName(name, berlin(t))
		got.Centre, got.Rate, got.Start = 0, 0, time.Time{}
		if got != want {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
	}
}

// What the user says wins, then what the file says, then its name.
func TestNamesComeLast(t *testing.T) {
	const plain = "9650kHz 2400ksps 20261103T210410Z"
	named := ReadName(plain+".cu8", time.UTC)
	folder := t.TempDir()
	samples := []byte{0, 255, 64, 128}
	write := func(ending string, content []byte) string { return put(t, folder, plain+ending, content) }
	write(".sigmf-data", samples)
	full := `{"global":{"core:datatype":"cu8","core:version":"1.0.0","core:sample_rate":1e6},"captures":[{"core:sample_start":0,"core:frequency":0,"core:datetime":"2026-11-04T00:00:00Z"}],"annotations":[]}`
	for _, test := range []struct {
		path         string
		centre, rate survey.Hz
		named        Named
	}{
		{write(".cu8", samples), 9_650_000, 2_400_000, named},
		{write(".wav", waveOf(wavePCM, 8, 48_000, samples).bytes()), 9_650_000, 48_000, Named{Centre: named.Centre, Start: named.Start}},
		{write(".sigmf-meta", []byte(full)), 0, 1e6, Named{}},
	} {
		list, err := Open(test.path, Options{Zone: time.UTC})
		if err != nil {
			t.Fatal(err)
		}
		if r := list[0]; r.Centre != test.centre || r.Rate != test.rate || r.Named != test.named {
			t.Errorf("%s: %v, %v, %+v; want %+v", filepath.Ext(test.path), r.Centre, r.Rate, r.Named, test)
		}
		list, err = Open(test.path, Options{Zone: time.UTC, Centre: 7_100_000, Rate: 250_000})
		if err != nil {
			t.Fatal(err)
		}
		if r := list[0]; r.Centre != 7_100_000 || r.Rate != 250_000 || r.Named.Centre != 0 || r.Named.Rate != 0 {
			t.Errorf("%s: the name wins over what was given: %+v", filepath.Ext(test.path), r)
		}
	}
	bare := strings.NewReplacer(`,"core:sample_rate":1e6`, "", `,"core:frequency":0`, "", `,"core:datetime":"2026-11-04T00:00:00Z"`, "").Replace(full)
	list, err := Open(write(".sigmf-meta", []byte(bare)), Options{Zone: time.UTC})
	if err != nil || list[0].Centre != 9_650_000 || list[0].Rate != 2_400_000 || list[0].Named != named {
		t.Errorf("a description that says nothing: %+v, %v", list, err)
	}
	// Of two captures the name says nothing, and unless asked for it is not read.
	two := strings.Replace(bare, `{"core:sample_start":0}`, `{"core:sample_start":0},{"core:sample_start":1}`, 1)
	if _, err := Open(write(".sigmf-meta", []byte(two)), Options{Zone: time.UTC}); !errors.Is(err, ErrNoRate) {
		t.Errorf("two captures: %v", err)
	}
	if _, err := Open(filepath.Join(folder, plain+".cu8"), Options{}); !errors.Is(err, ErrNoCentre) {
		t.Errorf("a name was read that nobody asked for: %v", err)
	}
}

// One recording has one digest, whether its start was given, or its name says it. Older databases
// hold that of the start that was given.
func TestNameIsNotInTheDigest(t *testing.T) {
	folder, start := t.TempDir(), time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC)
	digest := func(name string, o Options, given time.Time) (digest, before string) {
		list, err := Open(put(t, folder, name, []byte{0, 255, 64, 128}), o)
		if err != nil {
			t.Fatal(err)
		}
		digest, before, err = list[0].Digest(given)
		if err != nil {
			t.Fatal(err)
		}
		return digest, before
	}
	by, byBefore := digest("9650kHz 2400ksps 20261103T210410Z.cu8", Options{Zone: time.UTC}, time.Time{})
	plain, before := digest("night.cu8", Options{Centre: 9_650_000, Rate: 2_400_000}, start)
	old := sha256.Sum256([]byte("cu8\n0x1.267eap+23\n0x1.24f8p+21\n2026-11-03T21:04:10Z\n\x00\xff\x40\x80"))
	if plain != by || byBefore != by || before != hex.EncodeToString(old[:]) {
		t.Errorf("%s and %s by the name, %s and %s as given, want %x in older databases", by, byBefore, plain, before, old)
	}
}

// FuzzNames: whatever a name says, what is read stands in it, and stands there once.
func FuzzNames(f *testing.F) {
	for _, name := range []string{"loft-9650kHz-20261103T210410Z.cu8", "2026-11-03 21.04.10 9.65MHz.wav", "20261103_210410_9650000Hz.cs16",
		"9.65 MHz 2400ksps 2026-10-25 02.30.cf32", "9 650 kHz.cu8", "9400 to 9900kHz.cu8", "20261103T210410+0100.cu8", "\xff9650kHz\x00.cu8"} {
		f.Add(name)
	}
	zone := berlin(f)
	number := regexp.MustCompile(`(?i)[0-9][_\v\s\pZ\x{85}]?(khz|mhz|ghz|hz)`)
	utc := regexp.MustCompile(`(?i)[0-9]z|utc|gmt`)
	f.Fuzz(func(t *testing.T, name string) {
		n := ReadName(name, zone)
		if n.Centre != 0 {
			if n.Centre < leastNamed || n.Centre > mostNamed || !number.MatchString(filepath.Base(name)) {
				t.Fatalf("%q: centre %v", name, n.Centre)
			}
			if again := ReadName("7100kHz "+filepath.Base(name), zone); again.Centre != 0 {
				t.Fatalf("%q: a second frequency is overlooked", name)
			}
		}
		if n.Rate != 0 && (n.Centre == 0 || n.Rate < leastNamedRate || n.Rate > mostNamedRate) {
			t.Fatalf("%q: rate %v beside %v", name, n.Rate, n.Centre)
		}
		if n.Start.IsZero() {
			return
		}
		base := filepath.Base(name)
		for _, part := range []string{"2006", "01", "02", "15", "04"} {
			if !strings.Contains(base, n.Start.Format(part)) {
				t.Fatalf("%q: %v is not in it", name, n.Start)
			}
		}
		if n.Start.Second() != 0 && !strings.Contains(base, n.Start.Format("05")) {
			t.Fatalf("%q: the second of %v is not in it", name, n.Start)
		}
		if n.Start.Location() == time.UTC && !utc.MatchString(base) {
			t.Fatalf("%q: %v is not UTC", name, n.Start)
		}
		if again := ReadName("1999-12-31 23.59 "+base, zone); !again.Start.IsZero() {
			t.Fatalf("%q: a second date is overlooked", name)
		}
	})
}

func ExampleReadName() {
	fmt.Println(ReadName("loft-9650kHz-20261103T210410Z.cu8", time.Local))
	fmt.Println(ReadName("loft-9400-9900kHz.cu8", time.Local).NoCentre)
	// Output:
	// centre 9.65 MHz, start 3 Nov 2026 21:04:10 UTC
	// its name says none plainly
}
