package scene

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/survey"
)

// A kind of antenna, known by a word in the antenna's name.
type kind int

const (
	terminator kind = iota
	whip
	loop
	dipole
)

var kindWords = []string{terminator: "terminator", whip: "whip", loop: "loop", dipole: "dipole"}

// An antenna turns field into power at the receiver's terminal; a terminator makes nothing
// of any field.
type antenna struct {
	factor   float64 // dB(1/m), flat: field over voltage into 50 ohm, amplifier included
	ownNoise float64 // dBµV/m/Hz: its amplifier's noise as a field
	sky      float64 // dB: mean response to fields from all round the sky
	ground   float64 // dB: mean response to the neighbourhood's vertically polarised noise
}

// Figures after PHYSICS.md 5.1 to 5.6: a whip of 1 m on a follower, a shielded
// loop of 1 m (28 dB(1/m) bare) on an amplifier of 18 dB, and a short dipole in
// the rafters, matched with loss. A loop takes up half of the power that comes
// from all directions, and a little more of steep rays, for which its null is shallow.
var antennas = []antenna{
	terminator: {factor: math.Inf(1)},
	whip:       {factor: 12.5, ownNoise: -41, sky: -0.6, ground: 0},
	loop:       {factor: 10, ownNoise: -37.5, sky: -2.2, ground: -2.8},
	dipole:     {factor: 4, ownNoise: -60, sky: -2.5, ground: -2},
}

// A placement is a room. Its losses are chosen: there is brick and foil around the
// study, and there are tiles over the loft.
type placement struct {
	name    string
	loss    float64 // dB, of fields from the sky
	wiring  float64 // dB: by how much the wiring raises the neighbourhood's noise
	allowed []kind
}

var placements = []placement{
	{name: "study", loss: 4.5, wiring: 2.5, allowed: []kind{whip, loop}},
	{name: "loft", loss: 1, wiring: 0, allowed: []kind{whip, loop, dipole}},
}

const (
	study = 0
	loft  = 1
)

// dipoleBearing is that of the wire in the rafters where the setup names none.
const dipoleBearing = 105

// mounted is a setup that the house has.
type mounted struct {
	kind    kind
	room    int     // index of placements
	bearing float64 // degrees; a loop's plane, a dipole's wire
}

// mount finds the antenna by the word in its name and the placement by its name.
func mount(s survey.Setup) (mounted, error) {
	k, err := kindOf(s.Antenna)
	if err != nil {
		return mounted{}, err
	}
	if k == terminator {
		return mounted{kind: terminator}, nil
	}
	m := mounted{kind: k, room: -1, bearing: dipoleBearing}
	var known []string
	for i, p := range placements {
		if !slices.Contains(p.allowed, k) {
			continue
		}
		known = append(known, p.name)
		if p.name == s.Placement {
			m.room = i
		}
	}
	if m.room < 0 {
		return mounted{}, fmt.Errorf("placement %q: not one for a %s in the simulated house; choose one of: %s", s.Placement, kindWords[k], strings.Join(known, ", "))
	}
	if s.Bearing.Known {
		m.bearing = s.Bearing.Deg
	} else if k == loop {
		return mounted{}, fmt.Errorf("a loop hears nothing without a bearing; give one, such as %v:40", s)
	}
	return m, nil
}

func kindOf(name string) (kind, error) {
	var found []kind
	for k, word := range kindWords {
		if strings.Contains(strings.ToLower(name), word) {
			found = append(found, kind(k))
		}
	}
	switch len(found) {
	case 0:
		return 0, fmt.Errorf("antenna %q: not in the simulated house; its name must hold one of: %s", name, strings.Join(kindWords, ", "))
	case 1:
		return found[0], nil
	}
	return 0, fmt.Errorf("antenna %q: both %s and %s; name one", name, kindWords[found[0]], kindWords[found[1]])
}

// terminalPower gives the power at the terminal, mW per (µV/m)²: a field of 1 µV/m
// behind a factor of 0 dB is 1 µV at 50 ohm, −106.99 dBm.
func (m mounted) terminalPower() float64 {
	return 2e-11 * fromDB(-antennas[m.kind].factor)
}

// The parts of a station's wave, which fade independently.
const (
	verticalPart   = iota // vertically polarised
	horizontalPart        // horizontally polarised
	housePart             // what the house reradiates
	parts
)

// A response is how a setup takes up the parts of a wave: amplitudes relative to the
// antenna factor.
type response [parts]float64

// power gives the mean over fading.
func (r response) power() (sum float64) {
	for _, a := range r {
		sum += a * a
	}
	return sum
}

// times gives the response scaled by a.
func (r response) times(a float64) response {
	for i := range r {
		r[i] *= a
	}
	return r
}

// reradiated is the share of a wave's amplitude that reaches a loop through wiring and
// gutters, whatever its bearing; it limits the depth of the null.
const reradiated = 0.3

// response gives the response to a wave from an azimuth at an elevation, degrees.
// A loop hears Ev·cos φ + Eh·sin ψ·sin φ (PHYSICS.md 5.5), a whip Ev·cos ψ, a
// level wire Eh across and Ev·sin ψ along itself.
func (m mounted) response(azimuth, elevation float64) response {
	sinE, cosE := math.Sincos(elevation * math.Pi / 180)
	sin, cos := math.Sincos((azimuth - m.bearing) * math.Pi / 180)
	var r response
	switch m.kind {
	case whip:
		r[verticalPart] = cosE
	case loop:
		r = response{verticalPart: cos, horizontalPart: sin * sinE, housePart: reradiated}
	case dipole:
		r = response{verticalPart: cos * sinE, horizontalPart: sin, housePart: reradiated / 2}
	}
	return r.times(math.Sqrt(fromDB(-placements[m.room].loss)))
}
