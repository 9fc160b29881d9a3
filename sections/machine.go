// The machine: how its bar hangs on the tractor, where its sections are, and
// where they are at a pose.

package sections

import (
	"fmt"
	"math"

	"liftbench/sections/enum"
	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

// MaxSections is the most sections one controller steers (ISO 11783-11
// condensed work states, DDI 161-176 and 290-305: 16 words of 16 sections).
const MaxSections = 256

// Mount is how the tool hangs on the tractor.
type Mount uint8

const (
	RearRigid  Mount = iota // three-point linkage behind
	FrontRigid              // three-point linkage in front
	Trailed                 // drawbar on a hitch behind the rear axle
)

var mountNames = []string{RearRigid: "rear", FrontRigid: "front", Trailed: "trailed"}

// String returns the name that files and messages use: rear, front or trailed.
func (m Mount) String() string { return enum.Name(mountNames, m) }

// MarshalText returns the same name, or an error for a value that has none.
func (m Mount) MarshalText() ([]byte, error) { return enum.Text(mountNames, m) }

// UnmarshalText sets m to the value of that name.
func (m *Mount) UnmarshalText(text []byte) error { return enum.Set(m, mountNames, text) }

// Section is one lifted part of the bar: a line of WidthM across the driving
// direction whose middle is at (XM, YM) from the tractor's turning point when
// tractor and tool are in line (ISO 11783-10 axes: x forward, y right). Trim is by how
// much its leads are longer than those of the settings.
type Section struct {
	XM, YM, WidthM float64
	Trim           Trim
}

// Machine is the geometry the controller needs. Sections are numbered from
// the left in the driving direction; index 0 is section 1.
type Machine struct {
	Mount Mount
	// AntennaXM, AntennaYM place the antenna from the turning point (rear axle
	// centre): x forward, y right. AntennaZM is its height above ground, used
	// by the receiver model alone.
	AntennaXM, AntennaYM, AntennaZM float64
	// HitchBehindM is c, the hitch behind the rear axle; DrawbarM is L, from
	// the hitch to the tool's axle. Trailed machines only.
	HitchBehindM, DrawbarM float64
	Sections               []Section
}

// Validate reports the first thing that makes the machine unusable, as a
// sentence that says what was found and what is expected.
func (m *Machine) Validate() error {
	if m.Mount > Trailed {
		return fmt.Errorf("mount %d; expected rear, front or trailed (0 to %d)", m.Mount, Trailed)
	}
	for _, v := range []struct {
		name  string
		value float64
	}{
		{"antenna x", m.AntennaXM}, {"antenna y", m.AntennaYM}, {"antenna height", m.AntennaZM},
		{"hitch behind the axle", m.HitchBehindM}, {"drawbar", m.DrawbarM},
	} {
		if math.IsNaN(v.value) || math.IsInf(v.value, 0) {
			return fmt.Errorf("%s %g m; expected a finite number", v.name, v.value)
		}
	}
	if n := len(m.Sections); n < 1 || n > MaxSections {
		return fmt.Errorf("%d sections; expected 1 to %d", n, MaxSections)
	}
	for i, s := range m.Sections {
		if !(s.WidthM > 0) || math.IsInf(s.WidthM, 0) {
			return fmt.Errorf("section %d is %g m wide; expected more than 0", i+1, s.WidthM)
		}
		if math.IsNaN(s.XM+s.YM) || math.IsInf(s.XM+s.YM, 0) {
			return fmt.Errorf("section %d is at (%g, %g) m; expected finite numbers", i+1, s.XM, s.YM)
		}
		if i > 0 && s.YM <= m.Sections[i-1].YM {
			return fmt.Errorf("section %d is not to the right of section %d; sections are numbered from the left", i+1, i)
		}
		if i > 0 {
			left := &m.Sections[i-1]
			if over := left.YM + float64(left.WidthM/2) - (s.YM - float64(s.WidthM/2)); over > overlapM {
				return fmt.Errorf("section %d overlaps section %d by %.3g m; expected them side by side", i+1, i, over)
			}
		}
	}
	if m.Mount == Trailed && !(m.DrawbarM > 0) {
		return fmt.Errorf("drawbar %g m; a trailed machine needs more than 0", m.DrawbarM)
	}
	return nil
}

// overlapM is how far sections side by side may overlap by the rounding of
// their places and widths to the millimetre.
const overlapM = 0.002

// Frame is where the bar stands on the plane: the tool frame's origin and its
// forward unit vector. With it the ends of every section cost a few
// multiplications.
type Frame struct {
	EastM, NorthM float64
	Sin, Cos      float64 // of the tool's heading
}

// Frame returns the bar's frame for a tractor at p.
//
// The middle of a section is T + R(θ)·(-c, 0) + R(ψ)·(x + c, y) with T the
// turning point, θ the heading, ψ the tool's heading and c the hitch (0 on a
// rigid mount, where ψ = θ); the frame's origin is T + R(θ)·(-c, 0) + R(ψ)·(c, 0).
func (m *Machine) Frame(p *motion.Pose) Frame {
	sh, ch := exact.Sincos(p.HeadingRad)
	return m.frame(p, sh, ch)
}

// frame is Frame with the sine and cosine of the tractor's heading.
func (m *Machine) frame(p *motion.Pose, sh, ch float64) Frame {
	if m.Mount != Trailed {
		return Frame{p.EastM, p.NorthM, sh, ch}
	}
	st, ct := exact.Sincos(p.ToolHeadingRad)
	c := m.HitchBehindM
	return Frame{p.EastM + float64(c*(st-sh)), p.NorthM + float64(c*(ct-ch)), st, ct}
}

// heading is that of the tool.
func (m *Machine) heading(p *motion.Pose) float64 {
	if m.Mount == Trailed {
		return p.ToolHeadingRad
	}
	return p.HeadingRad
}

// Line returns the ends, left then right, of section i: east and north in
// metres. Forward is (sin, cos) on (east, north); right is (cos, -sin).
func (m *Machine) Line(i int, f *Frame) (leftE, leftN, rightE, rightN float64) {
	s := &m.Sections[i]
	e := f.EastM + float64(s.XM*f.Sin) + float64(s.YM*f.Cos)
	n := f.NorthM + float64(s.XM*f.Cos) - float64(s.YM*f.Sin)
	h := s.WidthM / 2
	return e - float64(h*f.Cos), n + float64(h*f.Sin), e + float64(h*f.Cos), n - float64(h*f.Sin)
}

// Antenna returns where the antenna is from the turning point.
func (m *Machine) Antenna() motion.Antenna { return motion.Antenna{XM: m.AntennaXM, YM: m.AntennaYM} }

// ReachM is the distance from the bar frame's origin to the bar's furthest
// point.
func (m *Machine) ReachM() float64 {
	reach := 0.0
	for i := range m.Sections {
		s := &m.Sections[i]
		reach = max(reach, exact.Hypot(s.XM, math.Abs(s.YM)+float64(s.WidthM/2)))
	}
	return reach
}

// WidthM is the width of the bar from the left end of the leftmost section to
// the right end of the rightmost.
func (m *Machine) WidthM() float64 {
	left, right := math.Inf(1), math.Inf(-1)
	for i := range m.Sections {
		s := &m.Sections[i]
		left, right = min(left, s.YM-float64(s.WidthM/2)), max(right, s.YM+float64(s.WidthM/2))
	}
	return right - left
}
