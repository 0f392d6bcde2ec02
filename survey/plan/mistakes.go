package plan

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"nightfloor/survey"
)

// A mistake is one thing wrong with a plan; line 0 is nowhere in particular.
type mistake struct {
	line int
	err  error
}

func (m mistake) Error() string {
	if m.line == 0 {
		return shortened(m.err.Error())
	}
	return fmt.Sprintf("line %d: %s", m.line, shortened(m.err.Error()))
}

// Bounds of what is said of a plan: of one mistake, in bytes, since it may quote a line or a
// name of any length; and how many there are of a kind that has no end.
const (
	mostSaid  = 500
	mostNamed = 100
)

// shortened takes the middle out of a long message: it begins with what is wrong and ends with
// what to do.
func shortened(text string) string {
	if len(text) <= mostSaid {
		return text
	}
	const each = (mostSaid - len(" … ")) / 2
	return strings.ToValidUTF8(text[:each], "") + " … " + strings.ToValidUTF8(text[len(text)-each:], "")
}

func (m mistake) Unwrap() error { return m.err }

// mistakes gathers what is wrong with a plan. It is the error of one that has some.
type mistakes struct {
	lines  keyLines
	found  []mistake
	unread map[string]bool // keys of which nothing, or not all that is below them, could be read
}

// AddMistake joins what is wrong at a key of the plan, such as receiver.uri or
// gain[0].gain, to what was found before, in the order of the lines. It is left out where it
// may only follow from a value that could not be read, of that key or of those that it is of, too.
func (p Plan) AddMistake(found error, key string, wrong error, of ...string) error {
	before := mistakes{lines: p.lines}
	if !errors.As(found, &before) && found != nil {
		before.found = []mistake{{err: found}}
	}
	before.found = slices.Clone(before.found)
	if !slices.ContainsFunc(of, before.isConsequence) {
		before.add(key, wrong)
	}
	return before.all()
}

// SegmentKey gives the key under which a segment stands in the plan, such as
// segment[2], "segment" where none does.
func (p Plan) SegmentKey(name string) string { return cmp.Or(p.segmentKeys[name], "segment") }

// when notes that something is wrong at a key if it is.
func (m *mistakes) when(wrong bool, key, format string, args ...any) {
	if wrong {
		m.add(key, fmt.Errorf(format, args...))
	}
}

// value reads a text of the plan into what it stands for, and tells whether it did: there
// may be none, and one that cannot be read is a mistake.
func value[T any](m *mistakes, key, text string, parse func(string) (T, error), into *T) bool {
	if text == "" {
		return false
	}
	v, err := parse(text)
	if m.unreadable(key, err); err != nil {
		return false
	}
	*into = v
	return true
}

// unreadable notes why nothing could be read at a key; nil is that it could.
func (m *mistakes) unreadable(key string, err error) {
	if m.add(key, err); err != nil {
		m.setAside(key)
	}
}

// setAside notes that nothing could be read at a key, and so not all of what it is in.
func (m *mistakes) setAside(key string) {
	if m.unread == nil {
		m.unread = map[string]bool{}
	}
	for cut := len(key); cut >= 0; cut = strings.LastIndexAny(key, ".[") {
		key = key[:cut]
		m.unread[key] = true
	}
}

// add notes what is wrong at a key, such as setup[1].bearings, joined errors
// one by one; nil is nothing wrong.
func (m *mistakes) add(key string, err error) {
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range several.Unwrap() {
			m.add(key, e)
		}
		return
	}
	if err != nil && !m.isConsequence(key) {
		m.found = append(m.found, mistake{m.lines.of(key), fmt.Errorf("%s: %w", keyText(key), err)})
	}
}

// refersTo gives the keys that must have been read for a mistake at a key to mean
// anything, besides the keys below that one.
var refersTo = map[string][]string{
	"antenna": {"setup"}, "antenna.tuned": {"segment"}, "antenna.of": {"setup"}, "antenna.removed": {"setup"}, "rotator.antennas": {"setup"},
	"gain.antenna": {"setup"}, "gain.segment": {"segment"}, "setup.magnetic_bearings": {"site.declination"},
	"change": {"change.by"}, "change.by": {"change", "setup", "rotator"}, "change.command": {"change.by"}, "change.confirm": {"change.by"},
	"halves.feed_lines": {"change", "change.by"}, "halves.idle": {"change", "change.by"}, "halves.chokes": {"change", "change.by"},
	"receiver.offset": {"receiver.front_end"}, "receiver.filter": {"receiver.front_end"}, "receiver.front_end": {"receiver.offset"},
}

