// Mutate changes the code of the core packages at random, one place at a time,
// and counts how many of the changes each package's own tests notice. By hand,
// from the top of the tree:
//
//	nice go run .ci/mutate/*.go
//
// It prints a table and every mutant that went unnoticed. It fails if fewer
// than 90 % are caught. A mutant that no test can catch, because the program
// does the same with it, is listed with the reason in equivalent.tsv.
//
// The tree is not touched: mutants reach the compiler by -overlay.
package main

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"sync"
	"text/tabwriter"
)

// packages are mutated; with --n 200 each gets so many mutants, about as many for each of its
// lines; those with slow tests get fewer. The first group is what were six packages before they
// were split and shares the 200; the field's, worked and schedule come on top.
var packages = []struct {
	dir   string
	of200 int
}{
	{"sections", 42},
	{"nmea", 26},
	{"nmea/epoch", 16},
	{"sim/hydraulics", 20},
	{"sections/score", 36},
	{"sections/score/sample", 2},
	{"sections/motion", 18},
	{"sections/exact", 4},
	{"replay/diagnose", 14},
	{"replay/diagnose/peers", 3},
	{"replay/diagnose/response", 8},
	{"replay/diagnose/evidence", 6},
	{"replay/diagnose/regress", 5},

	{"sections/field", 40},
	{"sections/field/headland", 12},
	{"sections/field/polygon", 14},
	{"sections/geodesy", 6},

	{"sections/worked", 20},
	{"sections/schedule", 20},
}

// leastCaught is the share of mutants that must be noticed.
const leastCaught = 0.9

func main() {
	seed := flag.Uint64("seed", 1, "which mutants are drawn")
	n := flag.Int("n", 200, "mutants, over all packages")
	workers := flag.Int("p", 2, "mutants tried at once")
	only := flag.String("only", "", "packages to try, with commas between; all if empty")
	timeout := flag.Duration("timeout", 0, "a mutant that runs longer counts as caught; 0 = 60 s, 180 s for replay/diagnose")
	flag.Parse()
	if err := os.Chdir(top()); err != nil {
		fail(err)
	}
	known, err := readEquivalent(".ci/mutate/equivalent.tsv")
	if err != nil {
		fail(err)
	}
	bench, err := newBench()
	if err != nil {
		fail(err)
	}
	defer bench.close()

	var all tally
	table := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(table, "package\tmutants\tcaught\tof them hung\tequivalent\tsurvive\t")
	for _, p := range packages {
		if *only != "" && !strings.Contains(","+*only+",", ","+p.dir+",") {
			continue
		}
		limit := *timeout
		if limit == 0 {
			limit = defaultTimeout(p.dir)
		}
		mutants, err := find(p.dir)
		if err != nil {
			fail(err)
		}
		if out, err := bench.test(p.dir, nil, limit); err != nil {
			fail(fmt.Errorf("%s fails unchanged, so it shows nothing:\n%s", p.dir, out))
		}
		r := rand.New(rand.NewPCG(*seed, 0))
		r.Shuffle(len(mutants), func(i, j int) { mutants[i], mutants[j] = mutants[j], mutants[i] })
		got, alive := try(bench, mutants, (*n*p.of200+199)/200, *workers, limit, known)
		all.add(got)
		got.row(table, p.dir)
		for _, m := range alive {
			fmt.Printf("%s:%d\t%s\n", m.file, m.line, m.change())
		}
	}
	all.row(table, "all")
	fmt.Println()
	table.Flush()
	share := float64(all.caught) / float64(max(all.mutants-all.equivalent, 1))
	fmt.Printf("\nseed %d: %.1f %% of the mutants that are not listed as equivalent were caught, %.1f %% of all\n",
		*seed, 100*share, 100*float64(all.caught)/float64(max(all.mutants, 1)))
	if share < leastCaught || all.wrong > 0 {
		bench.close()
		os.Exit(1)
	}
}

// tally counts mutants by what became of them.
type tally struct {
	mutants, caught, hung, equivalent, survive int
	wrong                                      int // listed as equivalent, yet caught
}

func (t *tally) add(u tally) {
	t.mutants += u.mutants
	t.caught += u.caught
	t.hung += u.hung
	t.equivalent += u.equivalent
	t.survive += u.survive
	t.wrong += u.wrong
}

func (t *tally) row(w *tabwriter.Writer, name string) {
	fmt.Fprintf(w, "%s\t%d\t%d\t%d\t%d\t%d\t\n", name, t.mutants, t.caught, t.hung, t.equivalent, t.survive)
}

// try runs mutants in their order until n of them have compiled. Whatever the
// number of workers, the same n are counted.
func try(b *bench, mutants []mutant, n, workers int, limit duration, known map[string]bool) (tally, []mutant) {
	fates := make([]fate, len(mutants))
	var mu sync.Mutex
	next, compiled := 0, 0
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				if i == len(mutants) || compiled >= n {
					mu.Unlock()
					return
				}
				next++
				mu.Unlock()
				f := b.fate(&mutants[i], limit)
				mu.Lock()
				fates[i] = f
				if f != unbuildable {
					compiled++
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	var t tally
	var alive []mutant
	for i, f := range fates[:next] {
		if f == unbuildable || t.mutants == n {
			continue
		}
		t.mutants++
		listed := known[mutants[i].key()]
		switch {
		case f == survived && listed:
			t.equivalent++
		case f == survived:
			t.survive++
			alive = append(alive, mutants[i])
		default:
			t.caught++
			if f == hung {
				t.hung++
			}
			if listed {
				t.wrong++
				fmt.Printf("%s is listed as equivalent, yet was caught\n", mutants[i].key())
			}
		}
	}
	return t, alive
}

// top is the directory with go.mod.
func top() string {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}").Output()
	if err != nil {
		fail(fmt.Errorf("go list -m: %w; expected to be run inside the tree", err))
	}
	return strings.TrimSpace(string(out))
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, "mutate:", err)
	os.Exit(2)
}
