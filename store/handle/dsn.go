package handle

import "net/url"

// PageSize is SQLite's page in bytes, set once when a database is made. A
// spectrum takes 2 to 4 kB, and what is left of a page behind the last whole one
// is lost: a sixth of the file with pages of 4 or 16 kB, a twentieth with these.
const PageSize = "32768"

// WriterDSN is for the one connection that writes. Each commit is on the disk
// when it returns (synchronous FULL); a transaction takes the write lock when
// it begins, so that it never fails half-way for being late. The store writes the
// log back.
func WriterDSN(path string) string {
	return URI(path) + "?_pragma=page_size(" + PageSize + ")&_pragma=wal_autocheckpoint(0)" +
		"&_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000&_foreign_keys=on&_txlock=immediate"
}

// ReaderDSN is for connections that cannot write.
func ReaderDSN(path string) string {
	return URI(path) + "?mode=ro&_busy_timeout=5000&_foreign_keys=on"
}

// ArchiveDSN is for a database in a folder that cannot be written, where SQLite
// finds no room for its shared memory. Nobody else may be writing it.
func ArchiveDSN(path string) string { return ReaderDSN(path) + "&immutable=1" }

// URI writes a path as SQLite reads it (sqlite.org/uri.html).
func URI(path string) string {
	return (&url.URL{Scheme: "file", OmitHost: true, Path: path}).String()
}
