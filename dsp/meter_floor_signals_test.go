package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// A hump 100 kHz wide at half height is floor and counts; blocks of data 10 and
// 40 kHz wide are signals and do not.
func TestHumpsAreFloorBlocksAreSignals(t *testing.T) {
	hump := addHump(dsptest.New(1, 1.024e6, sceneCentre).Noise(3e-10), 9e-10, 9.6e6, 200e3)
	b := measureBand(t, hump, 0.5, sceneBand)
	truth := hump.Density(sceneBand.Low, sceneBand.High, dsptest.StepU8)
	// One sigma is 0.01 dB; the hump alone is 2.0 dB of the mean.
	if e := 10 * math.Log10(b.Floor.Density/truth); math.Abs(e) > 0.05 {
		t.Errorf("hump: floor %.3f dB off", e)
	}
	if b.Occupancy > 0.02 {
		t.Errorf("hump: occupancy %.3f, want 0", b.Occupancy)
	}
	blocks := dsptest.New(2, 1.024e6, sceneCentre).Noise(3e-10).Data(9.45e6, 10e3, -45).Data(9.58e6, 40e3, -45).Data(9.75e6, 10e3, -52)
	b = measureBand(t, blocks, 0.5, sceneBand)
	truth = blocks.Density(sceneBand.Low, sceneBand.High, dsptest.StepU8)
	if e := 10 * math.Log10(b.Floor.Density/truth); math.Abs(e) > 0.05 {
		t.Errorf("blocks: floor %.3f dB off", e)
	}
	// 60 kHz of 500 and the room that is left at their edges.
	if b.Occupancy < 0.12 || b.Occupancy > 0.20 {
		t.Errorf("blocks: occupancy %.3f, want 0.12 and a little more", b.Occupancy)
	}
	if len(b.Carriers) != 0 {
		t.Errorf("blocks: %d carriers", len(b.Carriers))
	}
}

// A segment that one transmission fills has no floor, and says so.
func TestCrowdedSegment(t *testing.T) {
	s := dsptest.New(3, 1.024e6, sceneCentre).Noise(3e-10).Data(9.5e6, 40e3, -45)
	b := measureBand(t, s, 0.5, spectrum.Band{Low: 9.49e6, High: 9.51e6})
	if b.Floor != nil || !b.Crowded {
		t.Errorf("floor %+v, crowded %v, occupancy %.3f", b.Floor, b.Crowded, b.Occupancy)
	}
}

// On a raster without a free slot the gaps between the sidebands tell the
// floor; stations at exactly opposite offsets from the centre are not each
// other's images.
func TestFullRaster(t *testing.T) {
	dsptest.SkipIfShort(t)
	s := dsptest.New(4, 1.024e6, sceneCentre).Noise(1e-10)
	for k := range 50 {
		s.Station(dsptest.Station{Hz: 9.405e6 + float64(k)*10e3, Level: -40 - float64(k*7%30), Depth: 0.3})
	}
	b := measureBand(t, s, 0.5, sceneBand)
	if len(b.Carriers) != 50 {
		t.Errorf("%d carriers, want 50", len(b.Carriers))
	}
	truth := s.Density(sceneBand.Low, sceneBand.High, dsptest.StepU8)
	if e := 10 * math.Log10(b.Floor.Density/truth); math.Abs(e) > 0.3 {
		t.Errorf("floor %.3f dB off", e)
	}
}
