package stat

import (
	"cmp"
	"math"
)

// Select partly sorts x so that x[n] is the value that sorting would put there, with
// none greater before it and none smaller behind it, and returns it. The time is
// proportional to len(x) [Hoare:1961, pp. 321-322]. It panics where n is no index of x;
// x holds no NaN.
func Select[F cmp.Ordered](x []F, n int) F {
	low, high := 0, len(x)-1
	for low < high {
		pivot := middleOf(x[low], x[(low+high)/2], x[high])
		i, j := low, high
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for pivot < x[j] {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			high = j
		case n >= i:
			low = i
		default:
			return x[n]
		}
	}
	return x[n]
}

// middleOf gives the middle one of three values.
func middleOf[F cmp.Ordered](a, b, c F) F {
	if a > b {
		a, b = b, a
	}
	return max(a, min(b, c))
}

// MedianSpread gives the median of x, of an even number the upper of the middle two,
// and its spread: the standard deviation of normal values with the same median absolute
// deviation. A few values far off hardly move them [Hampel:1974, pp. 383-393]. It
// overwrites x.
func MedianSpread[F float32 | float64](x []F) (median, spread F) {
	median = Select(x, len(x)/2)
	for i, v := range x {
		x[i] = max(v-median, median-v)
	}
	return median, Select(x, len(x)/2) / NormalQuartile
}

// Vertex gives the place of the vertex of a downward parabola through three values at
// −1, 0 and 1, held to ±½; 0 where the parabola does not bend down.
func Vertex(before, middle, after float64) float64 {
	if bend := before - 2*middle + after; bend < 0 {
		return max(-0.5, min(0.5, 0.5*(before-after)/bend))
	}
	return 0
}

// NearestPairs pairs rows with columns, each with one at the most, the nearest pair first, of
// pairs equally near the first by row. The distance of a pair that cannot be is +Inf. It gives
// the column of each row, −1 for none.
func NearestPairs(rows, columns int, distance func(row, column int) float64) (columnOf []int) {
	columnOf = make([]int, rows)
	for i := range columnOf {
		columnOf[i] = -1
	}
	taken := make([]bool, columns)
	for range rows {
		best, row, column := math.Inf(1), -1, -1
		for i := range rows {
			for k := range columns {
				if columnOf[i] >= 0 || taken[k] {
					continue
				}
				if d := distance(i, k); d < best {
					best, row, column = d, i, k
				}
			}
		}
		if row < 0 {
			break
		}
		columnOf[row], taken[column] = column, true
	}
	return columnOf
}
