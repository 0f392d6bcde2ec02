package pluglog

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"nightfloor/survey"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
	"unique"
)

// A Switching is a device that was switched on or off.
type Switching struct {
	At     time.Time // UTC, to the millisecond
	Device string
	On     bool
}

// String writes it as an event's text: "kettle on".
func (s Switching) String() string {
	if s.On {
		return s.Device + " on"
	}
	return s.Device + " off"
}

// A Log says how a log of a metering plug is to be read.
type Log struct {
	Device    string         // whose log it is; "": a column names devices
	Threshold float64        // W, over which a device counts as on
	Zone      *time.Location // of times that name none
}

// What a log may hold.
const (
	mostLines      = 1_000_000
	mostMistakes   = 100      // that are named one by one
	mostLineBytes  = 64 << 10 // bytes
	mostNameLength = 100      // characters
)

// A point is a line of a log in 24 bytes, so that the longest log takes little memory.
type point struct {
	at     int64 // Unix milliseconds
	device unique.Handle[string]
	again  int32 // milliseconds until clocks showed that time a second time; 0: they did not
	level  int8  // 1: on, −1: off, 0: on the threshold, which changes nothing
}

// Read reads comma-separated values (RFC 4180; semicolon or tab in place of the
// comma), in any order of time, and gives the switchings in order of time. A line that
// repeats what was said of the device is no switching. A device's first state is one; its
// first power is not, since it tells only how the device was found. Of a time that clocks
// showed twice the order of the lines tells which it was; twice counts those of which it does
// not, which were taken as the first. The error joins every mistake with its line; there are no switchings then.
func (l Log) Read(log io.Reader) (found []Switching, twice int, err error) {
	r := reader{log: l}
	r.readAll(bufio.NewReader(log))
	if len(r.mistakes) > 0 {
		if r.unnamed > 0 {
			r.mistakes = append(r.mistakes, fmt.Errorf("and %s more", survey.Count(r.unnamed, "mistake")))
		}
		return nil, 0, errors.Join(r.mistakes...)
	}
	found = r.switchings()
	return found, r.twice, nil
}

// A reader is Read at work.
type reader struct {
	log      Log
	columns  columns
	points   []point
	twice    int
	mistakes []error
	unnamed  int // mistakes beyond mostMistakes
}

func (r *reader) mistake(line int, format string, args ...any) {
	if len(r.mistakes) >= mostMistakes {
		r.unnamed++
		return
	}
	r.mistakes = append(r.mistakes, fmt.Errorf("line %d: %w", line, fmt.Errorf(format, args...)))
}

// readAll takes the log line by line.
func (r *reader) readAll(log *bufio.Reader) {
	if mark, _ := log.Peek(3); string(mark) == "\uFEFF" {
		log.Discard(3) // was just seen
	}
	lines := csv.NewReader(&lineLimit{in: log})
	lines.Comma, lines.ReuseRecord = delimiterOf(log), true
	lines.TrimLeadingSpace = lines.Comma != '\t' // which is space itself
	line := 0
	for n := 0; ; n++ {
		record, err := lines.Read()
		var broken *csv.ParseError
		switch {
		case err == io.EOF:
			if n == 0 {
				r.mistake(1, "the log is empty; a line needs a time and a state or a power")
			}
			return
		case errors.As(err, &broken) && errors.Is(err, csv.ErrFieldCount):
			r.mistake(broken.Line, "%s, not as many as in the first line; make them alike", survey.Count(len(record), "column"))
			continue
		case errors.As(err, &broken):
			r.mistake(broken.Line, "%w; quotes stand around a whole value, and are doubled within", broken.Err)
			continue
		case err != nil:
			r.mistake(line+1, "%w", err)
			return
		}
		line, _ = lines.FieldPos(0)
		if n >= mostLines {
			r.mistake(line, "more than %d lines; split the log", mostLines)
			return
		}
		if n == 0 {
			header, ok := r.findColumns(line, record)
			if !ok {
				return
			}
			if header {
				continue
			}
		}
		r.addLine(line, record)
	}
}

// findColumns finds the columns by the first line, and tells whether that is a
// header, and whether they were found.
func (r *reader) findColumns(line int, record []string) (header, ok bool) {
	var err error
	if header = !slices.ContainsFunc(record, r.isTime); header {
		r.columns, err = columnsNamed(record)
	} else {
		r.columns, err = columnsLike(record, r.isTime)
	}
	switch {
	case err != nil:
	case r.columns.device < 0 && r.log.Device == "":
		err = errors.New("no column names the device; name it with --device")
	case r.columns.device >= 0 && r.log.Device != "":
		err = fmt.Errorf("column %d names devices; leave --device out, or let a header name the columns", r.columns.device+1)
	}
	if err != nil {
		r.mistake(line, "%w", err)
	}
	return header, err == nil
}

