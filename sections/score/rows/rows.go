// Package rows says how far the row units run beside the rows that the drill laid, pass
// by pass, and what they cut of the crop.
package rows

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sections/score"
)

// Tools are what works between two crop rows.
type Tools struct {
	RowSpacingM float64
	WidthM      float64 // worked between two rows; 0: not known
	PlantM      float64 // width of the crop row itself
}

// Pass is one pass in a zone of which it is known where its rows lie.
type Pass struct {
	Zone            int // index into the field's zones
	FromNs, UntilNs int64
	WayM            float64 // with any section in work
	// How far the row units are beside the middle between their rows, over the way of
	// all sections in work: positive = to the right in the driving direction.
	MeanM, RMSM float64
	WorstM      float64 // the largest distance to either side
	// CropM2 is what the tools cut of the crop rows themselves. A tool has
	// (spacing - width - plant strip)/2 to either side; further off it cuts into the
	// strip. Rows that the drill left out do not count.
	CropM2 float64
}

// rowAngleRad is the largest angle to the rows at which a way is along them.
const rowAngleRad = 10 * math.Pi / 180

// Measure measures the passes of a drive; the arguments are as of score.Run. There
// are none where no zone says where its rows lie, or the spacing is not known.
func Measure(track motion.Track, m *sections.Machine, f *field.Field, changes []sections.WorkChange, initial []bool, tools Tools) []Pass {
	w := walk{m: m, f: f, tools: tools, on: make([]bool, len(m.Sections)), zone: -1}
	known := false
	for i := range f.Zones {
		known = known || f.Zones[i].Drill.Known
	}
	if !known || !(tools.RowSpacingM > 0) || len(track) == 0 {
		return nil
	}
	copy(w.on, initial)
	for k := 1; k < len(track); k++ {
		a, b := &track[k-1], &track[k]
		if score.Jumps(a, b) {
			w.end()
			continue
		}
		for from := a.TimeNs; from < b.TimeNs; {
			for len(changes) > 0 && changes[0].TimeNs <= from {
				w.on[changes[0].Section] = changes[0].On
				changes = changes[1:]
			}
			until := b.TimeNs
			if len(changes) > 0 {
				until = min(until, changes[0].TimeNs)
			}
			p := motion.Interp(a, b, from+(until-from)/2)
			w.step(&p, from, until)
			from = until
		}
	}
	w.end()
	return w.passes
}

// walk goes along the track. zone is that of the pass at hand, -1 without one.
type walk struct {
	m      *sections.Machine
	f      *field.Field
	tools  Tools
	on     []bool
	zone   int
	sumM   float64 // of way in work, over the sections
	pass   Pass
	passes []Pass
}

// end closes the pass at hand.
func (w *walk) end() {
	if p := &w.pass; w.zone >= 0 && w.sumM > 0 {
		p.MeanM /= w.sumM
		p.RMSM = math.Sqrt(p.RMSM / w.sumM)
		w.passes = append(w.passes, *p)
	}
	w.zone, w.sumM = -1, 0
}

