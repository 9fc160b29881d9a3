// This file joins the journals of a study's shards.

package sweep

import (
	"fmt"
	"slices"
	"strings"
)

// Merge returns the rows of several journals of one study, ordered by number. It
// fails if the journals are not of the same study, if two of them have different
// results for a bench, or if a bench is missing.
func Merge(paths []string) (Head, []Row, error) {
	var head Head
	var all []Row
	var begun []string // each program and processor once
	for i, path := range paths {
		h, rows, err := ReadJournal(path)
		if err != nil {
			return head, nil, fmt.Errorf("%s: %w", path, err)
		}
		if i == 0 {
			head = h
		}
		h.Shard = head.Shard
		if !head.same(&h) {
			return head, nil, fmt.Errorf("%s: %w than %s", path, ErrOtherStudy, paths[0])
		}
		if by := h.begunBy(); !slices.Contains(begun, by) {
			begun = append(begun, by)
		}
		all = append(all, rows...)
	}
	rows := tidy(all)
	if err := agree(all, rows); err != nil {
		return head, nil, fmt.Errorf("%w (they were begun %s)", err, strings.Join(begun, ", "))
	}
	for i := range head.Plan.Benches() {
		if i >= len(rows) || rows[i].Number != i {
			return head, nil, fmt.Errorf("the journals hold %d of %d benches, and number %d is the first that is missing; expected the journals of all shards, each run to its end", len(rows), head.Plan.Benches(), i)
		}
	}
	return head, rows, nil
}

// agree returns an error if two rows of one bench differ.
func agree(all, rows []Row) error {
	at := make(map[int]int, len(rows))
	for i := range rows {
		at[rows[i].Number] = i
	}
	for _, r := range all {
		for k, v := range rows[at[r.Number]].Results {
			if w := r.Results[k]; w != v && !(w != w && v != v) {
				return fmt.Errorf("bench %d has two results, %g and %g; expected journals of one program on one kind of processor", r.Number, v, w)
			}
		}
	}
	return nil
}
