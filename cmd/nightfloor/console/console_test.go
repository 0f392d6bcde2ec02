package console

import (
	"bytes"
	"testing"
)

// COLUMNS says how wide lines are, where it is a number that can be; 60 is the least.
func TestWidth(t *testing.T) {
	for columns, want := range map[string]int{"": 100, "80": 80, "120": 120, "10": 60, "0": 100, "-80": 100, "wide": 100} {
		t.Setenv("COLUMNS", columns)
		if got := New(nil, &bytes.Buffer{}, nil).Width(); got != want {
			t.Errorf("COLUMNS=%q: %d, want %d", columns, got, want)
		}
	}
}
