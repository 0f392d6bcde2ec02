package store

import (
	"cmp"
	"database/sql/driver"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"nightfloor/survey"
)

// A column of a table and the field that it keeps: a pointer to it, an optional or an orNaN.
// Any other figure that is NaN is refused.
type column struct {
	name  string
	field any
}

// columns are those of a row, in order. The same list stores the row and reads it.
type columns []column

// An optional is a field that not every row has: NULL stands in its column where has is false.
// Both are pointers.
type optional struct {
	has   *bool
	field any
}

// An orNaN is a figure that may be not known: NULL stands for NaN, which SQLite has not.
type orNaN struct{ figure *float64 }

func setupColumns(s *survey.Setup) columns {
	return columns{{"antenna", &s.Antenna}, {"placement", &s.Placement}, {"bearing_deg", &s.Bearing}}
}

func segmentColumns(g *survey.Segment) columns {
	return columns{{"name", &g.Name}, {"low_hz", &g.Low}, {"high_hz", &g.High}}
}

// names lists the columns, each behind a prefix such as "r.".
func (row columns) names(prefix string) string {
	var list []string
	for _, c := range row {
		list = append(list, prefix+c.name)
	}
	return strings.Join(list, ", ")
}

// An insertText is a statement that adds a row to a table: where to, and what follows by default.
type insertText struct{ into, values string }

// inserts keeps the insertText of each table: the columns of its rows are the same every time.
var inserts sync.Map

// insert gives the statement that adds a row to a table. how is what follows the names of the
// columns: a select with a condition, say, or "" for a plain list of values. Only selects where
// there must be: a sweep stored by them takes a sixth more time (BenchmarkAddSweep).
func (row columns) insert(table, how string) string {
	text, ok := inserts.Load(table)
	if !ok {
		text = insertText{"INSERT INTO " + table + " (" + row.names("") + ") ", "VALUES (?" + strings.Repeat(", ?", len(row)-1) + ")"}
		inserts.Store(table, text)
	}
	t := text.(insertText)
	return t.into + cmp.Or(how, t.values)
}

// values gives what the columns take.
func (c change) values(row columns) ([]any, error) {
	all := make([]any, len(row))
	for i, column := range row {
		var err error
		if all[i], err = c.value(column.field); err != nil {
			return nil, fmt.Errorf("%s: %w", column.name, err)
		}
	}
	return all, nil
}

// value gives what a column takes for a field. A setup and a segment stand there by number.
func (c change) value(field any) (any, error) {
	switch f := field.(type) {
	case optional:
		value, err := c.value(f.field) // refused even where it does not apply
		if err != nil || !*f.has {
			return nil, err
		}
		return value, nil
	case orNaN:
		if math.IsNaN(*f.figure) {
			return nil, nil
		}
		return *f.figure, nil
	case *float64:
		return known(*f)
	case *survey.Hz:
		return known(float64(*f))
	case *survey.DB:
		return known(float64(*f))
	case **survey.DB:
		if *f == nil {
			return nil, nil
		}
		return known(float64(**f))
	case *int64:
		return *f, nil
	case *int:
		return int64(*f), nil
	case *bool:
		return *f, nil
	case *string:
		return *f, nil
	case *survey.Bearing:
		return c.value(optional{&f.Known, &f.Deg})
	case *survey.Setup:
		return c.setup(*f)
	case *survey.Segment:
		return c.segment(*f)
	case *time.Time:
		return f.UnixMilli(), nil
	case *uint64:
		return int64(*f), nil
	case *[]string:
		if slices.ContainsFunc(*f, func(s string) bool { return s == "" || strings.Contains(s, ",") }) {
			return nil, fmt.Errorf("%w: %q; %s", ErrInvalid, *f, mistake)
		}
		return strings.Join(*f, ","), nil
	}
	v := reflect.ValueOf(field).Elem()
	if v.CanFloat() {
		return known(v.Float())
	}
	return v.Interface(), nil
}

// known gives a figure that must be known.
func known(figure float64) (any, error) {
	if math.IsNaN(figure) {
		return nil, fmt.Errorf("%w: NaN; %s", ErrInvalid, mistake)
	}
	return figure, nil
}

// scan reads a row into the fields.
func (s snapshot) scan(row []driver.Value, into columns) {
	for i, column := range into {
		s.read(row[i], column.field)
	}
}

// read reads what a column holds into a field. A damaged database may hold anything there.
func (s snapshot) read(value driver.Value, field any) {
	switch f := field.(type) {
	case optional:
		if *f.has = value != nil; *f.has {
			s.read(value, f.field)
		} else {
			reflect.ValueOf(f.field).Elem().SetZero()
		}
	case orNaN:
		*f.figure = float(value)
	case **survey.DB:
		if *f = nil; value != nil {
			*f = new(survey.DB(float(value)))
		}
	case *survey.Bearing:
		s.read(value, optional{&f.Known, &f.Deg})
	case *survey.Setup:
		*f = s.setups[integer(value)]
	case *survey.Segment:
		*f = s.segments[integer(value)]
	case *time.Time:
		*f = time.UnixMilli(integer(value)).UTC()
	case *string:
		*f = text(value)
	case *[]byte:
		*f, _ = value.([]byte)
	case *[]string:
		*f = splitFlags(text(value))
	case *bool:
		*f = integer(value) == 1
	case *uint64:
		*f = uint64(integer(value))
	default:
		if v := reflect.ValueOf(field).Elem(); v.CanFloat() {
			v.SetFloat(float(value))
		} else {
			v.SetInt(integer(value))
		}
	}
}

// splitFlags takes flags apart that commas part.
func splitFlags(joined string) []string {
	if joined == "" {
		return nil
	}
	return strings.Split(joined, ",")
}

// float reads a REAL column; NULL is NaN.
func float(v driver.Value) float64 {
	x, ok := v.(float64)
	if !ok {
		return math.NaN()
	}
	return x
}

// integer reads an INTEGER column; NULL is 0.
func integer(v driver.Value) int64 {
	n, _ := v.(int64)
	return n
}

// text reads a TEXT column; NULL is "".
func text(v driver.Value) string {
	s, _ := v.(string)
	return s
}
