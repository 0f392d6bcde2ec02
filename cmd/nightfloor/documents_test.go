package main

import (
	"testing"

	"nightfloor/reports/reporttest"
)

// The commands' own documents are written as JSON whatever their figures are.
func TestInfiniteFigures(t *testing.T) {
	reporttest.CheckInfinite(t, summaryDocument{}, importDocument{}, receiversDocument{})
}
