// What explains a day equally well, in sentences.

package cause

import (
	"fmt"
	"math"
	"strings"

	"liftbench/replay/diagnose/evidence"
)

// Unsure is causes that a day does not tell apart, with what says why not.
type Unsure struct {
	Moves                        evidence.Kind
	time, place, together, fades bool
	SlowestKmh, FastestKmh, DayS float64
	Lifts, Drops                 bool // whether there are any
	Crossings                    int
	ScatterM                     float64 // of a crossing
}

// Add notes one of the causes; family is time or place, or its name.
func (u *Unsure) Add(c Name, family string) {
	switch {
	case c == FlowShortage:
		u.together = true
	case c == ColdOil:
		u.fades = true
	case family == "place":
		u.place = true
	default:
		u.time = true
	}
}

// Why says why the day does not tell, and the drive that would.
func (u *Unsure) Why() (why, drive string) {
	var whys, drives []string
	add := func(why, drive string) { whys, drives = append(whys, why), append(drives, drive) }
	if u.time && u.place || u.place && (u.together || u.fades) {
		add(fmt.Sprintf("the speeds lie between %.1f and %.1f km/h, too close for this scatter to tell a time from a place", u.SlowestKmh, u.FastestKmh),
			fmt.Sprintf("drive again at two speeds, such as %.0f and %.0f km/h", math.Max(2, math.Round(u.SlowestKmh*0.6)), math.Round(math.Max(u.FastestKmh, 1.2*u.SlowestKmh+2))))
	}
	if u.together {
		add("the number of sections that lift at once changes too little", "lift one section at a time, then all at once")
	}
	if u.fades {
		add(fmt.Sprintf("the day is %.0f minutes long, too short for this scatter to tell what fades from what stays", u.DayS/60), "drive once with cold oil and once after an hour's work")
	}
	if len(whys) == 0 && (!u.Lifts || !u.Drops) {
		add("there are only "+KindName(u.Moves), "drive with lifts and drops both")
	}
	if len(whys) == 0 {
		add(fmt.Sprintf("the %d crossings scatter by %s, too much for a verdict: look on the map for a border or a pass where they are far off, and in the log for positions and states that are missing there", u.Crossings, CM(u.ScatterM)),
			"drive more crossings, lifts and drops, at two speeds and in both directions")
	}
	return fmt.Sprintf("%s are off, but %s.", Capital(KindName(u.Moves)), strings.Join(whys, ", and ")), Capital(strings.Join(drives, "; ")) + "."
}
