// Several sections measured on one pass: they share its speed and the driver's error, so they are not as
// many readings that know nothing of each other.

package tape

import (
	"math"

	"liftbench/replay/diagnose/regress"
)

// PassesOf are the readings of each pass, by their index, in the order of the first of each. Readings are
// of one pass that have its name, its speed and its direction; one without a name is a pass of its own.
func PassesOf(list []Reading) [][]int {
	type key struct {
		name, direction string
		mps             float64
	}
	at := map[key]int{}
	var out [][]int
	for i := range list {
		r := &list[i]
		k := key{r.Pass, r.Direction, r.SpeedMps}
		p, known := at[k]
		if !known || r.Pass == "" {
			p = len(out)
			out = append(out, nil)
			at[k] = p
		}
		out[p] = append(out[p], i)
	}
	return out
}

// within is what readings tell beside the others of their pass: one effect for each pass, and the sections'.
type within struct {
	line   regress.Fit
	cols   [][]float64 // of the sections, each less its mean over the pass; none = no section's time is fitted
	y      []float64   // less its mean over the pass
	shares []float64   // how much of a reading the mean of its pass takes up: 1 / readings of the pass
}

// besidePass fits columns of sections to what readings have beside the others of their pass, with the
// sums of least squares with one effect for each pass. ok is false if the columns cannot be told apart.
func besidePass(passes [][]int, cols [][]float64, y []float64) (w within, ok bool) {
	w = within{shares: make([]float64, len(y)), y: less(passes, y)}
	for _, p := range passes {
		for _, i := range p {
			w.shares[i] = 1 / float64(len(p))
		}
	}
	for _, c := range cols {
		w.cols = append(w.cols, less(passes, c))
	}
	w.line, ok = regress.NewGram(w.cols, w.y, FloorM).Fit(upTo(len(cols))...)
	if w.line.DF -= len(passes); !ok || w.line.DF < 1 {
		return w, false
	}
	w.line.Refine(w.cols, w.y, FloorM)
	return w, true
}

// less takes from each reading the mean of its pass.
func less(passes [][]int, x []float64) []float64 {
	out := make([]float64, len(x))
	for _, p := range passes {
		m := meanOf(p, x)
		for _, i := range p {
			out[i] = x[i] - m
		}
	}
	return out
}

// meanOf is the mean of x over a pass.
func meanOf(pass []int, x []float64) float64 {
	sum := 0.0
	for _, i := range pass {
		sum += x[i]
	}
	return sum / float64(len(pass))
}

// readingM is how far single readings scatter, the pass and what each has for itself together, where
// means of passes scatter by passM and readings beside their pass by the line's: σ² of a mean is the
// pass's own and that of a reading over the readings of the pass.
func (w *within) readingM(passes [][]int, passM float64) float64 {
	share := 0.0
	for _, p := range passes {
		share += 1 / float64(len(p)) / float64(len(passes))
	}
	return math.Sqrt(passM*passM + w.line.Sigma*w.line.Sigma*(1-share))
}
