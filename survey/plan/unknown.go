package plan

import (
	"cmp"
	"fmt"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// unknownKey names a key that no plan has, and those that may have been meant. What they would
// have set counts as not read.
func (m *mistakes) unknownKey(row int, key toml.Key) {
	said := "the"
	at, _, _ := m.lines.expressionAt(row)
	whole := strings.HasPrefix(at, key[0]) // within a list of inline tables, the library leaves out which
	if near := keysNear(key); whole && near != nil {
		said = fmt.Sprintf("did you mean %s? The", strings.Join(near, " or "))
		for _, meant := range near {
			m.setAside(at[:strings.LastIndex(at, ".")+1] + meant)
		}
	}
	m.found = append(m.found, mistake{row, fmt.Errorf("unknown key %s; %s keys there are stand in the plan that nightfloor plan new FILE writes", strings.Join(key, "."), said)})
}

// keysNear gives the keys that are valid where an unknown one stands and spelt most nearly so:
// two letters at most differ, and one at least is the same.
func keysNear(unknown toml.Key) (near []string) {
	table, name := unknown[:len(unknown)-1], unknown[len(unknown)-1]
	nearest := min(2, len(name)-1)
	for _, key := range keysOf(typeAt(table)) {
		switch d := distance(name, key); {
		case d < nearest:
			nearest, near = d, []string{key}
		case d == nearest:
			near = append(near, key)
		}
	}
	return near
}

// keysOf gives the keys of a table of that type, as they are written; nil of what is none.
func keysOf(t reflect.Type) (keys []string) {
	if t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return nil
	}
	for field := range t.Fields() {
		keys = append(keys, cmp.Or(field.Tag.Get("toml"), strings.ToLower(field.Name)))
	}
	return keys
}

// distance counts the letters that must be put in, taken out or replaced to make b of a.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			replaced := diagonal
			if a[i] != b[j] {
				replaced++
			}
			diagonal = row[j+1]
			row[j+1] = min(replaced, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
