package golden

import "testing"

func TestDifference(t *testing.T) {
	for _, test := range []struct {
		got, want string
		line      int
	}{
		{"a\nb 3.1\n", "a\nb 3.1\n", 0},
		{"a\nb 3.1\n", "a\nb 3.2\n", 2},           // as it is shown
		{"a", "a\nb", 2},                          // cut short
		{"-98.4643 dB", "-98.4559 dB", 0},         // 0.01 dB
		{"-98.4643 dB", "-98.4443 dB", 1},         //
		{"-98.4643 dB", "98.4643 dB", 1},          // the sign is text
		{"9420000.1234 Hz", "9420000.2 Hz", 0},    // 0.1 Hz
		{"9420000.1234 Hz", "9420000.3234 Hz", 1}, //
		{"0.9998", "0.9999", 0},                   // one in the last place
		{"0.94", "0.9399", 0},                     //
		{"0.999999", "0.9999", 1},                 // a chance a hundred times as high
		{"7.300000000000001", "7.3", 0},           // a sum in another order
		{"0.30000000000000004 x", "0.3 x", 0},     //
		{"12 of 3", "12 of 4", 1},                 // counts
		{"codes 0.12345", "code 0.12345", 1},      // words
	} {
		if line, _, _ := Difference(test.got, test.want); line != test.line {
			t.Errorf("%q, %q: line %d, want %d", test.got, test.want, line, test.line)
		}
	}
}
