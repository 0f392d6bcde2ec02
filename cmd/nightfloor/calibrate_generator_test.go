package main

import (
	"math"
	"strings"
	"testing"
)

// An antenna that was left on, with the generator off: a broadcaster on 9650 is not taken for a generator at 9.652 MHz,
// by its modulation where it stands alone, by the stations about it where its programme pauses. A generator that is
// 10 kHz off is said to stand there.
func TestCalibrateLevelOnAnAntenna(t *testing.T) {
	notInShort(t)
	t.Parallel()
	b := newCalibrationBench(t, upconverted, "noise -145", "carrier 9650000 -70 am 0.4 700")
	told := []string{"level", "--frequency", "9.652MHz", "--level", "-60 dBm"}
	b.refused(t, []string{"the carrier at 9.65 MHz by the receiver's clock is modulated", "a generator's is clean", "take the antenna off"}, told...)
	stations := []string{"9650000 -70", "9545000 -85", "9700000 -90", "9735000 -85", "9825000 -90", "9980000 -95"}
	b.control(t, append([]string{"antenna 0", "queue 0.025", "upconverter 125000000", "noise -145"}, prefixed("carrier ", stations)...)...)
	b.refused(t, []string{"of 6 lines stand on the raster of broadcasters", "an antenna seems to be connected", "connect the generator in its place"}, told...)

	b = newCalibrationBench(t, upconverted, "noise -170", "carrier 9662000 -60")
	d := b.calibrate(t, told...)
	if d.Found == nil || math.Abs(float64(*d.Found)-9.662e6) > 5 || len(d.Levels) < 6 || !strings.Contains(d.Note, "at 9.652 MHz, found at 9.662 MHz, 10 kHz higher, by the receiver's clock") {
		t.Errorf("found at %v, %d levels, %q", d.Found, len(d.Levels), d.Note)
	}
	out, err := b.command(append([]string{"calibrate", "level", "--plan", b.plan, "--db", b.database, "--yes"}, told[1:]...)...).Output()
	if flat := strings.Join(strings.Fields(string(out)), " "); err != nil || !strings.Contains(flat, "by a generator at 9.652 MHz; its carrier was found at 9.662 MHz, 10 kHz higher, by the receiver's clock") {
		t.Errorf("%v: %s", err, out)
	}
}

// prefixed puts something before each.
func prefixed(before string, all []string) (out []string) {
	for _, s := range all {
		out = append(out, before+s)
	}
	return out
}
