// Axes, and what is drawn between them.

package figure

import (
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
)

// plot is a pair of axes and what is drawn between them, in order.
type plot struct {
	x, y axis
	data []func(s *sheet, in *dataArea)
}

// axis is one side of a plot.
type axis struct {
	label    string
	min, max float64
	ticks    []tick // nil: at round numbers
	named    bool   // its ticks name what lies beside them and have no mark
}

// newPlot returns axes whose range is still to be set.
func newPlot(xLabel, yLabel string) *plot {
	return &plot{x: axis{label: xLabel}, y: axis{label: yLabel}}
}

func (p *plot) add(data func(s *sheet, in *dataArea)) { p.data = append(p.data, data) }

// share returns how far along the axis a value lies; 0 to 1 is on it.
func (a *axis) share(v float64) float64 { return (v - a.min) / (a.max - a.min) }

// marks returns the ticks that lie on the axis.
func (a *axis) marks() []tick {
	all := a.ticks
	if all == nil {
		all = ticks(a.min, a.max)
	}
	var on []tick
	for _, t := range all {
		if s := a.share(t.value); s >= 0 && s <= 1 {
			on = append(on, t)
		}
	}
	return on
}

// Room around the data.
const (
	labelGapPt  = 4   // between an axis's name and its numbers
	tickGapPt   = 3   // between a number and its mark at its right
	belowGapPt  = 1.5 // between a mark and the number below it
	tickPt      = 4   // length of a mark
	axisWidthPt = 0.5 // of the axis's line and its marks

	edgePt = 2                                // below the name of the axis across
	namePt = edgePt + (ascent+descent)*textPt // that name and what is below it
	overPt = (ascent - capital) * smallTextPt // numbers have no accents, so they may come that much closer
)

// dataArea is the part of a sheet in which the data of a plot are drawn.
type dataArea struct {
	orb.Bound
	x, y *axis
}

// at returns the place of a pair of values on the sheet; atX and atY are its
// parts.
func (d *dataArea) at(x, y float64) orb.Point { return orb.Point{d.atX(x), d.atY(y)} }

func (d *dataArea) atX(x float64) float64 { return d.Min[0] + d.x.share(x)*(d.Max[0]-d.Min[0]) }
func (d *dataArea) atY(y float64) float64 { return d.Min[1] + d.y.share(y)*(d.Max[1]-d.Min[1]) }

// clipped returns the part of a line that lies within the area.
func (d *dataArea) clipped(line []orb.Point) path {
	var out path
	for _, piece := range clip.LineString(d.Bound, orb.LineString(line)) {
		out.line(piece...)
	}
	return out
}

// area returns the part of a sheet that the axes leave to the data.
func (p *plot) area(within orb.Bound, xMarks, yMarks []tick) *dataArea {
	d := &dataArea{Bound: within, x: &p.x, y: &p.y}
	widest := 0.0
	for _, t := range yMarks {
		widest = max(widest, textWidth(t.label, smallTextPt))
	}
	const letterPt = ascent + descent
	d.Min[0] += letterPt*textPt + labelGapPt + widest + tickGapPt + tickPt
	d.Min[1] += namePt + labelGapPt + letterPt*smallTextPt - overPt + belowGapPt + tickPt
	// A number at the end of an axis stays within the part of the sheet.
	for _, t := range xMarks {
		if share := p.x.share(t.value); share > 0 {
			d.Max[0] = min(d.Max[0], d.Min[0]+(within.Max[0]-textWidth(t.label, smallTextPt)/2-d.Min[0])/share)
		}
	}
	for _, t := range yMarks {
		if share := p.y.share(t.value); share > 0 {
			d.Max[1] = min(d.Max[1], d.Min[1]+(within.Max[1]-letterPt*smallTextPt/2-d.Min[1])/share)
		}
	}
	return d
}

// draw draws the plot within a part of a sheet.
func (p *plot) draw(s *sheet, within orb.Bound) {
	xMarks, yMarks := p.x.marks(), p.y.marks()
	if mark := s.words.DecimalMark(); mark != "." {
		for _, list := range [][]tick{xMarks, yMarks} {
			for i := range list {
				list[i].label = strings.Replace(list[i].label, ".", mark, 1)
			}
		}
	}
	d := p.area(within, xMarks, yMarks)
	nameAxes(s, within, d.Center(), p.x.label, p.y.label)
	var lines path
	free := within.Min[0] // to the right of the last number
	for _, t := range xMarks {
		at := orb.Point{d.atX(t.value), d.Min[1]}
		lines.line(at, by(at, 0, -tickPt))
		// If the numbers are too wide for their ticks, some are left out.
		if half := textWidth(t.label, smallTextPt) / 2; at[0]-half >= free {
			s.write(small(t.label, by(at, 0, overPt-tickPt-belowGapPt), middleAt, topAt))
			free = at[0] + half + tickGapPt
		}
	}
	for _, t := range yMarks {
		at := orb.Point{d.Min[0], d.atY(t.value)}
		s.write(small(t.label, by(at, -tickPt-tickGapPt, 0), endsAt, centerAt))
		if !p.y.named {
			lines.line(at, by(at, -tickPt, 0))
		}
	}
	lines.line(orb.Point{d.Min[0], d.Max[1]}, d.Min, orb.Point{d.Max[0], d.Min[1]})
	s.stroke(pen{color: lineColor, widthPt: axisWidthPt}, lines)
	for _, draw := range p.data {
		draw(s, d)
	}
}

// nameAxes writes the names of the axes around center along the lower and the
// left edge of a part of a sheet. A name that would stick out of the part is
// moved, and one that is longer than the part is made smaller.
func nameAxes(s *sheet, within orb.Bound, center orb.Point, x, y string) {
	across := large(x, orb.Point{0, within.Min[1] + edgePt}, middleAt, bottomAt)
	upward := large(y, orb.Point{within.Min[0], 0}, middleAt, topAt)
	upward.turned = true
	within.Min[1] += namePt // they must not meet in the corner
	for i, t := range []*text{&across, &upward} {
		lo, hi := within.Min[i], within.Max[i]
		t.sizePt = min(t.sizePt, t.sizePt*(hi-lo)/t.width())
		t.at[i] = max(lo+t.width()/2, min(center[i], hi-t.width()/2))
		s.write(*t)
	}
}

// beyond writes at the top right of the sheet how many values lie beyond the
// axes.
func beyond(s *sheet, values []float64, lo, hi float64) {
	n := 0
	for _, v := range values {
		if v < lo || v > hi {
			n++
		}
	}
	if n > 0 {
		s.write(small(s.words.Text("off", "n", n), by(s.bound().Max, 0, -keyHeight/2), endsAt, centerAt))
	}
}

// nothing writes in the middle of the sheet that there is no transition to
// draw.
func nothing(s *sheet) {
	s.write(large(s.words.Text("nothing"), s.bound().Center(), middleAt, centerAt))
}

// Lines of a figure.
var (
	referenceLine = pen{color: lineColor, widthPt: 0.8, dashes: []float64{3, 3}}
	fitLine       = pen{color: lineColor, widthPt: 1.6}
)

// level draws a line across the data's area at y.
func level(y float64) func(s *sheet, in *dataArea) {
	return func(s *sheet, in *dataArea) {
		if h := in.atY(y); h >= in.Min[1] && h <= in.Max[1] {
			s.line(referenceLine, orb.Point{in.Min[0], h}, orb.Point{in.Max[0], h})
		}
	}
}
