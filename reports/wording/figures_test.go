package wording

import (
	"math"
	"testing"

	"nightfloor/survey"
)

// What is infinite or no number is a dash.
func TestNoFigure(t *testing.T) {
	for _, x := range []float64{math.Inf(1), math.Inf(-1), math.NaN()} {
		db := survey.DB(x)
		if a, b, c := Number(x, 1), Signed(&db, 1), Figure(&db, 1); a != None || b != None || c != None {
			t.Errorf("%v: %q, %q, %q", x, a, b, c)
		}
	}
}
