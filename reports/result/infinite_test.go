package result_test

import (
	"bytes"
	"math"
	"testing"

	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// Every document of a report, and of measure, is written whatever its figures are.
func TestInfiniteFigures(t *testing.T) {
	reporttest.CheckInfinite(t, result.Rank{}, result.FloorTable{}, result.Bearings{}, result.NoiseSources{}, result.Quality{}, result.Measure{})
}

// What is written stays as it was.
func TestWriteJSONLeavesFigures(t *testing.T) {
	x := math.Inf(1)
	answer := map[string][]*float64{"a": {&x, nil}}
	var text bytes.Buffer
	if err := result.WriteJSON(&text, answer); err != nil || text.String() != "{\n  \"a\": [\n    null,\n    null\n  ]\n}\n" || !math.IsInf(x, 1) || answer["a"][0] != &x {
		t.Errorf("%s, %v, %v", text.String(), err, x)
	}
}
