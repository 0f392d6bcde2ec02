package wording

import (
	"strings"
	"time"
)

// The words around the time in a state's name.
const (
	stateOpens  = " (repeaked "
	stateCloses = " UTC)"
)

// StateName gives the name of an antenna that was repeaked, with the time in one of some forms.
func StateName(antenna string, since time.Time, form string) string {
	return antenna + stateOpens + since.UTC().Format(form) + stateCloses
}

// CutState parts a state's name into that of the antenna and the time of day, the
// least that tells states apart.
func CutState(name string) (antenna, clock string, ok bool) {
	head, ok := strings.CutSuffix(name, stateCloses)
	i := strings.LastIndex(head, stateOpens)
	if !ok || i < 0 {
		return name, "", false
	}
	return head[:i], head[strings.LastIndexByte(head, ' ')+1:], true
}
