package files

import (
	"fmt"
	"nightfloor/store/lock"
	"os"
	"path/filepath"
)

// DefaultPath gives the database that is meant where none is named: that of
// NIGHTFLOOR_DB, else nightfloor/nightfloor.db in the user's data folder
// ($XDG_DATA_HOME, else ~/.local/share; XDG Base Directory Specification 0.8).
// It creates nothing; Open makes the default's folder when it is needed.
func DefaultPath() (string, error) {
	if path := os.Getenv("NIGHTFLOOR_DB"); path != "" {
		return path, nil
	}
	return DataPath()
}

// DataPath gives the database in the user's data folder.
func DataPath() (string, error) {
	data := os.Getenv("XDG_DATA_HOME")
	if !filepath.IsAbs(data) { // the specification: ignore relative paths
		home, err := os.UserHomeDir()
		if err != nil {
			return "", fmt.Errorf("find the data folder: %w; name a database with --db", err)
		}
		data = filepath.Join(home, ".local", "share")
	}
	return filepath.Join(data, "nightfloor", "nightfloor.db"), nil
}

// Names gives the files that are, or come to be, of the database at path, itself first.
func Names(path string) []string {
	return []string{path, path + "-wal", path + "-shm", path + "-journal", path + lock.Suffix}
}
