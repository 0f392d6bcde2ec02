package pluglog

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"nightfloor/survey"
)

// columns are the columns of a log, from 0; −1: there is none.
type columns struct {
	time, device, state, power int
	unit                       float64 // W of one of the power's
}

// stateOf are the words for on and off.
var stateOf = map[string]int8{"on": 1, "1": 1, "true": 1, "ein": 1, "off": -1, "0": -1, "false": -1, "aus": -1}

// Words by which a header names its columns.
var (
	timeWords       = []string{"time", "date", "datetime", "timestamp", "zeit", "datum", "zeitpunkt", "zeitstempel"}
	stateWords      = []string{"state", "status", "switch", "relay", "output", "on", "zustand", "schaltzustand"}
	deviceWords     = []string{"device", "name", "plug", "socket", "appliance", "gerät", "geraet", "steckdose"}
	powerWords      = []string{"power", "leistung"}
	otherQuantities = []string{"wh", "kwh", "va", "var", "energy", "factor", "hour", "hours"} // of what is no power in watts
)

// columnsNamed finds the columns by their headings.
func columnsNamed(header []string) (columns, error) {
	c := columns{-1, -1, -1, -1, 1}
	for i, name := range header {
		column, unit := c.named(name)
		if column == nil {
			continue
		}
		if *column >= 0 {
			return c, fmt.Errorf("columns %q and %q could both be meant; rename one or leave it out", header[*column], name)
		}
		*column = i
		if column == &c.power {
			c.unit = unit
		}
	}
	switch {
	case c.time < 0:
		return c, fmt.Errorf("no time in this line, and as a header it names no column %s; name one so", strings.Join(timeWords[:4], ", "))
	case c.state < 0 && c.power < 0:
		return c, errors.New("no column is called state, status or switch, nor power or watt; name one so")
	}
	return c, nil
}

// named tells which column a heading means, nil for none, and the unit in W of a power.
func (c *columns) named(name string) (column *int, unit float64) {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	has := func(list []string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(list, w) })
	}
	switch {
	case has(otherQuantities):
		return nil, 0
	case has([]string{"kw"}):
		return &c.power, 1000
	case has([]string{"w"}) || slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, "watt") }):
		return &c.power, 1
	case has(timeWords):
		return &c.time, 0
	case has(stateWords):
		return &c.state, 0
	case has(powerWords):
		return &c.power, 1
	case has(deviceWords):
		return &c.device, 0
	}
	return nil, 0
}

// columnsLike finds the columns of a log without header by its first line.
func columnsLike(record []string, isTime func(string) bool) (columns, error) {
	c := columns{slices.IndexFunc(record, isTime), -1, -1, -1, 1}
	for i, text := range record {
		if i == c.time {
			continue
		}
		_, isState := stateOf[lowerTrimmed(text)]
		_, isNumber := logNumber(text)
		switch {
		case isState && c.state < 0:
			c.state = i
		case isNumber && c.power < 0:
			c.power = i
		case !isState && !isNumber && c.device < 0 && strings.TrimSpace(text) != "":
			c.device = i
		}
	}
	if c.state < 0 && c.power < 0 {
		return c, errors.New("beside the time there is no state (on or off, 1 or 0) and no power; add one, or a header that names the columns")
	}
	return c, nil
}

// level tells whether a line says on (1), off (−1) or neither (0).
func (c columns) level(record []string, threshold float64) (int8, error) {
	if c.state >= 0 {
		level, ok := stateOf[lowerTrimmed(record[c.state])]
		if !ok {
			return 0, fmt.Errorf("state %.40q is not on or off, 1 or 0, true or false; where it is a power in watts, let a header say so", record[c.state])
		}
		return level, nil
	}
	power, ok := logNumber(record[c.power])
	switch power *= c.unit; {
	case !ok:
		return 0, fmt.Errorf("power %.40q is no number of watts", record[c.power])
	case power > threshold:
		return 1, nil
	case power < threshold:
		return -1, nil
	}
	return 0, nil
}

func lowerTrimmed(text string) string { return strings.ToLower(strings.TrimSpace(text)) }

// logTime reads a time of a log: what ParseMoment reads, or Unix time in seconds or
// milliseconds. Those lie apart: until the year 5138 seconds stay under 1e11, which
// in milliseconds was in 1973.
func logTime(text string, zone *time.Location) (at, again time.Time, err error) {
	const border, least, most = 1e11, 1e8, 1e14
	n, ok := logNumber(text)
	switch {
	case !ok:
		return survey.ParseMoment(text, zone)
	case n < least || n >= most:
		return at, again, fmt.Errorf("%q is no Unix time in seconds or milliseconds", text)
	case n < border:
		n *= 1000
	}
	return time.UnixMilli(int64(math.Round(n))).UTC(), again, nil
}

// logNumber reads a plain decimal number, with a point or a comma.
func logNumber(text string) (x float64, ok bool) {
	text = strings.TrimSpace(text)
	if text == "" || strings.Trim(text, "0123456789+-.,eE") != "" {
		return 0, false // nor inf, nan and 0x10, which ParseFloat knows
	}
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil
}
