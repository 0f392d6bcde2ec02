package ranges

import (
	"context"
	"database/sql/driver"
	"fmt"
	"maps"
	"slices"
	"strings"

	"nightfloor/survey"
)

// EachRow runs a query and hands each of its rows to take.
type EachRow = func(ctx context.Context, take func(row []driver.Value) error, query string, args ...any) error

// Check names rows that hold what cannot be, of each table at most so many. Our tables are STRICT;
// a user's own are most often not.
func Check(ctx context.Context, each EachRow, most int) (wrong []string, err error) {
	tables := map[string]*rangeCheck{}
	err = each(ctx, func(row []driver.Value) error {
		table, _ := row[0].(string)
		name, _ := row[1].(string)
		if tables[table] == nil {
			tables[table] = &rangeCheck{table: table}
		}
		if row[2] != int64(0) {
			tables[table].keys = append(tables[table].keys, name)
		}
		if ByColumn()[name] != nil {
			tables[table].columns = append(tables[table].columns, name)
		}
		return nil
	}, `SELECT t.name, c.name, c.pk FROM pragma_table_list t, pragma_table_info(t.name) c WHERE t.schema = 'main' AND t.strict ORDER BY c.cid`)
	for _, table := range slices.Sorted(maps.Keys(tables)) {
		if check := tables[table]; err == nil && len(check.columns) > 0 {
			err = check.run(ctx, each, most, &wrong)
		}
	}
	return wrong, err
}

// A rangeCheck looks through the columns of a table that have limits.
type rangeCheck struct {
	table         string
	keys, columns []string
}

func (r *rangeCheck) run(ctx context.Context, each EachRow, most int, wrong *[]string) error {
	var outside []string
	for _, name := range r.columns {
		l := ByColumn()[name]
		condition := fmt.Sprintf("NOT (%s BETWEEN %.17g AND %.17g", name, l.Low, l.High)
		if l.Silence {
			condition += " OR " + name + " = -9e999" // −Inf
		}
		outside = append(outside, condition+")")
	}
	rows := 0
	all := append(slices.Clone(r.keys), r.columns...)
	err := each(ctx, func(row []driver.Value) error {
		if rows++; rows > most {
			return nil
		}
		var key []string
		for i, name := range r.keys {
			key = append(key, fmt.Sprintf("%s %v", name, row[i]))
		}
		for i, name := range r.columns {
			value, l := row[len(r.keys)+i], ByColumn()[name]
			if l.HoldsValue(value) {
				continue
			}
			switch x := value.(type) {
			case string, []byte:
				value = fmt.Sprintf("%.40q", x)
			}
			*wrong = append(*wrong, fmt.Sprintf("%s, %s: %s %v is %v", r.table, strings.Join(key, ", "), name, value, l))
		}
		return nil
	}, "SELECT "+strings.Join(all, ", ")+" FROM \""+r.table+"\" WHERE "+strings.Join(outside, " OR "))
	if rows > most {
		*wrong = append(*wrong, fmt.Sprintf("%s: %s that cannot be", r.table, survey.Count(rows-most, "more row")))
	}
	return err
}
