// This file finds the name that was meant where one was found that nobody knows.

package enum

import "strings"

// Meant returns the name of the list that found was most likely meant to be, "" if
// none is near: one that differs in case, in spaces, hyphens and underscores, in one
// letter or, of more than five letters, in two, or that goes on where found ends.
func Meant(found string, names []string) string {
	plain := func(s string) string {
		return strings.NewReplacer("_", "", "-", "", " ", "").Replace(strings.ToLower(s))
	}
	f := plain(found)
	best, nearest := "", 3
	for _, name := range names {
		n := plain(name)
		off := 3
		switch {
		case len(f) > 5 && strings.HasPrefix(n, f):
			off = 2
		case len(f) > len(n)+2: // however long it is
		case swapped(f, n):
			off = 1
		default:
			off = EditDistance(f, n)
		}
		if off < nearest && (off < 2 || len(n) > 5) {
			best, nearest = name, off
		}
	}
	return best
}

// swapped reports whether a is b but for two neighbouring letters that changed places.
func swapped(a, b string) bool {
	for i := range len(a) - 1 {
		if len(a) == len(b) && a[:i] == b[:i] && a[i] == b[i+1] && a[i+1] == b[i] && a[i+2:] == b[i+2:] && a != b {
			return true
		}
	}
	return false
}

// EditDistance is the number of letters to insert, delete or replace to get
// from a to b (Levenshtein 1966).
func EditDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
