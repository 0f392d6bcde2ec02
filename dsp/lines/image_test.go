package lines

import "testing"

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
