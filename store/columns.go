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

	"nightfloor/store/ranges"
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
	all, limits := make([]any, len(row)), ranges.ByColumn()
	for i, column := range row {
		var err error
		if all[i], err = c.value(column.field); err != nil {
			return nil, fmt.Errorf("%s: %w", column.name, err)
		}
		if l := limits[column.name]; !l.HoldsValue(all[i]) {
			return nil, fmt.Errorf("%w: %s %v is %v", ErrInvalid, column.name, all[i], l)
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
	if v.CanInt() {
		return v.Int(), nil
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

// scan reads a row into the fields, and tells whether what it holds can be (ranges). A damaged
// database may hold anything anywhere.
func (s snapshot) scan(row []driver.Value, into columns) (can bool) {
	limits := ranges.ByColumn()
	can = true
	for i, column := range into {
		can = s.read(row[i], column.field, limits[column.name]) && can
	}
	return can
}

// read reads what a column holds into a field, and tells whether it can be.
func (s snapshot) read(value driver.Value, field any, l *ranges.Limits) (can bool) {
	switch f := field.(type) {
	case optional:
		if *f.has = value != nil; *f.has {
			return s.read(value, f.field, l)
		}
		reflect.ValueOf(f.field).Elem().SetZero()
		return true
	case orNaN:
		if *f.figure = math.NaN(); value != nil {
			return s.read(value, f.figure, l)
		}
		return true
	case **survey.DB:
		if *f = nil; value != nil {
			*f = new(survey.DB)
			return s.read(value, *f, l)
		}
		return true
	case *survey.Bearing:
		var deg float64
		if *f = (survey.Bearing{}); value == nil {
			return true
		}
		can = s.read(value, &deg, l)
		*f = survey.BearingOf(deg)
		return can
	case *survey.Setup:
		*f, can = s.setups[integer(value)]
		return can || value == nil
	case *survey.Segment:
		*f, can = s.segments[integer(value)]
		return can
	case *[]byte:
		*f, can = value.([]byte)
		return can
	case *string:
		*f, can = value.(string)
		return can
	case *[]string:
		_, can = value.(string)
		*f = splitFlags(text(value))
		return can
	}
	return readNumber(value, field, l)
}

// readNumber is read for what stands in the database as a number.
func readNumber(value driver.Value, field any, l *ranges.Limits) (can bool) {
	if v := reflect.ValueOf(field).Elem(); v.CanFloat() {
		x := float(value)
		v.SetFloat(x)
		return l.Hold(x) && !math.IsNaN(x)
	}
	n, can := value.(int64)
	switch f := field.(type) {
	case *time.Time:
		*f = time.UnixMilli(n).UTC()
	case *bool:
		*f = n == 1
	case *uint64:
		*f = uint64(n)
	default:
		reflect.ValueOf(field).Elem().SetInt(n)
	}
	return can && l.Hold(float64(n))
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
