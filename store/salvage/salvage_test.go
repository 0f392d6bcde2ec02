package salvage

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"
	"time"

	_ "modernc.org/sqlite"
)

const readings = "CREATE TABLE readings (id INTEGER PRIMARY KEY, x)"

// open makes a database.
func open(t *testing.T, path string, statements ...string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	for _, statement := range statements {
		if _, err := db.ExecContext(t.Context(), statement); err != nil {
			t.Fatal(err)
		}
	}
	return db
}

// TestNewerSchema: of a database that a newer program has brought up to date meanwhile what this one
// knows is saved.
func TestNewerSchema(t *testing.T) {
	folder := t.TempDir()
	path, saved := filepath.Join(folder, "night.db"), filepath.Join(folder, "saved.db")
	open(t, saved, readings).Close()
	db := open(t, path, readings, "ALTER TABLE readings ADD COLUMN y", "INSERT INTO readings VALUES (7, 8, 9)")
	defer db.Close()
	conn, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if err := Copy(t.Context(), conn, saved, path, 10); err != nil {
		t.Fatal(err)
	}
	is := open(t, saved)
	defer is.Close()
	var x int
	if err := is.QueryRow("SELECT x FROM readings WHERE id = 7").Scan(&x); err != nil || x != 8 {
		t.Errorf("%d, %v, want 8", x, err)
	}
}

// TestTimeUp: rows that cannot be read are not sought any longer than there is time, however many
// they may be, and the new database is let go all the same.
func TestTimeUp(t *testing.T) {
	folder := t.TempDir()
	saved := filepath.Join(folder, "saved.db")
	open(t, saved, readings).Close()
	db := open(t, filepath.Join(folder, "damaged.db"), "CREATE TABLE setups (id INTEGER PRIMARY KEY)") // readings are not to be found
	defer db.Close()
	conn, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	done := make(chan error, 1)
	go func() { done <- Copy(ctx, conn, saved, filepath.Join(folder, "none.db"), 1<<40) }()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(time.Minute):
		t.Fatal("still seeking after a minute")
	}
	var attached int
	if err := conn.QueryRowContext(t.Context(), `SELECT count(*) FROM pragma_database_list WHERE name = 'saved'`).Scan(&attached); err != nil || attached != 0 {
		t.Errorf("%d, %v: the new database is still open", attached, err)
	}
}
