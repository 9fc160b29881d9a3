// Package celldist computes how far each cell of a grid is from the nearest of some.
package celldist

import "math"

// Around calls set for each cell k of a grid of nx columns and ny rows, numbered row by
// row, with the square of its distance, in cells, to the nearest marked cell or neighbour of
// one. The distances are computed exactly: along columns first, then along rows as the lower
// envelope of parabolas (Felzenszwalb and Huttenlocher 2012, Theory of Computing 8:415-428).
func Around(marked []bool, nx, ny int, set func(k int, squared int64)) {
	far := int32(nx + ny)
	rows := make([]int32, nx*ny) // to the nearest such cell in the same column
	for k := range rows {
		rows[k] = far
	}
	for k := range rows {
		if !marked[k] {
			continue
		}
		ix, iy := k%nx, k/nx
		for y := max(iy-1, 0); y <= min(iy+1, ny-1); y++ {
			for x := max(ix-1, 0); x <= min(ix+1, nx-1); x++ {
				rows[y*nx+x] = 0
			}
		}
	}
	for k := nx; k < len(rows); k++ {
		rows[k] = min(rows[k], rows[k-nx]+1)
	}
	for k := len(rows) - nx - 1; k >= 0; k-- {
		rows[k] = min(rows[k], rows[k+nx]+1)
	}
	e := envelope{at: make([]int32, nx), from: make([]float64, nx+1)}
	for iy := range ny {
		e.transform(rows[iy*nx:][:nx], func(ix int, squared int64) { set(iy*nx+ix, squared) })
	}
}

// envelope is the lower envelope of the parabolas of one row.
type envelope struct {
	at   []int32   // columns of the parabolas that are lowest somewhere
	from []float64 // from where on each is the lowest
}

// transform calls set for each x with the smallest (x - i)² + rows[i]² of all i.
func (e *envelope) transform(rows []int32, set func(x int, squared int64)) {
	height := func(i int32) float64 {
		return float64(float64(i)*float64(i)) + float64(float64(rows[i])*float64(rows[i]))
	}
	n := 0
	for i := range int32(len(rows)) {
		from := math.Inf(-1)
		for n > 0 {
			// The parabolas at j and i meet where
			// x = ((i² + rows[i]²) - (j² + rows[j]²)) / 2(i - j).
			j := e.at[n-1]
			from = (height(i) - height(j)) / (2 * float64(i-j))
			if from > e.from[n-1] {
				break
			}
			n--
			from = math.Inf(-1)
		}
		e.at[n], e.from[n] = i, from
		n++
	}
	k := 0
	for x := range rows {
		for k+1 < n && e.from[k+1] < float64(x) {
			k++
		}
		i := e.at[k]
		d, r := int64(x)-int64(i), int64(rows[i])
		set(x, d*d+r*r)
	}
}
