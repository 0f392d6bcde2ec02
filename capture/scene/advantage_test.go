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

// An advantage is of all the time that is asked for, as a ranking is of all its rounds: a station that is on the
// air for two hours with the lamp driver, or for two without it, stands for its direction in the six others, too.
// The lamp driver raises the floor through the whip in the study, beside it, and hardly that in the loft.
func TestAdvantageIsOfAllTheTime(t *testing.T) {
	loft, study := setupOf("whip", "loft", -1), setupOf("whip", "study", -1)
	const low, high = 5.9e6, 6.2e6
	advantage := func(onAir hours, from, to time.Time) float64 {
		h := listening{Options: Options{Start: at(18, 0)}}.open(t)
		h.world.stations, h.world.supplies = lineless(6.07e6, 40).stations, houseSupplies()[:1]
		h.world.stations[0].hours = onAir
		db, n, err := h.Truth().Advantage(loft, study, low, high, from, to)
		if err != nil || n != 1 {
			t.Fatalf("%d stations, %v", n, err)
		}
		return float64(db)
	}
	always, off := hours{0, 86400}, at(22, 50)
	with, without := advantage(always, at(18, 0), off), advantage(always, off, at(26, 0))
	if with < without+5 {
		t.Errorf("%.1f dB with the lamp driver, %.1f without: it tells nothing", with, without)
	}
	want := (with*off.Sub(at(18, 0)).Hours() + without*at(26, 0).Sub(off).Hours()) / 8
	for _, onAir := range []hours{always, {clock(18, 0), clock(20, 0)}, {clock(0, 0), clock(2, 0)}} {
		within(t, "advantage from 18:00 to 02:00, dB", advantage(onAir, at(18, 0), at(26, 0)), want, 0.1)
	}
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
