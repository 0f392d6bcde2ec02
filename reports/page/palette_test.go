package page

import (
	"encoding/base64"
	"math"
	"os"
	"testing"
)

// The palette of the pictures runs through the OKLab space [Ottosson, "A
// perceptual color space for image processing", 2020] from a deep blue over
// violet and rose to a pale amber. Lightness rises all the way, so that the order
// of levels survives every kind of colour blindness and a black and white
// printer; neighbours stand equally far apart, so that equal steps in dB look
// equal. It serves light and dark pages alike.

// waypoints of the palette: lightness, chroma, hue in degrees, OKLab's polar form.
var waypoints = [][3]float64{
	{0.20, 0.075, 262},
	{0.38, 0.130, 285},
	{0.55, 0.145, 345},
	{0.74, 0.120, 50},
	{0.94, 0.085, 98},
}

// palette gives 256 colours, dark for low levels, at equal distances in OKLab.
func palette() [256][3]uint8 {
	const fine = 4096 // points of the path that distances are summed over
	var path [fine][3]float64
	var along [fine]float64
	for i := range path {
		path[i] = between(float64(i) / (fine - 1))
		if i > 0 {
			along[i] = along[i-1] + distance(path[i-1], path[i])
		}
	}
	var out [256][3]uint8
	at := 0
	for i := range out {
		goal := along[fine-1] * float64(i) / 255
		for at < fine-1 && along[at] < goal {
			at++
		}
		out[i] = srgb(path[at])
	}
	return out
}

// between gives the path's colour at 0 ≤ t ≤ 1 as L, a, b. The waypoints are
// joined in a, b rather than in hue, by cubic splines after Catmull and Rom, so
// that the path has no corners.
func between(t float64) [3]float64 {
	t *= float64(len(waypoints) - 1)
	i := min(int(t), len(waypoints)-2)
	t -= float64(i)
	p0, p1 := cartesian(max(i-1, 0)), cartesian(i)
	p2, p3 := cartesian(i+1), cartesian(min(i+2, len(waypoints)-1))
	var out [3]float64
	for k := range out {
		out[k] = 0.5 * (2*p1[k] + (p2[k]-p0[k])*t + (2*p0[k]-5*p1[k]+4*p2[k]-p3[k])*t*t +
			(3*p1[k]-p0[k]-3*p2[k]+p3[k])*t*t*t)
	}
	return out
}

func cartesian(i int) [3]float64 {
	l, c, h := waypoints[i][0], waypoints[i][1], waypoints[i][2]*math.Pi/180
	return [3]float64{l, c * math.Cos(h), c * math.Sin(h)}
}

func distance(p, q [3]float64) float64 {
	return math.Sqrt((p[0]-q[0])*(p[0]-q[0]) + (p[1]-q[1])*(p[1]-q[1]) + (p[2]-q[2])*(p[2]-q[2]))
}

// srgb converts OKLab to 8-bit sRGB; what lies outside is cut.
func srgb(lab [3]float64) [3]uint8 {
	l := cube(lab[0] + 0.3963377774*lab[1] + 0.2158037573*lab[2])
	m := cube(lab[0] - 0.1055613458*lab[1] - 0.0638541728*lab[2])
	s := cube(lab[0] - 0.0894841775*lab[1] - 1.2914855480*lab[2])
	linear := [3]float64{
		+4.0767416621*l - 3.3077115913*m + 0.2309699292*s,
		-1.2684380046*l + 2.6097574011*m - 0.3413193965*s,
		-0.0041960863*l - 0.7034186147*m + 1.7076147010*s,
	}
	var out [3]uint8
	for k, x := range linear {
		x = min(max(x, 0), 1)
		if x <= 0.0031308 {
			x *= 12.92
		} else {
			x = 1.055*math.Pow(x, 1/2.4) - 0.055
		}
		out[k] = uint8(math.Round(255 * x))
	}
	return out
}

func cube(x float64) float64 { return x * x * x }

// TestPaletteIsMade: the palette that the page carries, base64 of 256 × red, green, blue, is
// the one that is made here; -update writes it.
func TestPaletteIsMade(t *testing.T) {
	var bytes []byte
	for _, c := range palette() {
		bytes = append(bytes, c[:]...)
	}
	made := base64.StdEncoding.EncodeToString(bytes)
	if *update {
		if err := os.WriteFile("assets/palette.txt", []byte(made), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if text, err := os.ReadFile("assets/palette.txt"); err != nil || string(text) != made {
		t.Errorf("assets/palette.txt: %v; it is another palette, write it with -update", err)
	}
}
