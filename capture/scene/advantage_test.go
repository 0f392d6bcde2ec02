package scene

import (
	"context"
	"math"
	"testing"
	"time"

	"nightfloor/survey"
)

// What Truth says of two setups is what their samples say: rounds of one reading
// each, in turn, measured by plain transforms, SNR compared within rounds.
//
// Fading moves a station's difference by some 7 dB from round to round
// (PHYSICS.md 9.1): over 24 rounds and some ten stations the standard error of the
// mean is 7/√240 = 0.45 dB. Tolerance: 1.5 dB.
func TestSamplesBearOutTheAdvantage(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	const low, high, centre = 9.4e6, 9.7e6, 9.39e6
	ctx := context.Background()
	h := listen(t, listening{Options: Options{Start: at(18, 0)}, seed: seedOf(t), setup: setupOf("whip", "study", -1), gain: 29.7}, centre)
	setups := []survey.Setup{setupOf("whip", "study", -1), setupOf("loop", "loft", 40)}
	gains := []survey.DB{29.7, 33.8}
	sums, n := map[string]float64{}, map[string]float64{}
	const rounds = 24
	for round := range rounds {
		var snr [2]map[string]float64
		for k := range setups {
			k := (k + round) % 2
			if _, err := h.Change(ctx, setups[k]); err != nil {
				t.Fatal(err)
			}
			if _, err := h.SetGain(ctx, gains[k]); err != nil {
				t.Fatal(err)
			}
			read(t, h, staleSamples(h)+1)
			snr[k] = plainSNRs(t, h, low, high)
		}
		for name, reference := range snr[0] {
			sums[name] += snr[1][name] - reference
			n[name]++
		}
		if err := h.Sleep(ctx, 5*time.Minute); err != nil {
			t.Fatal(err)
		}
	}
	var got, stations float64
	for name, sum := range sums {
		if n[name] == rounds {
			got += sum / rounds
			stations++
		}
	}
	want, counted, err := h.Truth().Advantage(setups[1], setups[0], low, high, at(18, 0), h.Now())
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("measured %+.2f dB over %.0f stations, truth %+.2f dB over %d", got/stations, stations, float64(want), counted)
	within(t, "advantage, dB", got/stations, float64(want), 1.5)
}

// plainSNRs reads a quarter of a second and gives the SNR, dB, of each station on the
// air that can be heard: its line, noise taken off, over the floor of what is free
// of stations and comb lines.
func plainSNRs(t *testing.T, h *House, low, high float64) map[string]float64 {
	t.Helper()
	now := h.Now()
	rate, lo := float64(h.info.SampleRate), h.view.centre*(1+clockError)
	p := spectrumOf(samplesOf(read(t, h, 1<<18)), 1<<16, rate, lo)
	stations := h.Truth().Stations(survey.Hz(low), survey.Hz(high), now)
	offCombs := h.offCombs()
	floor := p.mean(low, high, func(f float64) bool {
		for _, s := range stations {
			if math.Abs(f-float64(s.Frequency)) < 6e3 {
				return false
			}
		}
		return offCombs(f)
	})
	out := map[string]float64{}
	for _, s := range stations {
		snr, ok, err := h.Truth().SNR(setupOf("whip", "loft", -1), s.Name, now)
		if err != nil {
			t.Fatal(err)
		}
		if !ok || snr < 3 {
			continue
		}
		f := float64(s.Frequency)
		line := p.power(f-40, f+40) - 80*floor
		out[s.Name] = toDB(max(line, floor) / (floor * snrBandwidth)) // a deep fade is bounded
	}
	return out
}
