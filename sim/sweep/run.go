// This file runs benches on all cores.

package sweep

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"
	"time"
)

// Study is a plan together with the function that runs one bench.
type Study struct {
	Plan
	// Do runs a bench and returns its results, the same number for every bench.
	// It is called from several goroutines at once.
	Do func(Bench) ([]float64, error)
	// Workers is how many benches run at once; 0 = one for each core.
	Workers int
	Shard   Shard
	// Progress is told, after each bench, how many benches of the shard are done
	// and how many there are in all; nil = nobody is told. It is called from one
	// goroutine at a time.
	Progress func(done, total int)
}

// syncEvery is how often rows are flushed to the disk, so a power cut loses at
// most the work of about this time.
const syncEvery = 2 * time.Second

// Run runs the benches of the shard that have no row in done, and calls write
// with the row of each when it ends. If a bench fails or ctx ends, no further
// bench is begun, but the rows of those that are running are still written. It
// returns all rows of the shard, those of done included, ordered by number.
func (s *Study) Run(ctx context.Context, done []Row, write func(Row) error, syncNow func() error) ([]Row, error) {
	rows := tidy(done)
	have := make(map[int]bool, len(rows))
	for i := range rows {
		have[rows[i].Number] = true
	}
	var todo []int
	total := 0
	for n := range s.Benches() {
		if s.Shard.Holds(n) {
			total++
			if !have[n] {
				todo = append(todo, n)
			}
		}
	}
	fresh, err := s.each(ctx, todo, func(k int, r Row) error {
		if s.Progress != nil {
			s.Progress(total-len(todo)+k, total)
		}
		return write(r)
	}, syncNow)
	rows = append(rows, fresh...)
	sortByNumber(rows)
	return rows, err
}

// each runs the benches with the numbers in todo. When one has ended it calls
// ended with the row and with k, how many have ended so far.
func (s *Study) each(ctx context.Context, todo []int, ended func(k int, r Row) error, syncNow func() error) ([]Row, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	workers := s.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	type result struct {
		Row
		err error
	}
	numbers, results := make(chan int), make(chan result)
	var running sync.WaitGroup
	for range min(workers, len(todo)) {
		running.Go(func() {
			for n := range numbers {
				r, err := s.Do(s.Bench(n))
				if err != nil {
					cancel(err) // before the next number is taken
				}
				results <- result{Row{n, r}, err}
			}
		})
	}
	go func() {
		defer func() { close(numbers); running.Wait(); close(results) }()
		for _, n := range todo {
			select {
			case numbers <- n:
			case <-ctx.Done():
				return
			}
		}
	}()
	rows := make([]Row, 0, len(todo))
	synced := time.Now()
	var failed error
	// The failed bench with the lowest number. Benches are begun in order, so
	// this does not depend on which fails first.
	var first result
	for r := range results {
		if r.err != nil {
			if first.err == nil || r.Number < first.Number {
				first = r
			}
			continue
		}
		if failed != nil {
			continue
		}
		if failed = ended(len(rows)+1, r.Row); failed == nil && time.Since(synced) > syncEvery {
			failed = syncNow()
			synced = time.Now()
		}
		if failed != nil {
			cancel(failed)
			continue
		}
		rows = append(rows, r.Row)
	}
	switch {
	case failed != nil:
		return rows, failed
	case first.err != nil:
		return rows, &BenchError{Bench: s.Bench(first.Number), Axes: s.Axes, Err: first.err}
	}
	return rows, context.Cause(ctx)
}

// tidy returns the rows ordered by number, without repeated numbers.
func tidy(rows []Row) []Row {
	rows = slices.Clone(rows)
	sortByNumber(rows)
	return slices.CompactFunc(rows, func(a, b Row) bool { return a.Number == b.Number })
}

// sortByNumber orders rows by number; those of one number keep their order.
func sortByNumber(rows []Row) {
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].Number < rows[j].Number })
}

// BenchError says which bench failed.
type BenchError struct {
	Bench Bench
	Axes  []Axis
	Err   error
}

func (e *BenchError) Error() string {
	var b strings.Builder
	for i := range e.Axes {
		fmt.Fprintf(&b, "%s = %g, ", e.Axes[i].Key, e.Bench.Values[i])
	}
	return fmt.Sprintf("%sseed %d: %v", b.String(), e.Bench.Seed, e.Err)
}

func (e *BenchError) Unwrap() error { return e.Err }
