// The set-up sheet's part on the field: its zones, the headland against the
// machine, and how often sections lift.

package sheet

import (
	"fmt"
	"math"
	"strings"

	"liftbench/cmd/liftbench/wording"
	"liftbench/sections"
	"liftbench/sections/field"
)

// ground prints the field's zones, its headland against the machine, and how
// often sections lift.
func (s *Sheet) ground(b *strings.Builder) {
	f := s.field
	w := s.Machine.WidthM()
	heading(b, "Field")
	if f.Form != "" && f.Form != "GeoJSON" {
		wording.KeyLine(b, "file", "%s, by its content", f.Form)
	}
	wording.KeyLine(b, "to be worked", "%.2f ha", f.AreaM2()/1e4)
	var bodies []*field.Zone
	strips, stripsM2 := 0, 0.0 // of a headland made from the boundary
	for i := range f.Zones {
		z := &f.Zones[i]
		rows := "rows any way"
		if !math.IsNaN(z.RowBearingRad) {
			rows = fmt.Sprintf("rows %.1f°", wording.BearingDeg(z.RowBearingRad))
		}
		if z.Line != nil {
			rows = "rows along a line" + lineText(z)
		}
		name := z.Name
		if name == "" {
			name = "without a name"
		}
		switch {
		case z.Kind == field.Body:
			bodies = append(bodies, z)
			wording.KeyLine(b, "body", "%s: %.2f ha, %s", name, z.AreaM2()/1e4, rows)
		case z.Kind == field.KeepOut:
			wording.KeyLine(b, "keep-out", "%s: %.0f m²", name, z.AreaM2())
		case s.headlandM > 0:
			strips++
			stripsM2 += z.AreaM2()
		default:
			wording.KeyLine(b, "headland", "%s: %.2f ha, %s%s", name, z.AreaM2()/1e4, rows, s.headlandZone(z, bodies))
		}
	}
	if strips > 0 {
		wording.KeyLine(b, "headland", "%.1f m along the boundary: %.2f ha in %s", s.headlandM, stripsM2/1e4, wording.Counted(strips, "strip"))
		s.checkHeadland("The headland", s.headlandM)
	}
	need := s.HeadlandNeededM()
	if s.drive != nil {
		wording.KeyLine(b, "headland needed", "%.1f m, from the planned drive", need)
		for _, w := range s.drive.Warnings {
			s.warn("%s.", strings.TrimSuffix(w, "."))
		}
	} else {
		wording.KeyLine(b, "headland needed", "about %.0f m: turn of %.1f m radius into a pass %.0f m away, and\n%19sthe bar's swing", need, s.turnRadiusM(), s.passStepM(), "")
	}
	for i := range f.Zones {
		z := &f.Zones[i]
		if z.Kind != field.Body || math.IsNaN(z.RowBearingRad) {
			continue
		}
		across, along := extents(z, z.RowBearingRad)
		if z.Line != nil {
			left, right := z.Line.Across(z.Polygons)
			across, along = right-left, z.Line.LengthM()
		}
		passes := int(math.Ceil(across/w - 0.05)) // less than 5 % of a bar is not worth a pass
		if s.drive != nil {
			passes = 0
			for _, p := range s.drive.Passes {
				if p.Zone == i {
					passes++
				}
			}
		}
		wording.KeyLine(b, "passes", "%d in %q, on average %.0f m long, at most %.0f m", passes, z.Name, z.AreaM2()/across, along)
	}
	if s.ideal != nil {
		r := s.ideal.Rate(w)
		wording.KeyLine(b, "how often", "%s", wording.LiftsPerHa(r.LiftsPerHa, r.DropsPerHa))
	}
}

// lineText says how a row line lies: how long, and how tightly its rows bend.
func lineText(z *field.Zone) string {
	left, right := z.Line.Across(z.Polygons)
	tightest := min(z.Line.TightestM(left), z.Line.TightestM(right))
	text := fmt.Sprintf(" of %.0f m", z.Line.LengthM())
	if z.Line.Closed() {
		text += ", round after round"
	}
	if tightest < straightRowM {
		text += fmt.Sprintf(", %.0f m radius at the tightest", tightest)
	}
	return text
}

// straightRowM is the radius of a row that anybody would call straight.
const straightRowM = 10_000

