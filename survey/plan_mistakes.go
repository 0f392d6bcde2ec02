package survey

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// A mistake is one thing wrong with a plan; line 0 is nowhere in particular.
type mistake struct {
	line int
	err  error
}

// mistakes gathers what is wrong with a plan.
type mistakes struct {
	lines planLines
	found []mistake
}

// add notes what is wrong at a key, such as setup[1].bearings; joined errors
// one by one.
func (m *mistakes) add(key string, err error) {
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range several.Unwrap() {
			m.add(key, e)
		}
		return
	}
	line := m.lines.of(key)
	m.found = append(m.found, mistake{line, fmt.Errorf("%s: %w", spoken(key), err)})
}

// spoken gives a key as a person counts: setup[0].bearings is that of setup 1.
func spoken(key string) string {
	table, rest, ok := strings.Cut(key, "[")
	if !ok {
		return key
	}
	var n int
	var tail string
	fmt.Sscanf(rest, "%d]%s", &n, &tail) // keys are our own
	return strings.TrimSpace(fmt.Sprintf("%s %d%s", table, n+1, strings.Replace(tail, ".", ", ", 1)))
}

// all joins the mistakes in the order of their lines; nil where there are none.
func (m *mistakes) all() error {
	slices.SortStableFunc(m.found, func(a, b mistake) int { return cmp.Compare(a.line, b.line) })
	var errs []error
	for _, f := range m.found {
		if f.line > 0 {
			f.err = fmt.Errorf("line %d: %w", f.line, f.err)
		}
		errs = append(errs, f.err)
	}
	return errors.Join(errs...)
}

// decode reads the TOML into file. It tells whether the rest can be checked:
// unknown keys do not stand in the way.
func (m *mistakes) decode(text []byte, file *planFile) bool {
	d := toml.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	err := d.Decode(file)
	var unknown *toml.StrictMissingError
	var wrong *toml.DecodeError
	switch {
	case err == nil:
	case errors.As(err, &unknown):
		for _, e := range unknown.Errors {
			row, _ := e.Position()
			m.found = append(m.found, mistake{row, fmt.Errorf("unknown key %s; see the plan section of the README for the keys there are", strings.Join(e.Key(), "."))})
		}
	case errors.As(err, &wrong):
		row, _ := wrong.Position()
		m.found = append(m.found, mistake{row, errors.New(plainly(wrong))})
		return false
	default:
		m.found = append(m.found, mistake{0, err})
		return false
	}
	return true
}

// plainly words what the TOML library says of a value of the wrong kind without
// our Go types; what it says of broken TOML stays.
func plainly(e *toml.DecodeError) string {
	what := strings.TrimPrefix(e.Error(), "toml: ")
	got, _, ok := strings.Cut(strings.TrimPrefix(what, "cannot decode TOML "), " into struct field")
	if !ok {
		return what
	}
	wants := map[string]string{"string": "a text in quotes", "int": "a whole number", "uint64": "a whole number of 0 or more",
		"float64": "a number", "[]float64": "a list of numbers"}
	want, known := wants[what[strings.LastIndex(what, " ")+1:]]
	if !known {
		want = "something else"
	}
	return fmt.Sprintf("%s: is written as TOML %s; write %s", strings.Join(e.Key(), "."), got, want)
}

// planLines tells in which line a plan's keys stand: site.mains, setup[1],
// setup[1].bearings.
type planLines map[string]int

// linesOf finds the lines; of a text that is no TOML, those before the mistake.
func linesOf(text []byte) planLines {
	lines := planLines{}
	tables := map[string]int{}
	var p unstable.Parser
	p.Reset(text)
	prefix := ""
	for p.NextExpression() {
		e := p.Expression()
		var path []string
		line := 0
		for keys := e.Key(); keys.Next(); {
			node := keys.Node()
			path = append(path, string(node.Data))
			line = p.Shape(node.Raw).Start.Line
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
		lines[key] = line
	}
	return lines
}

// of gives a key's line, that of its table where the key is missing, else 0.
func (l planLines) of(key string) int {
	for {
		if line, ok := l[key]; ok {
			return line
		}
		cut := strings.LastIndexAny(key, ".[")
		if cut < 0 {
			return 0
		}
		key = key[:cut]
	}
}
