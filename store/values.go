package store

import (
	"database/sql/driver"
	"math"
	"strings"
	"time"
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
