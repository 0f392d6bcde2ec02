package survey

import (
	"encoding/json"
	"testing"
)

func TestBearings(t *testing.T) {
	for _, test := range []struct {
		deg        float64
		text, json string
	}{
		{0, "000°", "0"}, {40, "040°", "40"}, {5.5, "005.5°", "5.5"}, {359.5, "359.5°", "359.5"},
		{360, "000°", "0"}, {-90, "270°", "270"}, {400, "040°", "40"}, {725, "005°", "5"},
		// A full turn back is north, not "-0"; just west of it rounds to north, not 360.
		{-360, "000°", "0"}, {-1e-20, "000°", "0"},
		// To 0.1°: by a compass and its declination, by a sum that is no decimal, and what is no angle of an antenna's.
		{110.1 + 0.3, "110.4°", "110.4"}, {-0.3, "359.7°", "359.7"}, {359.97, "000°", "0"}, {1e-300, "000°", "0"}, {144.00000000093132, "144°", "144"},
	} {
		b := BearingOf(test.deg)
		text, err := json.Marshal(b)
		if err != nil || b.String() != test.text || string(text) != test.json {
			t.Errorf("%v°: %s, %s (%v), want %s, %s", test.deg, b, text, err, test.text, test.json)
		}
		var back Bearing
		if err := json.Unmarshal(text, &back); err != nil || back != b {
			t.Errorf("%v°: comes back as %v (%v)", test.deg, back, err)
		}
	}
	none := BearingOf(10)
	if err := json.Unmarshal([]byte("null"), &none); err != nil || none != (Bearing{}) || none.String() != "–" {
		t.Errorf("null is read as %v (%v)", none, err)
	}
	if text, err := json.Marshal(Bearing{}); err != nil || string(text) != "null" {
		t.Errorf("no bearing is written as %s (%v), want null", text, err)
	}
	if err := json.Unmarshal([]byte(`"north"`), &none); err == nil {
		t.Error("a word was read as a bearing")
	}
	if BearingOf(0) == (Bearing{}) {
		t.Error("north and no bearing are the same")
	}
}