var index = regexp.MustCompile(`\[\d+\]`)

// isConsequence tells whether a mistake at a key may only follow from what could not be
// read.
func (m *mistakes) isConsequence(key string) bool {
	others := refersTo[index.ReplaceAllString(key, "")]
	return m.unread[key] || slices.ContainsFunc(others, func(other string) bool { return m.unread[other] })
}

// keyText gives a key with tables counted from 1: setup[0].bearings is "setup 1, bearings".
func keyText(key string) string {
	table, rest, ok := strings.Cut(key, "[")
	if !ok {
		return key
	}
	var n int
	var tail string
	fmt.Sscanf(rest, "%d]%s", &n, &tail) // keys are our own
	return fmt.Sprintf("%s %d%s", table, n+1, strings.Replace(tail, ".", ", ", 1))
}

// all gives the mistakes as an error; nil where there are none.
func (m mistakes) all() error {
	if len(m.found) == 0 {
		return nil
	}
	slices.SortStableFunc(m.found, func(a, b mistake) int { return cmp.Compare(a.line, b.line) })
	return m
}

// Error gives the mistakes, a line each, of very many the first.
func (m mistakes) Error() string {
	errs := m.Unwrap()
	if left := len(errs) - mostNamed; left > 0 {
		errs = append(errs[:mostNamed], fmt.Errorf("and %s more; mend these first", survey.Count(left, "mistake")))
	}
	return errors.Join(errs...).Error()
}

// Unwrap gives the mistakes one by one.
func (m mistakes) Unwrap() []error {
	errs := make([]error, len(m.found))
	for i, f := range m.found {
		errs[i] = f
	}
	return errs
}

// keyLines tells in which line a plan's keys stand: site.mains, setup[1],
// setup[1].bearings.
type keyLines struct {
	at     map[string]int
	starts []expressionLine // in the order of the text
}

// An expressionLine is where an expression begins: a table's heading, or a key.
type expressionLine struct {
	line    int
	key     string
	heading bool
}

// linesOf finds the lines; of a text that is no TOML, those before the mistake.
func linesOf(text []byte) keyLines {
	lines := keyLines{at: map[string]int{}}
	tables := map[string]int{}
	var p unstable.Parser
	p.Reset(text)
	prefix, line, counted := "", 1, 0 // the line of the last key, and how far the ends of lines were counted
	for p.NextExpression() {
		e := p.Expression()
		var path []string
		for keys := e.Key(); keys.Next(); {
			node := keys.Node()
			path = append(path, string(node.Data))
			at := int(node.Raw.Offset)
			line += bytes.Count(text[counted:at], []byte("\n"))
			counted = at
		}
		key := strings.Join(path, ".")
		switch e.Kind {
		case unstable.ArrayTable:
			tables[key]++
			key = fmt.Sprintf("%s[%d]", key, tables[key]-1)
			prefix = key + "."
		case unstable.Table:
			prefix = key + "."
		default:
			key = prefix + key
		}
		lines.at[key] = line
		lines.starts = append(lines.starts, expressionLine{line, key, e.Kind != unstable.KeyValue})
	}
	return lines
}

// of gives a key's line, that of its table where the key is missing, else 0.
func (l keyLines) of(key string) int {
	for {
		if line, ok := l.at[key]; ok {
			return line
		}
		cut := strings.LastIndexAny(key, ".[")
		if cut < 0 {
			return 0
		}
		key = key[:cut]
	}
}

// expressionAt gives the expression that a line belongs to, a whole table where that is
// its heading: its key, and its first and last line, 0 where there is none.
func (l keyLines) expressionAt(line int) (key string, first, last int) {
	i, _ := slices.BinarySearchFunc(l.starts, line+1, func(e expressionLine, line int) int { return cmp.Compare(e.line, line) })
	if i == 0 {
		return "", 0, 0
	}
	at, last := l.starts[i-1], math.MaxInt
	ends := func(next expressionLine) bool { return next.heading || !at.heading }
	if n := slices.IndexFunc(l.starts[i:], ends); n >= 0 {
		last = l.starts[i+n].line - 1
	}
	return at.key, at.line, last
}
