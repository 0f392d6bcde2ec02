package dsp

import (
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
)

// benchmarkMeter measures half a second of a broadcast band again and again.
func benchmarkMeter(b *testing.B, rate float64, seek *interference.Options) {
	n := int(rate / 2)
	iq := dsptest.U8(nil, dsptest.Broadcast(1, rate, sceneCentre, 9.4e6, 9.9e6, 0.6).Samples(n))
	bands := []spectrum.Band{{Low: 9.4e6, High: 9.9e6}}
	m, err := NewMeter(MeterOptions{Rate: rate, Centre: sceneCentre, Bands: bands, Samples: int64(n), Seek: seek})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := m.Retune(sceneCentre, bands); err != nil {
			b.Fatal(err)
		}
		m.WriteU8(iq)
		if _, err := m.Finish(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds()/1e6, "MS/s")
}

func BenchmarkMeter2M4(b *testing.B)     { benchmarkMeter(b, 2.4e6, nil) }
func BenchmarkMeter2M4Seek(b *testing.B) { benchmarkMeter(b, 2.4e6, &interference.Options{}) }
func BenchmarkMeter1M(b *testing.B)      { benchmarkMeter(b, 1.024e6, nil) }
