package baseline

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Through points that lie straight the course is the straight line of least
// squares, and knows its error.
func TestCourseThroughStraightPoints(t *testing.T) {
	const n, sigma = 200, 0.04
	r := rand.New(rand.NewPCG(1, 2))
	c := newCourse(n)
	weight := make([]float64, n)
	for g := range n {
		c.y[g], c.variance[g] = -20+0.01*float64(g)+sigma*r.NormFloat64(), sigma*sigma
		weight[g] = 1
	}
	c.follow()
	for g, x := range c.x {
		// At its ends the line scatters by 2σ/√n = 0.006; four of those.
		if e := x + 20 - 0.01*float64(g); math.Abs(e) > 0.024 {
			t.Fatalf("point %d: %.4f off", g, e)
		}
	}
	// The sum of n points scatters by σ√n.
	if got, want := c.doubt(weight), sigma*math.Sqrt(n); math.Abs(got/want-1) > 0.02 {
		t.Errorf("doubt of the sum %.4f, want %.4f", got, want)
	}
}

// Over a gap the course goes on as the points beside it bend, and its doubt of
// the sum over the gap is what such sums are off.
func TestCourseOverGap(t *testing.T) {
	const n, from, to, sigma, period, trials = 160, 75, 81, 0.03, 24.0, 200
	r := rand.New(rand.NewPCG(3, 4))
	c := newCourse(n)
	weight := make([]float64, n)
	for g := from; g < to; g++ {
		weight[g] = 1
	}
	var squares, doubts, straight float64
	for range trials {
		phase := 2 * math.Pi * r.Float64()
		at := func(g int) float64 { return 0.3 * math.Sin(2*math.Pi*float64(g)/period+phase) }
		for g := range n {
			c.y[g], c.variance[g] = at(g)+sigma*r.NormFloat64(), sigma*sigma
		}
		for g := from; g < to; g++ {
			c.variance[g] = math.Inf(1)
		}
		c.follow()
		var off, chord float64
		for g := from; g < to; g++ {
			u := float64(g-from+1) / float64(to-from+1)
			off += c.x[g] - at(g)
			chord += (1-u)*at(from-1) + u*at(to) - at(g)
		}
		d := c.doubt(weight)
		squares, straight, doubts = squares+off*off, straight+chord*chord, doubts+d*d
	}
	// The course takes ripple for a slope that wanders at random, so its doubt is
	// right within a factor of two or so; of 200 trials the rms is good to 5 %.
	if ratio := math.Sqrt(squares / doubts); ratio < 0.4 || ratio > 1.3 {
		t.Errorf("rms error over doubt %.2f", ratio)
	}
	t.Logf("rms error over a gap of %d: %.3f, of a straight line %.3f, doubt %.3f",
		to-from, math.Sqrt(squares/trials), math.Sqrt(straight/trials), math.Sqrt(doubts/trials))
	// A straight line between the true ends, without any noise, cuts off the bends.
	if squares > straight/2 {
		t.Errorf("mean square error %.4f, of a straight line %.4f", squares/trials, straight/trials)
	}
}

// A step is kept as steep as it is.
func TestCourseAtStep(t *testing.T) {
	const n, at, sigma = 100, 60, 0.03
	r := rand.New(rand.NewPCG(5, 6))
	c := newCourse(n)
	for g := range n {
		y := 0.0
		if g >= at {
			y = 1.4
		}
		c.y[g], c.variance[g] = y+sigma*r.NormFloat64(), sigma*sigma
	}
	c.step[at] = 2
	c.follow()
	for g := at - 3; g < at+3; g++ {
		want := 0.0
		if g >= at {
			want = 1.4
		}
		// A straight end of 40 points scatters by 2σ/√40 = 0.0095; four of those.
		if math.Abs(c.x[g]-want) > 0.04 {
			t.Errorf("point %d: %.3f, want %.1f", g, c.x[g], want)
		}
	}
}
