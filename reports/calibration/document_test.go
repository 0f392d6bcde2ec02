package calibration

import (
	"testing"

	"nightfloor/reports/reporttest"
)

// A calibration is written as JSON whatever its figures are.
func TestInfiniteFigures(t *testing.T) {
	reporttest.CheckInfinite(t, Document{}, List{})
}
