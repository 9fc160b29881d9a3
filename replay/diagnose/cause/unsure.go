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

// farApart is the ratio of two speeds that part a time from a place, unless crossings scatter.
const farApart = 1.8

// Why says why the day does not tell, and the drive that would.
func (u *Unsure) Why() (why, drive string) {
	var whys, drives []string
	add := func(why, drive string) { whys, drives = append(whys, why), append(drives, drive) }
	switch apart := u.time && u.place || u.place && (u.together || u.fades); {
	case apart && u.FastestKmh > farApart*u.SlowestKmh:
		add(fmt.Sprintf("the %d crossings scatter by %s, too much to tell a time from a place although the speeds go from %.1f to %.1f km/h", u.Crossings, Length(u.ScatterM), u.SlowestKmh, u.FastestKmh),
			"look first for what scatters: a hand on the lift, positions or states that are missing, a border that is off here and there; then drive more crossings")
	case apart:
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
		add(fmt.Sprintf("the %d crossings scatter by %s, too much for a verdict: look on the map for a border or a pass where they are far off, and in the log for positions and states that are missing there", u.Crossings, Length(u.ScatterM)),
			"drive more crossings, lifts and drops, at two speeds and in both directions")
	}
	return fmt.Sprintf("%s are off, but %s.", Capital(KindName(u.Moves)), strings.Join(whys, ", and ")), Capital(strings.Join(drives, "; ")) + "."
}

// OrFileLead says why commands, or a machine, that are off by a time may be a wrong lead on
// file, where the other of the two is known too little, and the drive that tells.
func OrFileLead(c Name, moves evidence.Kind, s float64) (why, drive string) {
	what := map[Name]string{CommandTiming: "commanded", MachineSlow: "made"}[c]
	return fmt.Sprintf("%s are %s %s %s, and the times scatter too much to tell whether they are off as much the other way on the other leg: then it is the lead on file that is wrong, and neither the controller nor the machine.", Capital(KindName(moves)), what, MS(s), LateOrEarly(s)),
		fmt.Sprintf("Measure with a stopwatch how long %s take from the command on, and compare the lead in the controller with that on file.", KindName(moves))
}

// Scattered says that crossings scatter around no cause, with a position at each interval if
// that is known, and what to record.
func Scattered(scatterM float64, intervalNs int64) (why, drive string) {
	rate := ""
	if intervalNs > 0 {
		rate = fmt.Sprintf(", with a position every %.1f s", float64(intervalNs)*1e-9)
	}
	return fmt.Sprintf("Crossings scatter by %s around no cause%s: a hand, a field map that is off here and there, or old positions would look alike.", Length(scatterM), rate),
		"Let the controller lift and drop, record its setpoints and each section's work state, with positions at 5 Hz or more."
}

// BeforeTold says that work states change before the setpoints that ask for it, by byS.
func BeforeTold(byS float64) (why, drive string) {
	return fmt.Sprintf("Work states change %s before the setpoints that ask for it: no machine does that, so the two were stamped by different clocks, or are not of one drive.", MS(byS)),
		"Compare the times in both records with a lift that was seen, or record both with one clock."
}

// BesidePump says that lifts that are off by s may be what is not known of a short pump, which
// makes them up to mostS late.
func BesidePump(s, mostS float64) (why, drive string) {
	return fmt.Sprintf("Beside a short pump, which makes lifts up to %s late, all of them come %s %s: an accumulator, or a pump whose flow falls with the pressure, makes as much of a difference.", MS(mostS), MS(s), LateOrEarly(s)),
		"Lift one section at a time, at two speeds: the pump has no part in that."
}

// OwnOrShared is the doubt of lifts and drops that are off by different times.
func OwnOrShared(of evidence.Kind, sizeS float64, other evidence.Kind, otherS float64) (why, drive string) {
	why = fmt.Sprintf("Lifts and drops are both %s, by different times: each may have its own, or part of it is shared, as an old position is, and one of the leads is wrong by no more than %s.", LateOrEarly(sizeS), MS(sizeS-otherS))
	if sizeS*otherS < 0 {
		why = fmt.Sprintf("%s are %s and %s %s: each may have its own lead wrong, or both share one lateness and one of the leads is wrong by %s.",
			Capital(KindName(of)), LateOrEarly(sizeS), KindName(other), LateOrEarly(otherS), MS(sizeS-otherS))
	}
	return why, "Record setpoints as well as work states, or a log with arrival times: then the age of the position is measured."
}

// OneWay is the doubt of a place error on a day driven one way.
func OneWay(of evidence.Kind, sizeM float64) (why, drive string) {
	return fmt.Sprintf("%s come %s %s, and all passes go the same way: a field map or positions that are shifted along it look the same.", Capital(KindName(of)), Length(sizeM), LateOrEarly(sizeM)),
		"Drive in the other direction too: a wrong place on the machine stays late or early, a shifted map changes sign."
}

// Cancelling is the doubt of a time and a place that move no crossing by more than mostM
// together at the speeds driven.
func Cancelling(of evidence.Kind, timeS, placeM, mostM, slowestKmh, fastestKmh float64) (why, drive string) {
	slowKmh := math.Max(2, math.Round(slowestKmh/2))
	thereM := placeM + timeS*slowKmh/3.6
	return fmt.Sprintf("From %.1f to %.1f km/h %s are off by no more than %s. By their slope over the speed that is %s %s by a place and %s %s by a time, which cancel just there: sooner it is neither, but something small that changes with the speed or with the border.",
			slowestKmh, fastestKmh, KindName(of), Length(mostM), Length(placeM), LateOrEarly(placeM), MS(timeS), LateOrEarly(timeS)),
		fmt.Sprintf("Change nothing yet. Drive again at %.0f km/h: if both are there, %s come %s %s.", slowKmh, KindName(of), Length(thereM), LateOrEarly(thereM))
}