// checkHeadland warns of a headland that is too narrow for the machine, or not
// a whole number of passes wide.
func (s *Sheet) checkHeadland(name string, widthM float64) {
	if need := s.HeadlandNeededM(); widthM < need-0.5 {
		s.warn("%s is %.1f m wide, the machine needs about %.0f m to turn.", name, widthM, need)
	}
	barM := s.Machine.WidthM()
	if passes := widthM / barM; math.Abs(passes-math.Round(passes)) > 0.02 {
		s.warn("%s is %.1f m wide, %.1f working widths: whole passes need %s m.", name, widthM, passes, wording.Trim(math.Ceil(passes)*barM))
	}
}

// headlandZone says how wide a headland zone with rows is and what its slant
// costs.
func (s *Sheet) headlandZone(z *field.Zone, bodies []*field.Zone) string {
	if math.IsNaN(z.RowBearingRad) {
		return ""
	}
	widthM, _ := extents(z, z.RowBearingRad)
	if z.Line != nil {
		left, right := z.Line.Across(z.Polygons)
		return fmt.Sprintf(", %.1f m wide", right-left)
	}
	s.checkHeadland(fmt.Sprintf("Headland %q", z.Name), widthM)
	text := fmt.Sprintf(", %.1f m wide", widthM)
	for _, body := range bodies {
		if math.IsNaN(body.RowBearingRad) || body.Line != nil {
			continue
		}
		// Rows that meet the border square have no slant.
		slant := math.Abs(math.Remainder(body.RowBearingRad-z.RowBearingRad, math.Pi))
		slant = math.Abs(math.Pi/2 - slant)
		text += fmt.Sprintf(", slant %.0f°", slant*180/math.Pi)
		if slant*180/math.Pi > 1 {
			text += fmt.Sprintf("\n%19sper crossing of a section: %.2f m² overrun and miss at best", "", s.slantCostM2(slant))
		}
	}
	return text
}

// slantCostM2 returns overrun plus miss of the widest section crossing a border
// that slants by rad from square: w²·tan α / 4 with edge rule even, w²·tan α / 2
// with the others.
func (s *Sheet) slantCostM2(rad float64) float64 {
	widest := 0.0
	for _, x := range s.Machine.Geometry().Sections {
		widest = max(widest, x.WidthM)
	}
	cost := widest * widest * math.Tan(rad) / 2
	if s.Machine.Controller.EdgeRule == sections.Even {
		cost /= 2
	}
	return cost
}

// turnRadiusM is the tightest path of the turning point.
func (s *Sheet) turnRadiusM() float64 {
	if s.Scenario != nil && s.Scenario.Drive.MinRadiusM != nil {
		return *s.Scenario.Drive.MinRadiusM
	}
	return 6
}

// passStepM is the distance between a pass and the pass driven next.
func (s *Sheet) passStepM() float64 {
	if s.Scenario == nil {
		return s.Machine.WidthM()
	}
	return (s.Machine.WidthM() - s.Scenario.Drive.OverlapCm/100) * float64(1+s.Scenario.Drive.SkipPasses)
}

// HeadlandNeededM returns the headland that the planned drive takes; where none
// is planned, an estimate of what a turn takes, square to the rows, from circles
// of radius R (the time to steer makes a real turn somewhat larger):
//
//	into a pass d ≥ 2R away: a half circle, R deep;
//	nearer: a bulb of three circles, √((2R)² − (R + d/2)²) + R deep;
//	beyond the turning point's path the bar's outer end swings to
//	√((R + w/2)² + x²) − R for a bar of width w at x;
//	and a bar behind the axle leaves the zone when the axle is −x beyond it.
func (s *Sheet) HeadlandNeededM() float64 {
	if s.drive != nil {
		return s.drive.HeadlandNeededM
	}
	r, d := s.turnRadiusM(), s.passStepM()
	deep := r
	if d < 2*r {
		deep += math.Sqrt(4*r*r - (r+d/2)*(r+d/2))
	}
	x := s.Machine.Tool.ForwardM
	swing := math.Hypot(r+s.Machine.WidthM()/2+math.Abs(s.Machine.Tool.OffsetM), x) - r
	return max(0, -x) + deep + swing
}

// extents returns how far a zone reaches across and along a bearing, in metres.
func extents(z *field.Zone, bearingRad float64) (acrossM, alongM float64) {
	sin, cos := math.Sincos(bearingRad)
	minU, maxU := math.Inf(1), math.Inf(-1)
	minV, maxV := minU, maxU
	for _, polygon := range z.Polygons {
		for _, ring := range polygon {
			for _, p := range ring {
				u, v := p[0]*sin+p[1]*cos, p[0]*cos-p[1]*sin
				minU, maxU = min(minU, u), max(maxU, u)
				minV, maxV = min(minV, v), max(maxV, v)
			}
		}
	}
	return maxV - minV, maxU - minU
}
