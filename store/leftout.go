package store

import (
	"maps"
	"slices"

	"nightfloor/survey"
)

// leftOut counts rows that were left out, by table and survey, 0 where the table has no surveys.
type leftOut map[string]map[int64]int

// begin notes that tables are being read.
func (l leftOut) begin(tables ...string) {
	for _, table := range tables {
		l[table] = map[int64]int{}
	}
}

// LeftOut tells how many rows of which table and survey were left out when they were last
// read, since what they hold cannot be. Check names them.
func (s *Store) LeftOut() (all []survey.LeftOut) {
	s.leftOutMutex.Lock()
	defer s.leftOutMutex.Unlock()
	for _, table := range slices.Sorted(maps.Keys(s.leftOut)) {
		for _, id := range slices.Sorted(maps.Keys(s.leftOut[table])) {
			all = append(all, survey.LeftOut{Survey: id, Table: table, Rows: s.leftOut[table][id]})
		}
	}
	return all
}

// noteLeftOut keeps what a read left out in place of what earlier ones of the same tables did.
func (s *Store) noteLeftOut(read leftOut) {
	s.leftOutMutex.Lock()
	defer s.leftOutMutex.Unlock()
	if s.leftOut == nil {
		s.leftOut = leftOut{}
	}
	maps.Copy(s.leftOut, read)
}
