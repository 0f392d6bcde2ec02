package scene

import (
	"context"
	"testing"

	"nightfloor/survey"
)

// BenchmarkRead times the making of samples in a crowded band, in the evening.
func BenchmarkRead(b *testing.B) {
	for _, centre := range []survey.Hz{5.91e6, 9.61e6} {
		b.Run(centre.String(), func(b *testing.B) {
			h, err := Open("scene:house?seed=1", Options{})
			if err != nil {
				b.Fatal(err)
			}
			ctx := context.Background()
			if _, err := h.Change(ctx, setupOf("whip", "study", -1)); err != nil {
				b.Fatal(err)
			}
			if _, err := h.SetGain(ctx, 38.6); err != nil {
				b.Fatal(err)
			}
			if _, err := h.Tune(ctx, centre); err != nil {
				b.Fatal(err)
			}
			buf := make([]byte, 2*512000)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := h.Read(ctx, buf); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/512000, "ns/sample")
		})
	}
}
