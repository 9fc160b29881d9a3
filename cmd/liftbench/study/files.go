// What a sweep writes: a row a drive, the means at each point, and figures.

package study

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/study/parquet"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sim/sweep"
)

// Result is a finished study.
type Result struct {
	Head *sweep.Head
	Rows []sweep.Row // all of it, in order
}

// Write writes the files to dir, unless dir is empty, and the table to out. The
// table is written even if a file cannot be.
func (s *Result) Write(dir string, out io.Writer) error {
	var notKept error
	if dir != "" {
		notKept = files.WriteDir(dir, s.files())
	}
	if err := s.writeTable(out); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return notKept
}

func (s *Result) files() []files.File {
	list := []files.File{
		{Name: "results.csv", Write: s.writeCSV},
		{Name: "results.parquet", Write: s.writeParquet},
		{Name: "points.csv", Write: s.writePoints},
	}
	for _, key := range s.Head.Show {
		for _, d := range s.drawings(key) {
			list = append(list,
				files.File{Name: d.name + ".svg", Write: func(w io.Writer) error { _, err := io.WriteString(w, d.SVG()+"\n"); return err }},
				files.File{Name: d.name + ".png", Write: d.WritePNG})
		}
	}
	return list
}

// columns are the heading of results.csv.
func (s *Result) columns() []string {
	names := []string{"point", "seed"}
	for i := range s.Head.Plan.Axes {
		names = append(names, s.Head.Plan.Axes[i].Key)
	}
	return append(names, s.Head.Measures...)
}

// cells are the numbers of one drive in the order of columns.
func (s *Result) cells(r *sweep.Row) []float64 {
	b := s.Head.Plan.Bench(r.Number)
	cells := append([]float64{float64(b.Point), float64(b.Seed)}, b.Values...)
	return append(cells, r.Results...)
}

func (s *Result) writeCSV(w io.Writer) error {
	if _, err := io.WriteString(w, strings.Join(s.columns(), ",")+"\n"); err != nil {
		return err
	}
	var line []byte
	for i := range s.Rows {
		line = appendCSV(line[:0], s.cells(&s.Rows[i]))
		if _, err := w.Write(line); err != nil {
			return err
		}
	}
	return nil
}

// appendCSV appends a line of numbers with all their digits; NaN becomes an
// empty cell.
func appendCSV(b []byte, cells []float64) []byte {
	for i, v := range cells {
		if i > 0 {
			b = append(b, ',')
		}
		if !math.IsNaN(v) {
			b = strconv.AppendFloat(b, v, 'g', -1, 64)
		}
	}
	return append(b, '\n')
}

