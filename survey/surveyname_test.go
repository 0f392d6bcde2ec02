package survey

import (
	"strings"
	"testing"
)

func TestCheckSurveyName(t *testing.T) {
	for name, good := range map[string]bool{
		"attic": true, "first night": true, "Nacht 2, Süden": true, "2026-11-03": true, strings.Repeat("ä", 60): true,
		"": false, "  ": false, "2": false, "-7": false, "1e3": false, "inf": false, "attic ": false, "a\tb": false, "a\x1b[31m": false, "a\xff": false, strings.Repeat("ä", 61): false,
	} {
		if err := CheckSurveyName(name); (err == nil) != good {
			t.Errorf("%q: %v", name, err)
		}
	}
	if got := (Survey{ID: 2, Name: "attic"}).String() + ", " + (Survey{ID: 3}).String(); got != `survey 2 "attic", survey 3` {
		t.Error(got)
	}
}
