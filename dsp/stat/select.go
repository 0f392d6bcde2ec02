package stat

import "cmp"

// Select puts x into an order in which x[n] is the value that sorting would
// put there, with none greater before it and none smaller behind it, and gives
// it: Hoare's selection, in time proportional to len(x). It panics where n is
// no index of x; x holds no NaN.
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
