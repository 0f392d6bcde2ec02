package result

import "testing"

func TestRoundNumbers(t *testing.T) {
	for in, want := range map[string]string{
		`{"a":1.23456789,"b":"1.23456789 \"2.34567891","c":-0.00000001234567}`: `{"a":1.2346,"b":"1.23456789 \"2.34567891","c":-0.00000001235}`,
		`[9420000.4,6.200000000001,-0.00,1e3,12,3.0,-1e-300]`:                  `[9420000.4,6.2,0,1000,12,3,0]`,
	} {
		if got := string(roundNumbers([]byte(in))); got != want {
			t.Errorf("%s: %s, want %s", in, got, want)
		}
	}
}
