// Package doubt holds what speaks against results: each doubt is a value, its Kind with the
// setups and figures of which it speaks, and its one English sentence is written here.
//
// Packages that compute make doubts. Tables, CSV and JSON print them as they are; the page names
// the setups in its own way (Sentence) and explains some kinds. Nobody looks into the words.
package doubt

import (
	"fmt"
	"time"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A Kind is what is doubted: its sentence, with a verb for each figure.
type Kind string

// A Doubt is what speaks against a result. The zero Doubt says nothing.
type Doubt struct {
	Kind    Kind
	About   []survey.Setup // named before the sentence; empty: it speaks of the whole
	Segment string         // named with them; "": none
	// Figures are those of the sentence, in its order: numbers, names, Counts, setups,
	// durations, and doubts that give a reason.
	Figures []any
}

// A Count is so many of something: 1 round, 2 rounds.
type Count struct {
	N    int
	Noun string
}

// New makes a doubt about the whole.
func New(k Kind, figures ...any) Doubt { return Doubt{Kind: k, Figures: figures} }

// MarshalText gives the sentence: that is what JSON holds.
func (d Doubt) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText takes a sentence from JSON: it says the same, but its kind is not known.
func (d *Doubt) UnmarshalText(text []byte) error {
	*d = New("%s", string(text))
	return nil
}

// String gives the sentence.
func (d Doubt) String() string {
	figures := make([]any, len(d.Figures))
	for i, f := range d.Figures {
		switch f := f.(type) {
		case Doubt:
			figures[i] = f.String()
		case Count:
			figures[i] = survey.Count(f.N, f.Noun)
		case survey.Setup:
			figures[i] = f.Short(wording.SentenceRoom)
		case time.Duration:
			figures[i] = wording.Duration(f)
		case string:
			figures[i] = wording.Printable(f)
		default:
			figures[i] = f
		}
	}
	text := fmt.Sprintf(string(d.Kind), figures...)
	if len(d.About) == 0 {
		return text
	}
	names := make([]string, len(d.About))
	for i, s := range d.About {
		names[i] = s.Short(wording.SentenceRoom)
	}
	who := wording.List(names)
	if d.Segment != "" {
		who += " on " + wording.Printable(d.Segment)
	}
	return who + ": " + text
}