func (r *reader) isTime(text string) bool {
	_, _, err := logTime(text, r.log.Zone)
	return err == nil
}

// addLine makes a point of a line.
func (r *reader) addLine(line int, record []string) {
	at, second, err := logTime(record[r.columns.time], r.log.Zone)
	if err != nil {
		r.mistake(line, "time %w", err)
	}
	again := int32(0)
	if !second.IsZero() {
		again = int32(second.Sub(at).Milliseconds())
	}
	level, err := r.columns.level(record, r.log.Threshold)
	if err != nil {
		r.mistake(line, "%w", err)
	}
	device := r.log.Device
	if r.columns.device >= 0 {
		device = strings.TrimSpace(record[r.columns.device])
	}
	if err := checkDevice(device); err != nil {
		r.mistake(line, "%w", err)
	}
	if len(r.mistakes) > 0 {
		return // nothing will come of the points
	}
	r.points = append(r.points, point{at.UnixMilli(), unique.Make(device), again, level})
}

// checkDevice refuses what is no name of a device.
func checkDevice(name string) error {
	switch {
	case name == "":
		return errors.New("the device has no name; give it one")
	case !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl):
		return fmt.Errorf("device %q: not plain text; save the log as UTF-8", name)
	case utf8.RuneCountInString(name) > mostNameLength:
		return fmt.Errorf("device %.20q…: longer than %d characters; shorten its name", name, mostNameLength)
	}
	return nil
}

// switchings gives the changes of state in order of time.
func (r *reader) switchings() (found []Switching) {
	if n := len(r.points); n > 0 && r.points[0].at > r.points[n-1].at {
		slices.Reverse(r.points) // newest first: so are lines of one time
	}
	r.tellTwice()
	slices.SortStableFunc(r.points, func(a, b point) int { return cmp.Compare(a.at, b.at) })
	was := map[unique.Handle[string]]int8{}
	for _, p := range r.points {
		if was[p.device] == 0 && r.columns.state < 0 { // how it was found
			was[p.device] = cmp.Or(p.level, -1)
			continue
		}
		if p.level == 0 || p.level == was[p.device] {
			continue
		}
		was[p.device] = p.level
		found = append(found, Switching{time.UnixMilli(p.at).UTC(), p.device.Value(), p.level > 0})
	}
	return found
}

// tellTwice tells by the order of the lines which of the times that clocks showed twice are the
// second ones: those of lines that stand behind a later time, and what follows these. Where the
// lines are not in order, as in a log sorted by devices, each device's are gone by.
func (r *reader) tellTwice() {
	last, ordered := int64(0), true
	for _, p := range r.points {
		if p.again == 0 {
			ordered, last = ordered && p.at >= last, p.at
		}
	}
	type progress struct {
		last   int64
		unsure int // times taken as the first, after which clocks were not seen set back
	}
	so := map[unique.Handle[string]]progress{}
	for i := range r.points {
		p, group := &r.points[i], unique.Handle[string]{}
		if !ordered {
			group = p.device
		}
		g := so[group]
		switch second := p.at + int64(p.again); {
		case p.again == 0:
			r.twice += g.unsure
			g.unsure = 0
		case p.at < g.last && g.last <= second:
			p.at, g.unsure = second, 0
		default:
			g.unsure++
		}
		g.last = p.at
		so[group] = g
	}
	for _, g := range so {
		r.twice += g.unsure
	}
}

// delimiterOf gives what parts the values of the first line.
func delimiterOf(log *bufio.Reader) rune {
	start, _ := log.Peek(log.Size()) // an error comes again when it is read
	line, _, _ := bytes.Cut(bytes.TrimLeft(start, "\r\n"), []byte("\n"))
	line = quoted.ReplaceAll(line, nil)
	for _, delimiter := range "\t;" {
		if bytes.ContainsRune(line, delimiter) {
			return delimiter
		}
	}
	return ','
}

var quoted = regexp.MustCompile(`"[^"]*("|$)`)

// A lineLimit ends a log at a line that is none, before it fills the memory.
type lineLimit struct {
	in     io.Reader
	length int // bytes of the line so far
	quoted bool
}

func (g *lineLimit) Read(p []byte) (int, error) {
	n, err := g.in.Read(p)
	for i, b := range p[:n] {
		g.length++
		switch {
		case b == '"':
			g.quoted = !g.quoted
		case b == '\n' && !g.quoted:
			g.length = 0
		}
		if g.length > mostLineBytes {
			return i, fmt.Errorf("a line of more than %d bytes, or a quote that is never closed; is this a log?", mostLineBytes)
		}
	}
	return n, err
}
