// Package golden compares what tests make with files that show what it should be.
//
// Text must be the same. Figures that are given to more places than are promised may
// differ in those: by 0.01 (dB, degrees) from 1 to 1,000 and by 0.1 (Hz) above, and any
// by one in the last place. So the rounding of another processor changes nothing.
package golden

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// figure matches a number without its sign.
var figure = regexp.MustCompile(`\d+(\.\d+)?`)

// Difference gives the first line, counted from 1, in which two texts differ, and how
// it reads in both; 0 where they do not.
func Difference(got, want string) (line int, g, w string) {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(a), len(b)) {
		g, w := lineAt(a, i), lineAt(b, i)
		if !same(g, w) {
			return i + 1, g, w
		}
	}
	return 0, "", ""
}

func lineAt(lines []string, i int) string {
	if i >= len(lines) {
		return "(end)"
	}
	return lines[i]
}

// same tells whether two lines are the same but for places that are not promised.
func same(g, w string) bool {
	if g == w {
		return true
	}
	if figure.ReplaceAllString(g, "0") != figure.ReplaceAllString(w, "0") {
		return false
	}
	a, b := figure.FindAllString(g, -1), figure.FindAllString(w, -1)
	for i := range a {
		if a[i] != b[i] && !close(a[i], b[i]) {
			return false
		}
	}
	return true
}

// places gives how many digits stand behind a number's point.
func places(number string) int {
	_, fraction, _ := strings.Cut(number, ".")
	return len(fraction)
}

// close tells whether two numbers are the same in all places that are promised.
func close(a, b string) bool {
	if max(places(a), places(b)) < 3 { // as it is shown
		return false
	}
	x, err := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	if err != nil || err2 != nil {
		return false
	}
	allowed := max(math.Pow(10, -float64(max(places(a), places(b)))), 1e-12)
	switch larger := max(x, y); {
	case larger >= 1000:
		allowed = max(allowed, 0.1)
	case larger >= 1:
		allowed = max(allowed, 0.01)
	}
	return math.Abs(x-y) <= 1.001*allowed
}