// writeParquet writes the same rows. A missing number is null. The columns are
// ordered by name.
func (s *Result) writeParquet(w io.Writer) error {
	names := s.columns()
	order := make([]int, len(names))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return strings.Compare(names[a], names[b]) })
	columns := make([]parquet.Column, len(names))
	for to, from := range order {
		columns[to] = parquet.Column{Name: names[from], Whole: from < 2} // point and seed
	}
	out := parquet.NewWriter(w, "drives", columns)
	row := make([]float64, len(names))
	for i := range s.Rows {
		cells := s.cells(&s.Rows[i])
		for to, from := range order {
			row[to] = cells[from]
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	return out.Close()
}

// estimate returns the mean of a measure over some drives. A share is computed
// over all their transitions together.
func (s *Result) estimate(g *sweep.Group, measure int) sweep.Interval {
	if s.Head.Measures[measure] != "within_percent" {
		return sweep.Mean(g.Column(measure))
	}
	i := sweep.Share(g.Column(measureNumber("within")), g.Column(measureNumber("transitions")), s.together())
	return sweep.Interval{Value: 100 * i.Value, Lo: 100 * i.Lo, Hi: 100 * i.Hi}
}

// together is the largest number of transitions that depend on each other: all
// sections, when the bar crosses a square border.
func (s *Result) together() float64 {
	most := 1.0
	count := measureNumber("sections")
	for i := range s.Rows {
		most = max(most, s.Rows[i].Results[count])
	}
	return most
}

// writePoints writes a line for each point: its values, the number of drives,
// and each measure's mean with its 95 % interval.
func (s *Result) writePoints(w io.Writer) error {
	var names []string
	grid := s.Head.Plan.Grid()
	for _, a := range grid {
		names = append(names, s.Head.Plan.Axes[a].Key)
	}
	names = append(names, "drives")
	for _, m := range s.Head.Measures {
		names = append(names, m, m+"_low", m+"_high")
	}
	if _, err := io.WriteString(w, strings.Join(names, ",")+"\n"); err != nil {
		return err
	}
	for _, g := range s.Head.Plan.Groups(s.Rows, grid) {
		cells := append(append([]float64{}, g.Values...), float64(len(g.Rows)))
		for m := range s.Head.Measures {
			i := s.estimate(&g, m)
			cells = append(cells, i.Value, i.Lo, i.Hi)
		}
		if _, err := w.Write(appendCSV(nil, cells)); err != nil {
			return err
		}
	}
	return nil
}

// sweepDrawing is a figure and the name of its files.
type sweepDrawing struct {
	name string
	*figure.Drawing
}

// maxSeries is how many lines can be told apart in one figure.
const maxSeries = 6

// drawings returns the figures of one measure: lines over the first axis, one
// for each value of the second, and with two axes a heat map too. Results are
// averaged over any further axes.
func (s *Result) drawings(key string) []sweepDrawing {
	grid := s.Head.Plan.Grid()
	if len(grid) == 0 {
		return nil
	}
	m := measureNumber(key)
	label := measures[m].label
	x := &s.Head.Plan.Axes[grid[0]]
	title := label + " over " + x.Key
	if len(grid) == 1 {
		groups := s.Head.Plan.Groups(s.Rows, grid)
		return []sweepDrawing{{key, figure.Lines(title, x.Key, label, []figure.Series{s.series("", groups, m, 0)})}}
	}
	y := &s.Head.Plan.Axes[grid[1]]
	title += " and " + y.Key
	groups := s.Head.Plan.Groups(s.Rows, []int{grid[1], grid[0]})
	h := &figure.Heat{X: x.Values, Y: y.Values}
	var lines []figure.Series
	for j, v := range y.Values {
		some := groups[j*len(x.Values):][:len(x.Values)]
		line := s.series(fmt.Sprintf("%s %g", y.Key, v), some, m, 1)
		h.Z = append(h.Z, line.Y)
		lines = append(lines, line)
	}
	// If there are too many lines, the first, the last and some between are
	// drawn.
	for len(lines) > maxSeries {
		var fewer []figure.Series
		for i := range maxSeries {
			fewer = append(fewer, lines[i*(len(lines)-1)/(maxSeries-1)])
		}
		lines = fewer
	}
	return []sweepDrawing{
		{key, figure.Lines(title, x.Key, label, lines)},
		{key + ".map", figure.HeatMap(title, x.Key, y.Key, label, h)},
	}
}

// series is a line over one of the axes.
func (s *Result) series(name string, groups []sweep.Group, m, axis int) figure.Series {
	line := figure.Series{Name: name}
	for i := range groups {
		e := s.estimate(&groups[i], m)
		line.X = append(line.X, groups[i].Values[axis])
		line.Y, line.Lo, line.Hi = append(line.Y, e.Value), append(line.Lo, e.Lo), append(line.Hi, e.Hi)
	}
	return line
}

// tablePoints is how many points the table on the terminal shows at most.
const tablePoints = 60

// writeTable prints the shown results of each point.
func (s *Result) writeTable(out io.Writer) error {
	var b strings.Builder
	plan := &s.Head.Plan
	fmt.Fprintf(&b, "%s\n\n  %s at %s, %s each\n", s.Head.Title, wording.Counted(len(s.Rows), "drive"), wording.Counted(plan.Points(), "point"), wording.Counted(plan.Seeds, "seed"))
	for i := range plan.Axes {
		if d := plan.Axes[i].Draw; d != nil {
			fmt.Fprintf(&b, "  %s drawn for each seed, %s\n", plan.Axes[i].Key, drawText(d))
		}
	}
	grid := plan.Grid()
	groups := plan.Groups(s.Rows, grid)
	table := [][]string{{}}
	for _, a := range grid {
		table[0] = append(table[0], plan.Axes[a].Key)
	}
	for _, key := range s.Head.Show {
		table[0] = append(table[0], key, "95 % interval")
	}
	for i := range groups {
		if i == tablePoints {
			break
		}
		var line []string
		for _, v := range groups[i].Values {
			line = append(line, strconv.FormatFloat(v, 'g', 6, 64))
		}
		for _, key := range s.Head.Show {
			e := s.estimate(&groups[i], measureNumber(key))
			line = append(line, threeDigits(e.Value), intervalText(&e))
		}
		table = append(table, line)
	}
	b.WriteByte('\n')
	alignRight(&b, table)
	if n := len(groups) - tablePoints; n > 0 {
		fmt.Fprintf(&b, "  … and %s more in points.csv\n", wording.Counted(n, "point"))
	}
	_, err := io.WriteString(out, b.String())
	return err
}

// drawText says from which distribution a setting is drawn.
func drawText(d *sweep.Distribution) string {
	if d.Shape == sweep.Uniform {
		return fmt.Sprintf("evenly from %g to %g", d.Lo, d.Hi)
	}
	return fmt.Sprintf("normal, mean %g, standard deviation %g", d.Mean, d.SD)
}

// threeDigits prints a number for people, with three digits.
func threeDigits(v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	decimals := 2
	if a := math.Abs(v); a >= 100 {
		decimals = 0
	} else if a >= 10 {
		decimals = 1
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

func intervalText(i *sweep.Interval) string {
	if math.IsNaN(i.Lo) {
		return "-"
	}
	return threeDigits(i.Lo) + " to " + threeDigits(i.Hi)
}

// alignRight writes a table whose columns end under each other.
func alignRight(b *strings.Builder, table [][]string) {
	var widths []int
	for _, line := range table {
		for i, cell := range line {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], len([]rune(cell)))
		}
	}
	for _, line := range table {
		for i, cell := range line {
			fmt.Fprintf(b, "  %*s", widths[i], cell)
		}
		b.WriteByte('\n')
	}
}
