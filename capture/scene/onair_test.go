package scene

import (
	"context"
	"math"
	"testing"

	"nightfloor/survey"
)

// TestOvers: thirty transmissions a minute begin in each band and last 8 s, so that four are on, 12 dB over the
// noise outdoors with a standard deviation of 8; all as often as they are looked for.
func TestOvers(t *testing.T) {
	w := newWorld(3, defaultStart, 52, 9)
	o, again := newOvers(), newOvers()
	var on, level, square float64
	const times = 4000
	for i := range times {
		at := 17.3 * float64(i)
		found := o.find(w, 10.1e6, 10.15e6, at)
		on += float64(len(found))
		for _, s := range found {
			noise := fieldOf(atmospheric(s.frequency, w.daylight(at)), s.frequency) + fieldOf(residential(s.frequency), s.frequency)
			over := toDB(w.field(&s, at) / (noise * 2400))
			level, square = level+over, square+over*over
			if s.frequency < 10.1e6 || s.frequency+2700 > 10.15e6+300 {
				t.Fatalf("one at %.0f Hz", s.frequency)
			}
		}
		if i%100 == 0 {
			again.find(w, 14e6, 14.35e6, at)
			if same := again.find(w, 10.1e6, 10.15e6, at); len(same) != len(found) || len(same) > 0 && same[0] != found[0] {
				t.Fatalf("at %v s it depends on what was looked for before", at)
			}
		}
	}
	mean := level / on
	// The number on has a variance of 4, and 8 s of 17 are in common: ± 0.04; levels scatter by 8.
	within(t, "transmissions on", on/times, 4, 0.15)
	within(t, "their level, dB", mean, 12, 0.3)
	within(t, "its standard deviation, dB", math.Sqrt(square/on-mean*mean), 8, 0.25)
	if found := o.find(w, 9.4e6, 9.9e6, 0); len(found) != 0 {
		t.Errorf("%d transmissions in a broadcasting band", len(found))
	}
}

// A transmission is a voice in the upper sideband, as strong as its field says.
func TestVoice(t *testing.T) {
	h := listening{setup: survey.Setup{Antenna: "whip", Placement: "loft"}, gain: 29.7, noOvers: true}.open(t)
	s := lineless(10.13e6, 40).stations[0]
	s.voice = true
	h.world.stations, h.world.supplies = []station{s}, nil
	if _, err := h.Tune(context.Background(), 10.02e6); err != nil {
		t.Fatal(err)
	}
	read(t, h, staleSamples(h)+1)
	rate := float64(h.info.SampleRate)
	p := spectrumOf(samplesOf(read(t, h, int(4*rate))), 16384, rate, 10.02e6*(1+clockError))
	noise := p.mean(10.14e6, 10.2e6, nil)
	powerIn := func(low, high float64) float64 { return p.power(10.13e6+low, 10.13e6+high) - noise*(high-low) }
	voice := powerIn(200, 2800)
	want := h.world.carrier(h.view.at, &h.world.stations[0], 0) / fullScalePower(29.7) * droop(110e3/rate)
	// Its loudness sways at 2 to 6 Hz: four seconds hold it to some tenths of a dB.
	within(t, "level, dBFS", toDB(voice), toDB(want), 0.7)
	if beside := powerIn(-4000, -100) + powerIn(3100, 6000); math.Abs(beside) > 0.003*voice {
		t.Errorf("%.4f of it stands beside its sideband", beside/voice)
	}
}

// Voices reach two whips alike but for what the walls take; a loop hears those from its sides worse, from all round
// half as well.
func TestAdvantageOfVoices(t *testing.T) {
	h := listening{Options: Options{Start: at(18, 0)}}.open(t)
	outdoors, inside, turned := setupOf("whip", "loft", -1), setupOf("whip", "study", -1), setupOf("loop", "loft", 40)
	const low, high = 10.1e6, 10.15e6
	floor := func(s survey.Setup) float64 {
		d, err := h.Truth().Density(s, (low+high)/2, 80, at(18, 10)) // the converter adds nothing
		if err != nil {
			t.Fatal(err)
		}
		return float64(d)
	}
	walls, n, err := h.Truth().Advantage(outdoors, inside, low, high, at(18, 0), at(18, 20))
	if err != nil || n != 24*8 {
		t.Fatalf("%d voices, %v", n, err)
	}
	// 4.5 dB of brick, 1 of tiles; floors over the band are as in its middle to 0.1 dB.
	within(t, "whip in the loft", float64(walls), 3.5+floor(inside)-floor(outdoors), 0.1)
	signals, _, err := h.Truth().Advantage(turned, outdoors, low, high, at(18, 0), at(18, 20))
	if err != nil {
		t.Fatal(err)
	}
	// The mean of 10·log10(cos²) over all azimuths is −6 dB; what turns its polarisation and what the house
	// reradiates fill the null, and lift flat rays to where a whip stands, which hears steep ones worse.
	change := float64(signals) + floor(turned) - floor(outdoors) - (antennas[whip].factor - antennas[loop].factor)
	if change < -6 || change > 0 {
		t.Errorf("the loop hears voices by %.1f dB, want −6 to 0", change)
	}
}
