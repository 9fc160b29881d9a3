// The subsets of terms that are tried.

package regress

import (
	"iter"
	"slices"
)

// Supersets yields the subsets of n terms with so many members that are to be tried
// after best, the best one with one member less. From three on there are none if best
// has another size.
func Supersets(best []int, n, size int) iter.Seq[[]int] {
	return func(yield func([]int) bool) {
		buf := make([]int, 0, size)
		for i := range n {
			switch {
			case size == 1:
				if !yield(append(buf, i)) {
					return
				}
			case size == 2:
				for j := i + 1; j < n; j++ {
					if !yield(append(buf, i, j)) {
						return
					}
				}
			case len(best) == size-1 && !slices.Contains(best, i):
				if !yield(append(append(buf, best...), i)) {
					return
				}
				for k := range best {
					rest := append(append(buf, best[:k]...), best[k+1:]...)
					for j := i + 1; j < n; j++ {
						if !slices.Contains(rest, j) && !yield(append(rest, i, j)) {
							return
						}
					}
				}
			}
		}
	}
}
