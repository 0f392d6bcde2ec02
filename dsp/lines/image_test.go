package lines

import (
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// What is nothing but an image: weak beside the line opposite, following it, no stronger
// than twice what the imbalance gives, and gone with the imbalance's image.
func TestIsImage(t *testing.T) {
	known, bound := Imbalance{Gamma: 0.25, Sigma: 1e-4}, Imbalance{Gamma: 0, Sigma: 1}
	for _, test := range []struct {
		name  string
		line  mirrorImage
		b     Imbalance
		image bool
	}{
		{"an image", mirrorImage{coherence: 0.99, ratio: 0.0625, left: 0.01}, known, true},
		{"half of it in noise", mirrorImage{coherence: 0.78, ratio: 0.0625, left: 0.22}, known, true},
		{"not following", mirrorImage{coherence: 0.72, ratio: 0.0625, left: 0.22}, known, false},
		{"more is left", mirrorImage{coherence: 0.99, ratio: 0.0625, left: 0.28}, known, false},
		{"strong, imbalance unknown", mirrorImage{coherence: 0.99, ratio: 0.11, left: 1}, bound, false},
		{"weak, imbalance unknown", mirrorImage{coherence: 0.99, ratio: 0.09, left: 1}, bound, true},
		{"1.9 times the image", mirrorImage{coherence: 0.99, ratio: 0.019, left: 0.1}, Imbalance{Gamma: 0.1, Sigma: 1e-4}, true},
		{"2.1 times the image", mirrorImage{coherence: 0.99, ratio: 0.021, left: 0.1}, Imbalance{Gamma: 0.1, Sigma: 1e-4}, false},
	} {
		if got := test.line.isImage(test.b); got != test.image {
			t.Errorf("%s: image %v, want %v", test.name, got, test.image)
		}
	}
}

// Eight bins from the centre a station 4 Hz from the place of an image, and as strong as one, is
// told by its phase, which turns: within 4 bins, where columns are shared, power alone would tell.
func TestStationNearCentreIsNoImage(t *testing.T) {
	const rate, n, bin = 75e3, 1024, 75e3 / 1024.0
	signal := dsptest.New(5, rate, 0).Noise(1e-11).Tone(8*bin, -20, 0).Tone(-8*bin+4, -60, 1)
	s := hannSpectrogram(signal.Samples(n/2*73), rate, n)
	w := Tracker{mirror: Imbalance{Gamma: 0.01, Sigma: 1e-5}}
	w.finder.zoom.prepare(s.Frames)
	column := s.Column(-8*bin + 4)
	lines := []chunkLine{
		{column: s.Mirror(column), offset: 8 * bin, zoomedLine: zoomedLine{power: 1e-2}},
		{column: column, offset: -8*bin + 4, zoomedLine: zoomedLine{power: 1e-6}},
	}
	power, gain := make([]float64, s.Bins), make([]float64, s.Bins)
	for b := range gain {
		gain[b] = 1
	}
	w.markImages(s, lines, power, gain)
	if lines[1].image {
		t.Error("a station is taken for an image")
	}
}

// Within 4 bins of the centre a line is an image where it is no stronger than twice what the
// imbalance gives, here −40 dB, of the line opposite.
func TestImageNearCentre(t *testing.T) {
	s := spectrum.NewSpectrogram(75e3, 1024, 1)
	bin := s.BinWidth()
	w := Tracker{mirror: Imbalance{Gamma: 0.01, Sigma: 1e-5}}
	for _, test := range []struct {
		power, away float64 // of the weaker line, its distance from the image's place in Hz
		image       bool
	}{{1.9e-4, 4, true}, {2.1e-4, 4, false}, {1.9e-4, 6, false}} {
		lines := []chunkLine{
			{offset: 2 * bin, zoomedLine: zoomedLine{power: 1}},
			{offset: -2*bin + test.away, zoomedLine: zoomedLine{power: test.power}},
		}
		w.markImages(s, lines, nil, nil)
		if lines[0].image || lines[1].image != test.image {
			t.Errorf("%+v: image %v, and of the stronger line %v", test, lines[1].image, lines[0].image)
		}
	}
}
