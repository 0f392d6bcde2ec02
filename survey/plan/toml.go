package plan

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"unicode"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// mostUnread is how many unreadable lines are named: a text with more is no plan.
const mostUnread = 40

// decode reads the TOML into file. What is no TOML, or a value of the wrong kind,
// is named and set aside, and the rest is read, so that all mistakes come at
// once. It tells whether the rest can be checked.
func (m *mistakes) decode(text []byte, file *document) bool {
	text, ok := m.blankUnreadable(text)
	for ; ok; ok = len(m.found) < mostUnread {
		*file = document{}
		m.lines = linesOf(text)
		d := toml.NewDecoder(bytes.NewReader(text))
		d.DisallowUnknownFields()
		err := d.Decode(file)
		var unknown *toml.StrictMissingError
		var wrong *toml.DecodeError
		switch {
		case err == nil:
			return true
		case errors.As(err, &unknown):
			for _, e := range unknown.Errors {
				row, _ := e.Position()
				m.unknownKey(row, e.Key())
			}
			return true
		case !errors.As(err, &wrong):
			m.found = append(m.found, mistake{0, err})
			return false
		}
		row, _ := wrong.Position()
		key, first, last := m.lines.expressionAt(row)
		if len(wrong.Key()) == 0 { // no TOML, in a way that only the decoder finds
			key, first, last = "", row, row
		}
		said := keyText(key)
		if strings.Contains(wrong.Error(), "cannot store") { // [[site]], whose key is site[0]
			said = strings.Join(wrong.Key(), ".")
		}
		m.found = append(m.found, mistake{row, fmt.Errorf("%s: %s", cmp.Or(said, "the line"), decodeErrorText(wrong))})
		m.setAside(key)
		text = blanked(text, first, last)
	}
	m.found = append(m.found, mistake{0, fmt.Errorf("more than %d lines cannot be read; is it a plan? nightfloor plan new FILE writes one", mostUnread)})
	return false
}

// blankUnreadable blanks what is no TOML, after naming it, line by line; of a table whose
// heading is broken, all. It tells whether the rest is worth reading.
func (m *mistakes) blankUnreadable(text []byte) (rest []byte, ok bool) {
	if isTOML(text) {
		return text, true
	}
	lines := bytes.SplitAfter(text, []byte("\n"))
	table, count := "", map[string]int{}
	for at := 0; at < len(lines); {
		n, err := expression(lines[at:])
		line := strings.TrimSpace(string(lines[at]))
		heading := strings.HasPrefix(line, "[")
		key, _, _ := strings.Cut(line, "=")
		key = table + "." + strings.TrimSpace(key)
		if heading {
			key = strings.Trim(strings.Split(line, "#")[0], "[] \t")
			table = key
		}
		switch {
		case err != nil:
			m.found = append(m.found, mistake{at + 1, errors.New(brokenLine(line, keyText(strings.TrimPrefix(key, ".")), err))})
			m.setAside(strings.TrimPrefix(key, "."))
			for heading && at+n < len(lines) && !bytes.HasPrefix(bytes.TrimSpace(lines[at+n]), []byte("[")) {
				n++
			}
			text = blanked(text, at+1, at+n)
		case strings.HasPrefix(line, "[["):
			table = fmt.Sprintf("%s[%d]", key, count[key])
			count[key]++
		}
		if len(m.found) >= mostUnread {
			return text, false
		}
		at += n
	}
	return text, true
}

// expression gives how many lines the first expression takes: one, save for lists
// and long texts. The error is why it is none; then it is one line.
func expression(lines [][]byte) (n int, err error) {
	const longest, largest = 200, 10_000 // lines, bytes: after each line all of them are read again
	size := 0
	for n = 1; n <= min(len(lines), longest) && size < largest; n++ {
		size += len(lines[n-1])
		var p unstable.Parser
		p.Reset(bytes.Join(lines[:n], nil))
		for p.NextExpression() {
		}
		why := p.Error()
		if why == nil {
			return n, nil
		}
		if n == 1 {
			err = why
		}
		if text := why.Error(); !strings.Contains(text, "incomplete") && !strings.Contains(text, "not terminated") {
			break
		}
	}
	return 1, err
}

// isTOML tells whether a text has no line that is no TOML.
func isTOML(text []byte) bool {
	var p unstable.Parser
	p.Reset(text)
	for p.NextExpression() {
	}
	return p.Error() == nil
}

// blanked takes the lines from first to last out of a text, and keeps the number
// of lines.
func blanked(text []byte, first, last int) []byte {
	lines := bytes.SplitAfter(text, []byte("\n"))
	for i := first - 1; i < min(last, len(lines)); i++ {
		lines[i] = lines[i][len(bytes.TrimRight(lines[i], "\r\n")):]
	}
	return bytes.Join(lines, nil)
}

