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

// maxSections is how many sections a machine may have.
const maxSections = 256

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
		if n != len(r.PlaceMm) || n != len(r.Sections) || r.Extra < 0 || r.Missed < 0 || r.Missed > n {
			return bad("%s: %d moves in crossings of %d, by %d sections, %d missed, %d extra", name, len(r.PlaceMm), n, len(r.Sections), r.Missed, r.Extra)
		}
		for _, s := range r.Sections {
			if s < 1 || s > maxSections {
				return bad("%s: section %d", name, s)
			}
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

// sums are those of one cluster: of one crossing, or of one section in a drive.
type sums struct{ lossMm, moves float64 }

// losses returns the sums of each crossing of a drive, of each of its sections, and of each move.
// What is extra is a cluster of its own without moves.
func losses(r *Result) (crossings, sections, moves []sums) {
	at := 0
	for _, n := range r.Crossings {
		c := sums{}
		for i := at; i < at+n; i++ {
			one := sums{math.Abs(float64(r.PlaceMm[i])), 1}
			for len(sections) < r.Sections[i] {
				sections = append(sections, sums{})
			}
			s := &sections[r.Sections[i]-1]
			moves = append(moves, one)
			*s = sums{s.lossMm + one.lossMm, s.moves + 1}
			c = sums{c.lossMm + one.lossMm, c.moves + 1}
		}
		at += n
		crossings = append(crossings, c)
	}
	extra := sums{lossMm: float64(r.Extra * lostMm)}
	return append(crossings, extra), append(sections, extra), append(moves, extra)
}

// meanOf is the loss per move of all clusters.
func meanOf(drives [][]sums) (meanMm, moves float64) {
	lossMm := 0.0
	for _, clusters := range drives {
		for _, c := range clusters {
			lossMm, moves = lossMm+c.lossMm, moves+c.moves
		}
	}
	if moves == 0 {
		return 0, 0
	}
	return lossMm / moves, moves
}

// variance is the squared standard error of the loss per move where clusters are drawn by
// chance and drives are not, and how many of them are free: the combined ratio
// estimator of stratified sampling (from memory, as in Cochran, Sampling Techniques, chapter 6).
func variance(drives [][]sums) (v, free float64) {
	mean, moves := meanOf(drives)
	if moves == 0 {
		return 0, 0
	}
	for _, clusters := range drives {
		n, middle, squares := float64(len(clusters)), 0.0, 0.0
		for _, c := range clusters {
			middle += (c.lossMm - mean*c.moves) / n
		}
		for _, c := range clusters {
			d := c.lossMm - mean*c.moves - middle
			squares += d * d
		}
		v += squares / (moves * moves) * n / max(1, n-1)
		free += n - 1
	}
	return v, free
}

// spread is the variance of a mean, made of parts, and how many degrees of freedom
// it has (Welch and Satterthwaite).
type spread struct{ v, perFree float64 }

func (s *spread) add(v, free float64) {
	s.v += v
	s.perFree += v * v / max(1, free)
}

func (s *spread) half(share float64) float64 {
	switch {
	case s.v <= 0:
		return 0
	case s.perFree == 0:
		return math.Inf(1)
	}
	return sample.StudentQuantile(1-share, max(1, s.v*s.v/s.perFree)) * math.Sqrt(s.v)
}

// sampled adds the parts of a sample. Moves of one crossing share the error of the
// receiver and the driver, and those of one section its own dead time and flow, drawn
// once a drive: errors are clustered both ways, and what moves have alone is in both
// parts (Cameron, Gelbach and Miller 2011, J. Bus. Econ. Stat. 29(2):238-249).
func (s *spread) sampled(crossings, sections, moves [][]sums) {
	alone, _ := variance(moves)
	v, free := variance(crossings)
	s.add(v, free)
	if v, free = variance(sections); v > alone {
		s.add(v-alone, free)
	}
}

// How often chance takes something for a difference, all classes together, better or worse. Where chances differ, the
// baseline's own luck is in every comparison with it: with 5 % one in eight baselines would call more than 5 % of
// its comparisons worse. With 2 % one in 24 does: of z-scores, a class is called worse with the probability
// Φ(-c·√2 - z) beside a baseline of the luck z, c the quantile of a class's share, for six looks.
const pairedChance, sampledChance = 0.05, 0.02

// Compare compares results with earlier ones of the same drives. looks is among how
// many comparisons this one is: all of them together call noise worse once in
// twenty times. allowMm is how much worse is still taken for nothing.
func Compare(now []Result, before map[string]*Result, looks int, allowMm float64) (c Change, drives int) {
	var differences [][]sums
	var now3, old3 [3][][]sums // by crossings, by sections, by moves
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
		var x, y [3][]sums
		x[0], x[1], x[2] = losses(r)
		y[0], y[1], y[2] = losses(old)
		for k := range x {
			now3[k], old3[k] = append(now3[k], x[k]), append(old3[k], y[k])
		}
		if r.Chances != old.Chances || !slices.Equal(r.Crossings, old.Crossings) {
			same, paired = false, false
			continue
		}
		var list []sums
		for k := range x[0] {
			same = same && x[0][k] == y[0][k]
			list = append(list, sums{x[0][k].lossMm - y[0][k].lossMm, x[0][k].moves})
		}
		differences = append(differences, list)
	}
	c.Paired = paired
	var s spread
	if paired {
		c.MeanMm, _ = meanOf(differences)
		s.add(variance(differences))
	} else {
		meanNow, _ := meanOf(now3[0])
		meanOld, _ := meanOf(old3[0])
		c.MeanMm = meanNow - meanOld
		s.sampled(now3[0], now3[1], now3[2])
		s.sampled(old3[0], old3[1], old3[2])
	}
	chance := pairedChance
	if !paired {
		chance = sampledChance
	}
	half := s.half(chance / float64(looks))
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