// step measures a piece of the way, at the pose in its middle.
func (w *walk) step(p *motion.Pose, fromNs, untilNs int64) {
	any := false
	for _, on := range w.on {
		any = any || on
	}
	frame := w.m.Frame(p)
	if w.zone >= 0 && (!any || !along(&frame, &w.f.Zones[w.zone])) {
		w.end()
	}
	if !any {
		return
	}
	if w.zone < 0 && !w.begin(&frame, fromNs) {
		return
	}
	z := &w.f.Zones[w.zone]
	wayM := float64(math.Abs(p.SpeedMps) * float64(untilNs-fromNs) * 1e-9)
	w.pass.UntilNs = untilNs
	w.pass.WayM += wayM
	// Across the rows: v to the right of the row bearing.
	sin, cos := rowsAt(&frame, z)
	right := math.Copysign(1, float64(frame.Sin*sin)+float64(frame.Cos*cos))
	row0 := float64(z.Drill.At[0]*cos) - float64(z.Drill.At[1]*sin)
	s := w.tools.RowSpacingM
	for i, on := range w.on {
		if !on {
			continue
		}
		le, ln, re, rn := w.m.Line(i, &frame)
		rows := math.Round(w.m.Sections[i].WidthM / s)
		first := float64((le+re)/2*cos) - float64((ln+rn)/2*sin) - row0
		if z.Line != nil {
			first = z.Line.Near((le+re)/2, (ln+rn)/2).RightM
		}
		first -= float64((rows - 1) / 2 * s) // leftmost of its rows, right of the drill's
		off := math.Remainder(first, s)
		w.pass.MeanM += float64(right * off * wayM)
		w.pass.RMSM += float64(off * off * wayM)
		w.pass.WorstM = max(w.pass.WorstM, math.Abs(off))
		w.sumM += wayM
		if cutM := w.cutM(math.Abs(off)); cutM > 0 {
			w.pass.CropM2 += float64(cutM * wayM * float64(w.planted(&z.Drill, int(math.Round(first/s)), int(rows))))
		}
	}
}

// begin begins a pass in the zone in which the middle of a section in work is.
func (w *walk) begin(frame *sections.Frame, fromNs int64) bool {
	for k := range w.f.Zones {
		z := &w.f.Zones[k]
		if !z.Drill.Known || !along(frame, z) {
			continue
		}
		for i, on := range w.on {
			if !on {
				continue
			}
			le, ln, re, rn := w.m.Line(i, frame)
			if planar.MultiPolygonContains(z.Polygons, orb.Point{(le + re) / 2, (ln + rn) / 2}) {
				w.zone, w.pass = k, Pass{Zone: k, FromNs: fromNs}
				return true
			}
		}
	}
	return false
}

// along reports whether the tool heads along the rows of a zone, either way.
func along(frame *sections.Frame, z *field.Zone) bool {
	sin, cos := rowsAt(frame, z)
	return math.Abs(float64(frame.Sin*sin)+float64(frame.Cos*cos)) >= exact.Cos(rowAngleRad)
}

// rowsAt is the sine and cosine of the direction of a zone's rows at the tool.
func rowsAt(frame *sections.Frame, z *field.Zone) (sin, cos float64) {
	if z.Line == nil {
		return exact.Sincos(z.RowBearingRad)
	}
	f := z.Line.Near(frame.EastM, frame.NorthM)
	return f.Sin, f.Cos
}

// cutM is the width that a tool cuts of a crop row's strip, offM beside its place.
func (w *walk) cutM(offM float64) float64 {
	t := &w.tools
	if t.WidthM == 0 {
		return 0
	}
	return min(max(offM-float64((t.RowSpacingM-t.WidthM-t.PlantM)/2), 0), t.PlantM)
}

// planted counts the rows with crop among n of them from one on, which are counted
// from the drill's row.
func (w *walk) planted(d *field.Drill, first, n int) int {
	inDrill := int(math.Round(d.WidthM / w.tools.RowSpacingM))
	if inDrill == 0 || len(d.LeftOut) == 0 {
		return n
	}
	count := 0
	for k := first; k < first+n; k++ {
		at, crop := (k%inDrill+inDrill)%inDrill+1, true
		for _, out := range d.LeftOut {
			crop = crop && out != at
		}
		if crop {
			count++
		}
	}
	return count
}

// Sum sums up passes: over the way of all, with the worst of them.
func Sum(passes []Pass) (rmsM, worstM, cropM2 float64) {
	squares, wayM := 0.0, 0.0
	for i := range passes {
		p := &passes[i]
		squares += float64(p.RMSM * p.RMSM * p.WayM)
		wayM += p.WayM
		worstM = max(worstM, p.WorstM)
		cropM2 += p.CropM2
	}
	if wayM > 0 {
		rmsM = math.Sqrt(squares / wayM)
	}
	return rmsM, worstM, cropM2
}
