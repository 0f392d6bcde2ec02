package stat

import "math"

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
