package console

import (
	"bytes"
	"strings"
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

// A note and an error stay one line in a narrow terminal, so that a command in them can be copied.
func TestNotesAreOneLine(t *testing.T) {
	t.Setenv("COLUMNS", "80")
	var out bytes.Buffer
	c := New(nil, nil, &out)
	long := strings.Repeat("a word ", 40) + "end"
	c.Note("%s", long)
	c.Fail(long)
	if want := strings.Repeat("nightfloor: "+long+"\n", 2); out.String() != want {
		t.Errorf("%q, want %q", out.String(), want)
	}
}

// A shell takes a quoted word for the word that it was.
func TestQuoted(t *testing.T) {
	for word, want := range map[string]string{
		"night.db": "night.db", `C:\nights\1.db`: `C:\nights\1.db`, "Nächte/1.db": "Nächte/1.db",
		"first night": "'first night'", "scene:house?seed=1": "'scene:house?seed=1'", "": "''",
		"it's $(here)": `'it'\''s $(here)'`, "~/a;b": "'~/a;b'",
	} {
		if got := Quoted(word); got != want {
			t.Errorf("%s: %s, want %s", word, got, want)
		}
	}
}
