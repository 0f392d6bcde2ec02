package calibration

import (
	"fmt"
	"strings"
	"time"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// SchemaList names the layout of a List.
const SchemaList = "nightfloor/calibrations/1"

// A List is the calibrations of a database as JSON, oldest first.
type List struct {
	Schema       string   `json:"schema"`
	Calibrations []Stored `json:"calibrations"`
}

// Stored is one of them.
type Stored struct {
	ID        int64              `json:"calibration"`
	Kind      string             `json:"kind"`
	Receiver  string             `json:"receiver"`
	At        time.Time          `json:"at"`
	Note      string             `json:"note"`
	Figures   int                `json:"figures"`
	Linearity []survey.Linearity `json:"linearity"` // empty, never nil
}

// ListOf lists calibrations.
func ListOf(all []survey.Calibration) List {
	list := List{SchemaList, []Stored{}}
	for _, k := range all {
		list.Calibrations = append(list.Calibrations, Stored{k.ID, k.Kind, k.Receiver, k.At, k.Note, figures(k), append([]survey.Linearity{}, k.Linearity...)})
	}
	return list
}

// ListText lists calibrations for a person to read.
func ListText(all []survey.Calibration, zone *time.Location) string {
	if len(all) == 0 {
		return "no calibration is stored\n"
	}
	var b strings.Builder
	for _, k := range all {
		fmt.Fprintf(&b, "%d  %s, %s, %s\n", k.ID, k.Kind, k.At.In(zone).Format("2 Jan 2006 15:04 MST"), figuresText(k))
		fmt.Fprintf(&b, "   of %s\n", wording.Printable(k.Receiver))
		if k.Note != "" {
			fmt.Fprintf(&b, "   %s\n", wording.Printable(k.Note))
		}
	}
	return b.String()
}

// figures counts what a calibration found.
func figures(k survey.Calibration) int {
	n := len(k.Noise) + len(k.Levels) + len(k.Lines) + len(k.Linearity)
	if k.Clock != nil {
		n++
	}
	return n
}

func figuresText(k survey.Calibration) string {
	switch n := figures(k); {
	case k.Kind == survey.CalibrateLines && n == 0:
		return "no line"
	case k.Clock != nil:
		ppm := survey.DB(k.Clock.PPM)
		return wording.Signed(&ppm, 2) + " ppm"
	case n == 1:
		return "1 figure"
	default:
		return fmt.Sprintf("%d figures", n)
	}
}
