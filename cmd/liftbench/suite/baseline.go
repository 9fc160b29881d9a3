// Results kept in a file, and new ones beside them: better, worse, or within noise.

package suite

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/sections/score/sample"
)

// resultFile is the name of the results in a folder.
const resultFile = "suite.json"

// kept is the file of results.
type kept struct {
	Format string             `json:"format"`
	Drives map[string]*Result `json:"drives"`
}

// maxKept bounds the file that is read: the whole suite takes a tenth of it.
const maxKept = 2 << 20

func format() string { return fmt.Sprintf("liftbench suite %d", Version) }

// WriteResults writes results as JSON, a drive a line.
func WriteResults(list []Result, w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "{\"format\": %q, \"drives\": {", format())
	for i := range list {
		text, err := json.Marshal(&list[i])
		if err != nil {
			return err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "\n%q: %s", list[i].Name, text)
	}
	b.WriteString("\n}}\n")
	_, err := w.Write(b.Bytes())
	return err
}

// resultPath is the file of results that a path names: itself, or one in a folder.
func resultPath(path string) string {
	if info, err := os.Stat(path); err == nil && info.IsDir() || strings.HasSuffix(path, string(filepath.Separator)) {
		return filepath.Join(path, resultFile)
	}
	return path
}

// ReadResults reads what WriteResults wrote.
func ReadResults(path string) (map[string]*Result, error) {
	path = resultPath(path)
	f, err := os.Open(path)
	if err != nil {
		return nil, failure.Opening(path, "results of the suite", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxKept+1))
	if err != nil {
		return nil, failure.Opening(path, "results of the suite", err)
	}
	return parseResults(path, data)
}

func parseResults(path string, data []byte) (map[string]*Result, error) {
	bad := func(form string, args ...any) (map[string]*Result, error) {
		return nil, &failure.Input{File: path, Msg: fmt.Sprintf(form, args...) + "; expected results of suite " + fmt.Sprint(Version) + " as --update writes them"}
	}
	if len(data) > maxKept {
		return bad("is larger than %d MiB", maxKept>>20)
	}
	var k kept
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&k); err != nil {
		return bad("%v", err)
	}
	if k.Format != format() {
		return bad("format %q", k.Format)
	}
	for name, r := range k.Drives {
		if r == nil {
			return bad("%s: nothing", name)
		}
		n := 0
		for _, c := range r.Crossings {
			if c < 1 || c > len(r.PlaceMm) {
				return bad("%s: a crossing of %d moves", name, c)
			}
			n += c
		}
		if n != len(r.PlaceMm) || r.Extra < 0 || r.Missed < 0 || r.Missed > n {
			return bad("%s: %d moves in crossings of %d, %d missed, %d extra", name, len(r.PlaceMm), n, r.Missed, r.Extra)
		}
		for _, p := range r.PlaceMm {
			if p < -lostMm || p > lostMm {
				return bad("%s: a place error of %d mm", name, p)
			}
		}
		r.Name = name
	}
	return k.Drives, nil
}

// UpdateResults writes the new baseline: the old one with what was run in its place.
func UpdateResults(path string, list []Result, drives []Drive) error {
	path = resultPath(path)
	old, err := ReadResults(path)
	if err != nil && !os.IsNotExist(unwrapped(err)) {
		old = nil // another version, or damaged: it is what --update is for
	}
	byName := map[string]Result{}
	for name, r := range old {
		byName[name] = *r
	}
	for _, r := range list {
		byName[r.Name] = r
	}
	var all []Result
	for _, d := range drives {
		if r, ok := byName[d.Name]; ok {
			all = append(all, r)
		}
	}
	return files.WriteWhole(path, func(w io.Writer) error { return WriteResults(all, w) })
}

// unwrapped is what the system said.
func unwrapped(err error) error {
	for {
		u, ok := err.(interface{ Unwrap() error })
		if !ok || u.Unwrap() == nil {
			return err
		}
		err = u.Unwrap()
	}
}

// Verdict is what a change is.
type Verdict uint8

