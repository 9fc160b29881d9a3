// Package frozen tells a position that contradicts speed and course: one that stands
// still while both go on, as of a frozen receiver or a gateway that repeats itself; one
// that runs while the speed is 0; one that goes another way than the course.
package frozen

import (
	"math"

	"liftbench/nmea"
	"liftbench/sections/exact"
)

// Positions and velocities are compared way by way: the displacement between two
// positions with the sum of velocity times time. A receiver's noise makes some
// centimetres of difference, a float solution some decimetres, and an offset that
// it takes on when it is fixed anew shows in one way alone. From memory and common
// practice, no source.
const (
	wayM      = 2.0  // compared when either has come so far
	mostShare = 0.7  // of the longer: they contradict each other from here on
	mostWays  = 2    // in a row, then the position is not believed
	longNs    = 20e9 // a way that takes longer says nothing: noise adds up
	gapNs     = 2500e6
	slowMps   = 0.3 // slower, a receiver may know no course
)

// Way is the way since positions and velocities were last compared. It is plain
// numbers: a copy is a snapshot.
type Way struct {
	Since         int64   // time of its first fix; 0 = there is none
	EastM, NorthM float64 // of the antenna then
	ToldEastM     float64 // what the velocities have made of it since
	ToldNorthM    float64
	UnsureM       float64 // way without a course
	LastNs        int64   // the newest fix
	LastVE        float64 // its velocity, m/s
	LastVN        float64
	Ways          int32 // in a row that contradicted
	// The way before, if it contradicted: displacement, and what was made of velocities.
	BeforeEastM, BeforeNorthM         float64
	BeforeToldEastM, BeforeToldNorthM float64
}

// begin starts a new way at a fix.
func (w *Way) begin(timeNs int64, eastM, northM float64) {
	w.Since, w.EastM, w.NorthM = timeNs, eastM, northM
	w.ToldEastM, w.ToldNorthM, w.UnsureM = 0, 0, 0
}

// Add takes the antenna's newest position, and reports whether it contradicts the
// velocities. Where the receiver tells no velocity nothing does.
func (w *Way) Add(f *nmea.Fix, eastM, northM float64) bool {
	ve, vn, unsure := 0.0, 0.0, 0.0
	switch {
	case math.IsNaN(f.SpeedMps), math.IsNaN(f.CourseDeg) && f.SpeedMps >= slowMps:
		*w = Way{}
		return false
	case math.IsNaN(f.CourseDeg):
		unsure = f.SpeedMps
	default:
		sin, cos := exact.Sincos(f.CourseDeg * math.Pi / 180)
		ve, vn = float64(f.SpeedMps*sin), float64(f.SpeedMps*cos)
	}
	dtNs := f.TimeNs - w.LastNs
	wasE, wasN := w.LastVE, w.LastVN
	w.LastNs, w.LastVE, w.LastVN = f.TimeNs, ve, vn
	if w.Since == 0 || dtNs > gapNs || f.TimeNs-w.Since > longNs {
		w.begin(f.TimeNs, eastM, northM)
		return w.Ways >= mostWays
	}
	half := float64(float64(dtNs) * 0.5e-9)
	w.ToldEastM += float64((wasE + ve) * half)
	w.ToldNorthM += float64((wasN + vn) * half)
	w.UnsureM += float64(2 * half * unsure)
	de, dn := eastM-w.EastM, northM-w.NorthM
	if max(exact.Hypot(de, dn), exact.Hypot(w.ToldEastM, w.ToldNorthM)) < wayM {
		return w.Ways >= mostWays
	}
	contradicts := func(de, dn, te, tn float64) bool {
		longer := max(exact.Hypot(de, dn), exact.Hypot(te, tn))
		return exact.Hypot(de-te, dn-tn) > float64(mostShare*longer)+w.UnsureM
	}
	switch {
	case !contradicts(de, dn, w.ToldEastM, w.ToldNorthM):
		w.Ways = 0
	case w.Ways == 0 || contradicts(de+w.BeforeEastM, dn+w.BeforeNorthM, w.ToldEastM+w.BeforeToldEastM, w.ToldNorthM+w.BeforeToldNorthM):
		w.Ways = min(w.Ways+1, mostWays)
	default: // a jump, and the jump back
		w.Ways = 1
	}
	w.BeforeEastM, w.BeforeNorthM, w.BeforeToldEastM, w.BeforeToldNorthM = de, dn, w.ToldEastM, w.ToldNorthM
	w.begin(f.TimeNs, eastM, northM)
	return w.Ways >= mostWays
}
