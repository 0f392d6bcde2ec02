package survey

import "testing"

func TestComparableGains(t *testing.T) {
	exact := func(db DB) Gain { return Gain{db, true, true} }
	label := func(db DB) Gain { return Gain{db, true, false} }
	for _, test := range []struct {
		a, b   Gain
		offset DB
		ok     bool
	}{
		{exact(20), exact(14), 6, true}, {exact(14), exact(20), -6, true},
		{label(20), label(20), 0, true},  // the same step, whatever it is worth
		{label(20), label(14), 6, false}, // a label is no measured gain
		{exact(20), label(14), 6, false}, // nor half of two
		{Gain{}, Gain{}, 0, false},       // unknown is not alike
		{exact(20), Gain{DB: 20}, 0, false},
	} {
		offset, ok := test.a.Comparable(test.b)
		if offset != test.offset || ok != test.ok {
			t.Errorf("%+v against %+v: %v, %v, want %v, %v", test.a, test.b, offset, ok, test.offset, test.ok)
		}
	}
}

func TestFlags(t *testing.T) {
	q := Quality{Flags: []string{FlagCrowded, FlagShort}}
	if !q.Has(FlagShort) || !q.Has(FlagCrowded) || q.Has(FlagOverload) || (Quality{}).Has(FlagShort) {
		t.Errorf("%+v", q)
	}
}