const (
	Same   Verdict = iota // bit for bit
	Noise                 // the interval holds 0
	Better                // it lies below 0
	Worse                 // it lies above 0
)

func (v Verdict) String() string {
	return [...]string{"the same", "within noise", "better", "worse"}[v]
}

// Change is how much more, per lift or drop, is lost on the ground than before.
type Change struct {
	MeanMm, LowMm, HighMm float64
	Paired                bool // the same chances, crossing by crossing
	Down                  bool // a tool stays in work while no position comes, as it did not before
	Verdict               Verdict
}

// sums are those of one crossing, or of two that are paired.
type sums struct{ lossMm, moves float64 }

// losses returns the sums of each crossing of a drive. What is extra is a crossing of
// its own without moves.
func losses(r *Result) (list []sums) {
	at := 0
	for _, n := range r.Crossings {
		s := sums{moves: float64(n)}
		for _, p := range r.PlaceMm[at : at+n] {
			s.lossMm += math.Abs(float64(p))
		}
		at += n
		list = append(list, s)
	}
	return append(list, sums{lossMm: float64(r.Extra * lostMm)})
}

// ratio is the loss per move and its squared standard error, crossings drawn as
// they come: the ratio estimator of survey sampling (from memory, as in Cochran,
// Sampling Techniques, chapter 6).
func ratio(list []sums) (mean, variance float64) {
	loss, moves := 0.0, 0.0
	for _, s := range list {
		loss, moves = loss+s.lossMm, moves+s.moves
	}
	if moves == 0 {
		return 0, 0
	}
	mean = loss / moves
	n := float64(len(list))
	for _, s := range list {
		d := s.lossMm - mean*s.moves
		variance += d * d
	}
	return mean, variance / (moves * moves) * n / max(1, n-1)
}

// Compare compares results with earlier ones of the same drives. looks is among how
// many comparisons this one is: all of them together call noise worse once in
// twenty times. allowMm is how much worse is still taken for nothing.
func Compare(now []Result, before map[string]*Result, looks int, allowMm float64) (c Change, drives int) {
	var differences, a, b []sums
	same, paired := true, true
	for i := range now {
		r := &now[i]
		old := before[r.Name]
		if old == nil || old.Failed != "" && r.Failed != "" {
			continue
		}
		drives++
		if r.Failed != "" || old.Failed != "" {
			if c.Verdict = Worse; old.Failed != "" {
				c.Verdict = Better
			}
			c.MeanMm, c.LowMm, c.HighMm = math.NaN(), math.NaN(), math.NaN()
			return c, drives
		}
		// Who does not lift without a position loses less ground: that is no merit.
		c.Down = c.Down || r.FailSafeMs == stayedDown && old.FailSafeMs != stayedDown
		x, y := losses(r), losses(old)
		a, b = append(a, x...), append(b, y...)
		if r.Chances != old.Chances || !slices.Equal(r.Crossings, old.Crossings) {
			same, paired = false, false
			continue
		}
		for k := range x {
			same = same && x[k] == y[k]
			differences = append(differences, sums{x[k].lossMm - y[k].lossMm, x[k].moves})
		}
	}
	c.Paired = paired
	var variance, n float64
	if paired {
		c.MeanMm, variance = ratio(differences)
		n = float64(len(differences))
	} else {
		meanA, varA := ratio(a)
		meanB, varB := ratio(b)
		c.MeanMm, variance = meanA-meanB, varA+varB
		n = float64(min(len(a), len(b)))
	}
	half := math.Inf(1)
	if n > 1 {
		half = sample.StudentQuantile(1-0.05/float64(looks), n-1) * math.Sqrt(variance)
	}
	c.LowMm, c.HighMm = c.MeanMm-half, c.MeanMm+half
	switch {
	case c.Down:
		c.Verdict = Worse
	case same:
		c.Verdict, c.LowMm, c.HighMm = Same, 0, 0
	case c.LowMm > allowMm:
		c.Verdict = Worse
	case c.HighMm < 0:
		c.Verdict = Better
	default:
		c.Verdict = Noise
	}
	return c, drives
}
