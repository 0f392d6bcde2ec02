package survey

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
)

// A Bearing is where an antenna points, in degrees clockwise from true north;
// for a loop, the direction of its plane. The zero value is "no bearing".
// Bearings compare with ==.
type Bearing struct {
	Deg   float64 // 0 ≤ Deg < 360
	Known bool
}

// BearingOf gives the bearing of deg degrees, brought into 0 ≤ deg < 360 and rounded to 0.1°, which
// no antenna is turned to: 110.1° and a declination of 0.3° are 110.4°.
func BearingOf(deg float64) Bearing {
	deg = math.Round(10*math.Mod(deg, 360)) / 10
	if deg < 0 {
		deg = math.Round(10*(deg+360)) / 10 // the sum of two decimals is none
	}
	if deg >= 360 || deg == 0 { // what is just under 360 rounds up to it; −0 would be written "-0"
		deg = 0
	}
	return Bearing{Deg: deg, Known: true}
}

// String writes the bearing as 040°, or – where there is none.
func (b Bearing) String() string {
	if !b.Known {
		return "–"
	}
	zeros := strings.Repeat("0", max(0, 3-len(strconv.Itoa(int(b.Deg)))))
	return zeros + strconv.FormatFloat(b.Deg, 'f', -1, 64) + "°"
}

// From gives how far b lies clockwise from another bearing, −180 < deg ≤ 180.
func (b Bearing) From(other Bearing) float64 {
	d := math.Remainder(b.Deg-other.Deg, 360)
	if d == -180 {
		return 180
	}
	return d
}

// Opposite gives the bearing half a turn away, none for none.
func (b Bearing) Opposite() Bearing {
	if !b.Known {
		return b
	}
	return BearingOf(b.Deg + 180)
}

// MarshalJSON writes degrees, or null.
func (b Bearing) MarshalJSON() ([]byte, error) {
	if !b.Known {
		return []byte("null"), nil
	}
	return json.Marshal(b.Deg)
}

// UnmarshalJSON reads degrees or null.
func (b *Bearing) UnmarshalJSON(text []byte) error {
	var deg *float64
	if err := json.Unmarshal(text, &deg); err != nil {
		return err
	}
	*b = Bearing{}
	if deg != nil {
		*b = BearingOf(*deg)
	}
	return nil
}

// A Setup is what the receiver listens through. Setups compare with ==.
type Setup struct {
	Antenna   string  `json:"antenna"`
	Placement string  `json:"placement"`
	Bearing   Bearing `json:"bearing_deg"`
	// State is that of an antenna which was repeaked, and which Antenna then names together
	// with the time; zero for any other.
	State State `json:"-"`
}

// A State is what an antenna is from the time on at which it was repeaked.
type State struct {
	Antenna string // the name in the plan
	Clock   string // the time of day: the least that tells states apart
}
