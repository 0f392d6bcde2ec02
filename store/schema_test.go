package store

import (
	"database/sql"
	"fmt"
	"os"
	"regexp"
	"slices"
	"testing"

	"nightfloor/store/schema"
	"nightfloor/survey"
)

// TestSchemaDocument: every table and column is described, nothing else is, and
// the example queries find something in a database with something in it.
func TestSchemaDocument(t *testing.T) {
	document, err := os.ReadFile("SCHEMA.md")
	if err != nil {
		t.Fatal(err)
	}
	s := openTemp(t)
	if got, want := describedColumns(string(document)), realColumns(t, s.reader); !slices.Equal(got, want) {
		t.Errorf("described\n%v\nwant\n%v", got, want)
	}
	number := fmt.Sprintf("now %d.", len(schema.Steps()))
	if !regexp.MustCompile(regexp.QuoteMeta(number)).Match(document) {
		t.Errorf("the document does not say %q", number)
	}
	id := begin(t, s)
	n := night{seeded(), 2, 3, 10}
	for i := range 6 {
		if err := s.AddSweep(t.Context(), n.sweep(id, i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.AddEvent(t.Context(), survey.Event{Survey: id, At: evening, Text: "kettle"}); err != nil {
		t.Fatal(err)
	}
	c := calibrated(survey.CalibrateNoise, evening)
	if err := s.AddCalibration(t.Context(), &c); err != nil {
		t.Fatal(err)
	}
	queries := regexp.MustCompile("(?s)```sql\n(.*?)```").FindAllSubmatch(document, -1)
	if len(queries) < 4 {
		t.Errorf("%d example queries, want 4 or more", len(queries))
	}
	for _, q := range queries {
		var rows int
		if err := s.reader.QueryRow("SELECT count(*) FROM (" + regexp.MustCompile(`;\s*$`).ReplaceAllString(string(q[1]), "") + ")").Scan(&rows); err != nil || rows == 0 {
			t.Errorf("%d rows, %v, from\n%s", rows, err, q[1])
		}
	}
}

// describedColumns gives table.column for every row of the document's tables.
func describedColumns(document string) (columns []string) {
	table := ""
	for _, m := range regexp.MustCompile("(?m)^### (\\w+)$|^\\| `(\\w+)` \\|").FindAllStringSubmatch(document, -1) {
		if m[1] != "" {
			table = m[1]
			continue
		}
		columns = append(columns, table+"."+m[2])
	}
	slices.Sort(columns)
	return columns
}

// realColumns gives table.column for every column there is.
func realColumns(t *testing.T, db *sql.DB) (columns []string) {
	t.Helper()
	rows, err := db.Query(`SELECT t.name || '.' || c.name FROM sqlite_schema t, pragma_table_info(t.name) c
		WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%'`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var column string
		if err := rows.Scan(&column); err != nil {
			t.Fatal(err)
		}
		columns = append(columns, column)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	slices.Sort(columns)
	return columns
}
