package sun

import (
	"math"
	"testing"
	"time"
)

func utc(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		panic(err)
	}
	return t
}

func TestSunPosition(t *testing.T) {
	// [Meeus:1998], example 25.a: at 1992-10-13 0h the sun's
	// apparent place is α 198.38083°, δ −7.78507°. Low precision: 0.01°.
	ra, dec := position(daysSinceJ2000(utc("1992-10-13T00:00:00Z")))
	if got := math.Mod(ra/radian+360, 360); math.Abs(got-198.38083) > 0.012 {
		t.Errorf("right ascension %.4f°, want 198.3808", got)
	}
	if got := dec / radian; math.Abs(got+7.78507) > 0.01 {
		t.Errorf("declination %.4f°, want -7.7851", got)
	}
}

func TestSunElevation(t *testing.T) {
	const tol = 0.1 // degrees; almanac minutes are rounded, the sun moves 0.25° a minute at most
	for _, test := range []struct {
		why      string
		at       string
		lat, lon float64
		want     float64
	}{
		// Noon height is 90° − |latitude − declination|. The equation of time is
		// −1.8 min on 21 June, so the sun stands south of Greenwich at 12:01:50;
		// within 2 min of it the height changes by under 0.01°.
		{"June solstice, noon", "2026-06-21T12:01:50Z", 50, 0, 90 - (50 - 23.44)},
		{"June solstice, midnight", "2026-06-21T00:01:50Z", 50, 0, -(90 - (50 + 23.44))},
		{"June solstice, noon on the tropic", "2026-06-21T12:01:50Z", 23.44, 0, 90},
		// +1.9 min at the December solstice: noon at 11:58:10.
		{"December solstice, noon", "2026-12-21T11:58:10Z", 50, 0, 90 - (50 + 23.44)},
		{"December solstice, south", "2026-12-21T11:58:10Z", -50, 0, 90 - (50 - 23.44)},
		// The equinox of 2026 is on 20 March at 14:46 UTC; equation of time −7.4 min.
		{"equinox, pole", "2026-03-20T14:46:00Z", 90, 0, 0},
		// At 14:46:00 the sun is 2 h 38.6 min past Greenwich noon of 12:07.4:
		// overhead on the equator at 39.65° W, on the horizon 90° from there.
		{"equinox, subsolar point", "2026-03-20T14:46:00Z", 0, -39.65, 90},
		{"equinox, sunset on the equator", "2026-03-20T14:46:00Z", 0, 50.35, 0},
		{"equinox, sunrise on the equator", "2026-03-20T14:46:00Z", 0, -129.65, 0},
		// Half an hour angle of 45° at latitude 60 in equinox: sin h = cos 60 cos 45.
		{"equinox, latitude 60", "2026-03-20T14:46:00Z", 60, 5.35, 20.70},
		// The equation of time is greatest, +16.4 min, about 3 November; the
		// sun reaches longitude 225° on 7 November 09:52 UTC at 1.0025° a day: 221.07°
		// at noon of the 3rd, sin δ = sin 23.44° sin 221.07°: −15.15°. On the prime
		// meridian noon is at 11:43.6.
		{"3 November, noon", "2026-11-03T11:43:36Z", 52, 0, 90 - (52 + 15.15)},
	} {
		if got := Elevation(utc(test.at), test.lat, test.lon); math.Abs(got-test.want) > tol {
			t.Errorf("%s: %.3f°, want %.2f ± %.1f", test.why, got, test.want, tol)
		}
	}
}

func TestSunsetTimes(t *testing.T) {
	// cos H = (sin h − sin φ sin δ) / (cos φ cos δ), h = −0.833° (34′ of refraction
	// and 16′ of semidiameter), with the almanac's δ and equation of time:
	// 51.5° N 0.13° W, 21 June: δ 23.44°: H = 124.68° = 8 h 18.7 min about 12:02.4:
	// 03:43.6 and 20:21.1 UTC, as in the tables (04:43 and 21:21 summer time).
	// 0.13° a minute there.
	for _, at := range []string{"2026-06-21T03:43:36Z", "2026-06-21T20:21:06Z"} {
		if got := Elevation(utc(at), 51.5, -0.13); math.Abs(got+0.833) > 0.1 {
			t.Errorf("at %s: %.3f°, want -0.833", at, got)
		}
	}
}

func TestSunRising(t *testing.T) {
	// Noon at 15° E is an hour before Greenwich's 12:00 ± 17 min.
	for at, want := range map[string]bool{
		"2026-11-03T05:00:00Z": true, "2026-11-03T10:30:00Z": true,
		"2026-11-03T11:30:00Z": false, "2026-11-03T22:30:00Z": false, "2026-11-03T23:30:00Z": true,
	} {
		if got := Rising(utc(at), 15); got != want {
			t.Errorf("at %s rising %v, want %v", at, got, want)
		}
	}
}
