// Benches on all cores.

package sweep

import (
	"cmp"
	"context"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
)

// Study is a plan with what to do for a bench.
type Study struct {
	Plan
	// Do runs a bench and returns its results, always as many. It is called
	// from several goroutines at once.
	Do func(Bench) ([]float64, error)
	// Workers is how many benches run at once; 0 = one for each core.
	Workers int
	Shard   Shard
	// Progress hears how many benches of the shard are done, of how many; nil =
	// nobody does. It is called from one goroutine at a time.
	Progress func(done, of int)
}

// syncEvery is the most work that a loss of power costs.
const syncEvery = 2 * time.Second

// Run runs the benches of the shard that are not among done, and writes a row
// for each as it ends. On an error, of a bench or of ctx, no further bench
// begins; those that run are ended and written. It returns all rows of the
// shard in order of their numbers.
func (s *Study) Run(ctx context.Context, done []Row, write func(Row) error, syncNow func() error) ([]Row, error) {
	rows := tidy(done)
	have := make(map[int]bool, len(rows))
	for i := range rows {
		have[rows[i].Number] = true
	}
	var todo []int
	of := 0
	for n := range s.Benches() {
		if s.Shard.Holds(n) {
			of++
			if !have[n] {
				todo = append(todo, n)
			}
		}
	}
	fresh, err := s.each(ctx, todo, func(k int, r Row) error {
		if s.Progress != nil {
			s.Progress(of-len(todo)+k, of)
		}
		return write(r)
	}, syncNow)
	rows = append(rows, fresh...)
	slices.SortFunc(rows, byNumber)
	return rows, err
}

// each runs the benches of todo; ended sees each row, with how many have ended.
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
	// The first of the benches that fail: all before it were begun before it.
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

// tidy returns rows in order of their numbers, each once.
func tidy(rows []Row) []Row {
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, byNumber)
	return slices.CompactFunc(rows, func(a, b Row) bool { return a.Number == b.Number })
}

func byNumber(a, b Row) int { return cmp.Compare(a.Number, b.Number) }

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
