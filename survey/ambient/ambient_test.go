package ambient

import (
	"math"
	"testing"

	"nightfloor/survey"
)

func near(t *testing.T, what string, got, want survey.DB) {
	t.Helper()
	if math.Abs(float64(got-want)) > 0.01 {
		t.Errorf("%s: %.3f dB, want %.2f", what, float64(got), float64(want))
	}
}

// Worked values of PHYSICS.md 5.6, at 10 MHz.
func TestFigure(t *testing.T) {
	near(t, "whip of 12.5 dB(1/m) at −140 dBm/Hz", Figure(-140, 12.5, 10e6, OverGround), 54.99)
	near(t, "loop of 28.2 dB(1/m) at −160 dBm/Hz", Figure(-160, 28.2, 10e6, FreeSpace), 53.69)
	of := func(kind string, factor survey.DB, d survey.DBmPerHz) survey.DB {
		return FigureOf(d, survey.Antenna{Kind: kind, Factor: &factor}, 10e6)
	}
	near(t, "the loop, noise from all azimuths", of(survey.KindLoop, 28.2, -160), 56.70)
	near(t, "the whip by its kind", of(survey.KindWhip, 12.5, -140), 54.99)
	near(t, "a dipole", of(survey.KindDipole, 28.2, -160), 53.69)

	// What surroundings give: residential is 44.80 dB there, quiet rural 25.00, in the field over ground.
	near(t, "residential through the whip", Figure(-150.19, 12.5, 10e6, OverGround), 44.80)
	near(t, "residential through a bare loop of 1 m", Figure(-165.86, 28.17, 10e6, OverGround), 44.80)
	near(t, "quiet rural through the loop", Figure(-185.66, 28.17, 10e6, OverGround), 25.00)
}
