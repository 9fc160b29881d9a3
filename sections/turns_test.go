// Which zones take part, on drives made of straights and turns: what is learnt of a
// driver's turns.

package sections

import (
	"math"
	"testing"

	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// way is a drive in the making: every 10 cm a pose, at 2 m/s.
type way struct {
	poses []motion.Pose
	at    motion.Pose
}

const wayStepM = 0.1

// go1 goes on by a step with that curvature, positive to the right.
func (w *way) go1(perM float64) {
	p := &w.at
	turn := perM * wayStepM
	p.EastM += wayStepM * math.Sin(p.HeadingRad+turn/2)
	p.NorthM += wayStepM * math.Cos(p.HeadingRad+turn/2)
	p.HeadingRad += turn
	p.ToolHeadingRad = p.HeadingRad
	p.SpeedMps, p.YawRateRadPerS = 2, 2*perM
	p.TimeNs += int64(wayStepM / 2 * 1e9)
	w.poses = append(w.poses, *p)
}

func (w *way) straight(m float64) {
	for range int(math.Round(m / wayStepM)) {
		w.go1(0)
	}
}

// turn turns by so many degrees, positive to the right, at a radius of 6 m that is
// steered to, and from, over 2 m.
func (w *way) turn(deg float64) {
	const rampM = 2.0
	most := math.Copysign(1.0/6, deg)
	holdM := math.Abs(deg)*math.Pi/180*6 - rampM
	begin := w.at.HeadingRad
	for s := 0.0; s < holdM+2*rampM; s += wayStepM {
		w.go1(most * max(0, min(1, s/rampM, (holdM+2*rampM-s)/rampM)))
	}
	w.at.HeadingRad = begin + deg*math.Pi/180 // what the steps have lost
	w.at.ToolHeadingRad = w.at.HeadingRad
}

// around goes up and down a body between 0 and 100 m north, turning by U turns with so
// many metres straight between their two quarters, or by bulbs, and last turns off into
// the headland in the north, which begins there at once.
func around(passes int, straightM float64, bulbs bool) *way {
	w := &way{at: motion.Pose{NorthM: -25}}
	w.straight(125)
	side := 1.0
	for k := range passes - 1 {
		w.straight(4)
		if bulbs {
			w.turn(-60 * side)
			w.turn(300 * side)
			w.turn(-60 * side)
		} else {
			w.turn(90 * side)
			w.straight(straightM)
			w.turn(90 * side)
		}
		side = -side
		// Down to the other border, or back up to this one.
		toGo := w.at.NorthM
		if k%2 == 1 {
			toGo = 100 - w.at.NorthM
		}
		w.straight(toGo)
	}
	w.straight(4)
	w.turn(90)
	w.straight(60)
	return w
}

// headlandField is a body with a headland at either end, whose rows run across.
func headlandField(t *testing.T) *field.Field {
	strip := func(name string, south, north float64) field.Zone {
		return field.Zone{Name: name, Kind: field.Headland, RowBearingRad: math.Pi / 2, Polygons: rectangle(-300, south, 300, north)}
	}
	return newField(t, body(0, rectangle(-300, 0, 300, 100)), strip("south", -40, 0), strip("north", 100, 140))
}

// A pass in a headland that is begun inside the field, after a body, is one within half
// a bar or so where the driver's turns have had no straight; where they had one, or
// nothing is known of them, after three bar widths. In none of his turns does the headland
// take part.
func TestHeadlandBegunInside(t *testing.T) {
	f := headlandField(t)
	m := bar(RearRigid, -2.5, 6, 1)
	g := &Gate{Field: f, Machine: m, CosRowTolerance: math.Cos(10 * math.Pi / 180), MinWorkRadiusM: 20}
	for _, tc := range []struct {
		name      string
		passes    int
		straightM float64
		bulbs     bool
		waitsM    float64 // after the end of the turn, at most
	}{
		{"nothing known", 1, 0, false, 18.5},
		{"one bulb", 2, 0, true, 18.5},
		{"two bulbs", 3, 0, true, 4},
		{"bulbs", 5, 0, true, 4},
		{"U turns without a straight", 4, 0, false, 4},
		{"one pass left out", 4, 4, false, 18.5},
		{"two left out", 4, 10, false, 18.5},
	} {
		t.Run(tc.name, func(t *testing.T) {
			w := around(tc.passes, tc.straightM, tc.bulbs)
			last := len(w.poses) - int(60/wayStepM)
			var follow Follow
			begins := -1
			for i := range w.poses {
				g.Follow(&follow, &w.poses[i])
				if follow.Zones&f.Headlands() == 0 {
					continue
				}
				if i < last-10 {
					p := &w.poses[i]
					t.Fatalf("the headland takes part at (%.1f, %.1f) m, heading %.0f°, in a turn", p.EastM, p.NorthM, p.HeadingRad*180/math.Pi)
				}
				begins = i
				break
			}
			if begins < 0 {
				t.Fatal("the headland never takes part")
			}
			if waits := float64(begins-last) * wayStepM; waits > tc.waitsM {
				t.Errorf("the headland takes part %.1f m after the turn; want %g at most", waits, tc.waitsM)
			} else {
				t.Logf("%.1f m", waits)
			}
		})
	}
}

// Whether the bar was in a zone as the turn closed does not depend on where near that
// place the poses lie: here it reaches the zone 10 cm before, or beyond.
func TestTurnClosesBetweenPoses(t *testing.T) {
	w := &way{at: motion.Pose{EastM: -40, HeadingRad: math.Pi / 2}}
	w.straight(20)
	w.turn(-90)
	w.straight(10)
	// It is steered back from 1/6 m to nothing over the last 2 m, and passes 1/20 m 60 cm
	// before the end.
	end := w.poses[len(w.poses)-1-int(10/wayStepM)]
	for _, mount := range []Mount{RearRigid, FrontRigid} {
		x := map[Mount]float64{RearRigid: -2, FrontRigid: 3}[mount]
		for _, beyondM := range []float64{-0.1, 0.1} {
			from := end.NorthM - 0.6 + x + beyondM
			f := newField(t, body(0, rectangle(-300, from, 300, from+100)))
			g := &Gate{Field: f, Machine: bar(mount, x, 1, 0.5), CosRowTolerance: math.Cos(10 * math.Pi / 180), MinWorkRadiusM: 20}
			for every := 1; every <= 5; every++ {
				for first := range every {
					var follow Follow
					turned := false
					for i := first; i < len(w.poses); i += every {
						g.Follow(&follow, &w.poses[i])
						turned = turned || follow.Turning
						if turned && !follow.Turning {
							break
						}
					}
					if got, want := follow.Inside != 0, beyondM < 0; got != want {
						t.Errorf("%v, zone %+.1f m beyond, every %d poses from %d on: inside %v; want %v", mount, beyondM, every, first, got, want)
					}
				}
			}
		}
	}
}
