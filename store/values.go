package store

import (
	"database/sql/driver"
	"math"
	"strings"
	"time"

	"nightfloor/survey"
)

// How figures and times stand in columns, and back.

// real gives a figure as a column takes it: NULL stands for NaN, which SQLite
// has not.
func real(x float64) any {
	if math.IsNaN(x) {
		return nil
	}
	return x
}

// milliseconds gives a time as Unix milliseconds, NULL for the zero time.
func milliseconds(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixMilli()
}

// bit gives a truth as 0 or 1.
func bit(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// degrees gives a bearing as a column takes it, NULL where there is none.
func degrees(b survey.Bearing) any {
	if !b.Known {
		return nil
	}
	return b.Deg
}

// ratio gives a ratio as a column takes it, NULL where there is none.
func ratio(x *survey.DB) any {
	if x == nil {
		return nil
	}
	return float64(*x)
}

// float reads a REAL column; NULL is NaN.
func float(v driver.Value) float64 {
	x, ok := v.(float64)
	if !ok {
		return math.NaN()
	}
	return x
}

// orZero reads a REAL column; NULL is 0.
func orZero(v driver.Value) float64 {
	x, _ := v.(float64)
	return x
}

// integer reads an INTEGER column; NULL is 0.
func integer(v driver.Value) int64 {
	n, _ := v.(int64)
	return n
}

// text reads a TEXT column; NULL is "".
func text(v driver.Value) string {
	s, _ := v.(string)
	return s
}

// instant reads a column of Unix milliseconds; NULL is the zero time.
func instant(v driver.Value) time.Time {
	ms, ok := v.(int64)
	if !ok {
		return time.Time{}
	}
	return time.UnixMilli(ms).UTC()
}

// splitFlags reads flags as column flags has them, joined by commas.
func splitFlags(joined string) []string {
	if joined == "" {
		return nil
	}
	return strings.Split(joined, ",")
}

// bearingOf reads a bearing; NULL is none.
func bearingOf(v driver.Value) (b survey.Bearing) {
	b.Deg, b.Known = v.(float64)
	return b
}

// setupOf reads antenna, placement and bearing_deg.
func setupOf(row []driver.Value) survey.Setup {
	return survey.Setup{Antenna: text(row[0]), Placement: text(row[1]), Bearing: bearingOf(row[2])}
}

// segmentOf reads name, low_hz and high_hz.
func segmentOf(row []driver.Value) survey.Segment {
	return survey.Segment{Name: text(row[0]), Low: survey.Hz(float(row[1])), High: survey.Hz(float(row[2]))}
}

// ratioOf reads a REAL column; NULL is nil.
func ratioOf(v driver.Value) *survey.DB {
	x, ok := v.(float64)
	if !ok {
		return nil
	}
	return new(survey.DB(x))
}
