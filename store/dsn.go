package store

import (
	"net/url"
)

// pageSize is SQLite's page in bytes, set once when a database is made. A
// spectrum takes 2 to 4 kB, and what is left of a page behind the last whole one
// is lost: a sixth of the file with pages of 4 or 16 kB, a twentieth with these.
const pageSize = "32768"

// logPages is the length in pages at which the write-ahead log is written
// back: 4 MB, some quarter of an hour of a survey.
const logPages = 128

// writerDSN is for the one connection that writes. Each commit is on the disk
// when it returns (synchronous FULL); a transaction takes the write lock when
// it begins, so that it never fails half-way for being late. Store.writeBack writes the
// log back.
func writerDSN(path string) string {
	return fileURI(path) + "?_pragma=page_size(" + pageSize + ")&_pragma=wal_autocheckpoint(0)" +
		"&_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000&_foreign_keys=on&_txlock=immediate"
}

// readerDSN is for connections that cannot write.
func readerDSN(path string) string {
	return fileURI(path) + "?mode=ro&_busy_timeout=5000&_foreign_keys=on"
}

// archiveDSN is for a database in a folder that cannot be written, where SQLite
// finds no room for its shared memory. Nobody else may be writing it.
func archiveDSN(path string) string { return readerDSN(path) + "&immutable=1" }

// fileURI writes a path as SQLite reads it (sqlite.org/uri.html).
func fileURI(path string) string {
	return (&url.URL{Scheme: "file", OmitHost: true, Path: path}).String()
}