// brokenLine says in plain words why a line is no TOML; where there are none, in
// the TOML library's. Key is what it would have set.
func brokenLine(line, key string, err error) string {
	name, value, isValue := strings.Cut(line, "=")
	value = strings.TrimSpace(strings.Split(value, "#")[0])
	theirs := strings.TrimPrefix(err.Error(), "toml: ")
	missing := strings.Contains(theirs, "new lines") || strings.Contains(theirs, "unterminated")
	switch {
	case strings.HasPrefix(line, "["):
		return fmt.Sprintf("%s: %s; write a table's name as [turns], or [[setup]] where there may be several; what stands in it is not checked", line, theirs)
	case !isValue:
		return fmt.Sprintf("%s: neither a [table] nor key = value; put # before a remark", line)
	case strings.TrimSpace(name) == "":
		return line + ": no key before ="
	case value == "":
		return key + ": no value after =; write one, or put # before the line"
	case missing && strings.ContainsAny(value[:1], "\"'"):
		return key + ": the closing quote is missing"
	case strings.ContainsAny(value, "“”„"):
		return key + ": write straight quotes, as \"whip\""
	case strings.Contains(theirs, "array is incomplete"):
		return key + ": the closing ] is missing"
	case strings.HasPrefix(value, "["):
		return fmt.Sprintf("%s: %s; a list stands between [ and ], with commas, as [0, 90]", key, theirs)
	case strings.EqualFold(value, "true") || strings.EqualFold(value, "false"):
		return key + ": write true or false, in small letters"
	case strings.ContainsFunc(value, unicode.IsLetter) && !strings.Contains(value, `"`):
		return fmt.Sprintf("%s: a text goes in quotes; write \"%s\"", key, value)
	}
	return key + ": " + theirs
}

// kinds are the TOML library's words for what stands there, and ours.
var kinds = map[string]string{"string": "a text", "integer": "a whole number", "float": "a number with a point", "boolean": "true or false", "array": "a list", "inline table": "a table"}

// decodeErrorText words what the TOML library says of a value that it cannot take,
// without our Go types.
func decodeErrorText(e *toml.DecodeError) string {
	what := strings.TrimPrefix(e.Error(), "toml: ")
	want := expectedText(e.Key())
	switch got, _, ofKind := strings.Cut(strings.TrimPrefix(what, "cannot decode TOML "), " into "); {
	case ofKind:
		return fmt.Sprintf("%s stands there; write %s", cmp.Or(kinds[got], "a "+got), want)
	case strings.HasPrefix(what, "cannot store"):
		return "a table stands there; write " + want
	case strings.HasPrefix(what, "negative integer value "):
		return strings.Fields(what)[3] + ": give 0 or more"
	case strings.Contains(what, "too large"):
		return "the number is too large; write a smaller one"
	case strings.Contains(what, "already"):
		return "stands in the plan twice; leave one out"
	}
	return what
}

// expected says what to write for a key of a type.
var expected = map[reflect.Type]string{
	reflect.TypeFor[bool]():      "true or false, without quotes",
	reflect.TypeFor[string]():    "a text in quotes",
	reflect.TypeFor[int]():       "a whole number without quotes",
	reflect.TypeFor[uint64]():    "a whole number without quotes",
	reflect.TypeFor[float64]():   "a number without quotes",
	reflect.TypeFor[[]string]():  `a list of texts, as ["/path"]`,
	reflect.TypeFor[[]float64](): "a list of numbers, as [0, 90]",
}

// expectedText says what to write for a key of the plan.
func expectedText(key toml.Key) string {
	if key[len(key)-1] == "listed" {
		return `a list of frequencies, as ["14.1 MHz"]`
	}
	t := typeAt(key)
	heading := "[" + strings.Join(key, ".") + "]"
	if t.Kind() == reflect.Slice {
		heading = "[" + heading + "]"
	}
	return cmp.Or(expected[t], heading+" on a line of its own, and its keys below")
}

// typeAt gives the type of what stands at a key of the plan; of one that is unknown, that of
// its table.
func typeAt(key toml.Key) reflect.Type {
	t := reflect.TypeFor[document]()
	for _, part := range key {
		if t.Kind() == reflect.Slice {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			break
		}
		name := strings.ReplaceAll(part, "_", "")
		if field, ok := t.FieldByNameFunc(func(n string) bool { return strings.EqualFold(n, name) }); ok {
			t = field.Type
		}
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
	}
	return t
}
