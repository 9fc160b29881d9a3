// Findings and doubts as sentences, in ms, cm and km/h, with the key of the settings
// that changes each.

package diagnose

import (
	"fmt"
	"math"
	"strings"

	"liftbench/replay/diagnose/evidence"
)

// wording puts what was found into sentences.
type wording struct{ day *evidence.Day }

// lateOrEarly says which way an error goes.
func lateOrEarly(x float64) string {
	if x < 0 {
		return "early"
	}
	return "late"
}

func msOf(s float64) string { return fmt.Sprintf("%.0f ms", math.Abs(s)*1e3) }
func cmOf(m float64) string { return fmt.Sprintf("%.0f cm", math.Abs(m)*1e2) }

// mostDecimals is how many decimals an interval is given at most.
const mostDecimals = 3

// Decimals returns how many decimals are needed to print an interval, in a unit, so that
// its ends differ: at least atLeast, at most three.
func (i Interval) Decimals(unit float64, atLeast int) int {
	d := atLeast
	for step := math.Pow(10, -float64(d)); d < mostDecimals && i[1]-i[0] < 2*step*unit; d++ {
		step /= 10
	}
	return d
}

// sized returns the size of a cause without its sign, and its interval with the smaller
// end first, both in a unit with that name.
func (f *found) sized(unit float64, name string) (size, interval string) {
	lo, hi, d := f.ci[0]/unit, f.ci[1]/unit, f.ci.Decimals(unit, 0)
	if f.size < 0 {
		lo, hi = -hi, -lo
	}
	return fmt.Sprintf("%.*f %s", d, math.Abs(f.size)/unit, name),
		fmt.Sprintf("95 %% interval %.*f to %.*f %s", d, lo, d, hi, name)
}

func nameOf(of evidence.Kind) string {
	return [...]string{"lifts and drops", "lifts", "drops"}[of]
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// speeds returns the speeds of the slowest and the fastest transition of a kind, in km/h.
func (a *analysis) speeds(of evidence.Kind) (lo, hi float64) {
	lo = math.Inf(1)
	for i := range a.moves {
		if m := &a.moves[i]; of.Applies(m.On) != 0 {
			lo, hi = min(lo, m.SpeedMps*3.6), max(hi, m.SpeedMps*3.6)
		}
	}
	return lo, hi
}

// finding puts one cause into words. legs are those on which it may have been found.
func (w *wording) finding(f *found, legs []*analysis) Finding {
	a := legs[0]
	for _, p := range legs {
		for i := range p.terms {
			if p.terms[i].cause == f.cause {
				a = p
			}
		}
	}
	out := Finding{
		Cause: f.cause, Section: f.section, Move: f.moveName(),
		Size: f.size, Unit: unitOf(f.cause), CI95: f.ci,
	}
	if f.cause == SlowSection {
		out.Move = f.moves.Name()
	}
	out.Evidence, out.Change = f.Evidence, f.Change
	if out.Evidence == "" {
		out.Evidence, out.Change = w.evidence(f, a), w.change(f, a)
	}
	return out
}

func (w *wording) evidence(f *found, a *analysis) string {
	who, lo, hi := capital(nameOf(f.moves)), 0.0, 0.0
	if len(a.moves) > 0 {
		lo, hi = a.speeds(f.moves)
	}
	ms, inMs := f.sized(1e-3, "ms")
	cm, inCm := f.sized(1e-2, "cm")
	switch f.cause {
	case LiftTiming, DropTiming, Latency:
		same := ""
		if f.cause == Latency {
			same = " alike"
		}
		return fmt.Sprintf("%s come %s %s%s at every speed (%s, %d crossings): %s at %.1f km/h, %s at %.1f km/h.",
			who, ms, lateOrEarly(f.size), same, inMs, f.crossings, cmOf(f.size*lo/3.6), lo, cmOf(f.size*hi/3.6), hi)
	case CommandTiming:
		return fmt.Sprintf("%s are commanded %s %s for the lead that the machine has (%s, %d crossings, %.1f to %.1f km/h).",
			who, ms, lateOrEarly(f.size), inMs, f.crossings, lo, hi)
	case MachineSlow:
		return fmt.Sprintf("From setpoint to work state %s take %s %s than the lead (%s, %d crossings).",
			nameOf(f.moves), ms, longerOrLess(f.size), inMs, f.crossings)
	case LiftGeometry, DropGeometry, Geometry:
		return fmt.Sprintf("%s come %s %s at every speed from %.1f to %.1f km/h (%s, %d crossings).",
			who, cm, lateOrEarly(f.size), lo, hi, inCm, f.crossings)
	case WrongBorder:
		where := "At every border"
		if f.piece != nil {
			where = fmt.Sprintf("At %d crossings within %.0f m of the place %.0f m east, %.0f m north of the field's middle", f.piece.Rows, f.piece.RadiusM, f.piece.EastM, f.piece.NorthM)
		}
		return fmt.Sprintf("%s lifts come %s %s and drops as much %s (%s).", where, cm, lateOrEarly(f.size), lateOrEarly(-f.size), inCm)
	case FileLead:
		return fmt.Sprintf("%s are commanded %s %s than the machine file's lead, and the machine takes as much %s (%s, %d crossings): the two cancel.",
			who, ms, laterOrEarlier(-f.size), longerOrLess(f.size), inMs, f.crossings)
	case SlowSection:
		who := "on " + nameOf(f.moves)
		if f.note != "" {
			who = f.note
		}
		return fmt.Sprintf("Section %d comes %s %s than the middle of the others of the same crossing, %s (%s, %d crossings).",
			f.section, ms, laterOrEarlier(f.size), who, inMs, f.crossings)
	case FlowShortage:
		return fmt.Sprintf("Each further section that lifts at the same time makes lifts %s later (%s, up to %.0f at once, %d crossings).",
			ms, inMs, a.mostOthers()+1, f.crossings)
	case ColdOil:
		return fmt.Sprintf("%s begin the day %s %s (%s), and it fades to a third within %.0f minutes (%d crossings over %.0f minutes).",
			who, ms, lateOrEarly(f.size), inMs, f.tauS/60, f.crossings, a.lastS/60)
	case HeadingError:
		return fmt.Sprintf("In turns one end of the bar is late and the other early by lateral position × yaw rate × %s (%s, %d crossings): the heading is %s.",
			ms, inMs, f.crossings, oldOrAhead(f.size))
	}
	return fmt.Sprintf("The %d crossings with poor reception just before (%s) are typically off by %s more than the others (%s).",
		f.crossings, f.note, ms, inMs)
}

func longerOrLess(x float64) string {
	if x < 0 {
		return "less"
	}
	return "longer"
}

func laterOrEarlier(x float64) string {
	if x < 0 {
		return "earlier"
	}
	return "later"
}

// oldOrAhead: if the heading is Δ old, the controller believes a section at y to the right
// to be y·ω·Δ too far forward, and commands it early by that much.
func oldOrAhead(x float64) string {
	if x < 0 {
		return "old"
	}
	return "ahead of the tractor's"
}

// mostOthers is how many other sections rose during a lift, at most.
func (a *analysis) mostOthers() float64 {
	most := 0.0
	for i := range a.moves {
		most = max(most, a.moves[i].Others)
	}
	return most
}

// change says which setting to change, which way and by how much.
func (w *wording) change(f *found, a *analysis) string {
	set := &w.day.Settings
	lead := func(menu, key string, nowNs int64) string {
		now := float64(nowNs) * 1e-6
		to := now + f.size*1e3
		if to < 0 {
			return fmt.Sprintf("%s: lower it by %s; it is %.0f ms now, so look for another cause of what is left (%s).", menu, msOf(f.size), now, key)
		}
		return fmt.Sprintf("%s: %s it by %s, from %.0f to %.0f ms (%s).", menu, raiseOrLower(f.size), msOf(f.size), now, to, key)
	}
	leads := func() string {
		switch f.moves {
		case evidence.Lifts:
			return lead(turnOff, "controller.lift_lead", set.LiftLead.AloneNs())
		case evidence.Drops:
			return lead(turnOn, "controller.drop_lead", set.DropLead.AloneNs())
		}
		return fmt.Sprintf("Turn-off and turn-on time of the sections (leads, ISO 11783-11 DDI 206 and 205): %s both by %s (controller.lift_lead, controller.drop_lead).", raiseOrLower(f.size), msOf(f.size))
	}
	switch f.cause {
	case LiftTiming, DropTiming:
		return leads()
	case CommandTiming:
		return "The terminal's lead differs from the machine file's. " + leads()
	case MachineSlow:
		return "Look for oil, valves and forces that differ from those of the machine file (hydraulics). Until then: " + leads()
	case FileLead:
		return w.fileLead(f)
	case Latency:
		now := float64(set.LatencyNs) * 1e-6
		return fmt.Sprintf("Age of the position: %s it by %s, from %.0f to %.0f ms (controller.latency_ms).", raiseOrLower(f.size), msOf(f.size), now, math.Max(0, now+f.size*1e3))
	case Geometry:
		is := w.day.Machine.Sections[0].XM - w.day.Machine.AntennaXM
		works := is - f.size
		return fmt.Sprintf("Distance antenna to tool: set it to %s, as measured on the machine; it works as with %s, the bar %s too far %s (tool.forward_m less antenna.forward_m, %.2f m; ISO 11783-11 DDI 134).",
			aheadOrBehind(is), aheadOrBehind(works), cmOf(f.size), forwardOrBack(-f.size), is)
	case LiftGeometry, DropGeometry:
		return fmt.Sprintf("Height or depth at which a tool counts as in or out of the ground: %s are off by a place, the others are not, so it is not the distance antenna to tool, but how high the work-state sensor switches or which part of the tool is measured to (depth.effective_cm). Until then shift the %s by %s.",
			nameOf(f.moves), nameOf(f.moves), cmOf(f.size))
	case WrongBorder:
		if f.piece != nil {
			return fmt.Sprintf("Field map: survey this piece of the border again; the terminal has it %s too far %s.", cmOf(f.size), outOrIn(f.size))
		}
		return fmt.Sprintf("Field map or overlap at the border: the terminal has every border %s too far %s (the field's file; controller.edge_rule).", cmOf(f.size), outOrIn(f.size))
	case SlowSection:
		if f.size > 0 {
			return fmt.Sprintf("Section %d: clean or replace its valve, look for a pinched hose and a stiff linkage. %s", f.section, ownLead(f))
		}
		return fmt.Sprintf("Section %d: check its flow valve, its weight and its depth against the others. %s", f.section, ownLead(f))
	case FlowShortage:
		flow := "give the machine file the pump's true flow (hydraulics.pump_l_min)"
		if fed := w.day.LiftMoveS() / f.size; fed >= 1 && fed < float64(len(w.day.Machine.Sections)) {
			flow += fmt.Sprintf(", which feeds about %.1f sections at full speed", fed)
		}
		if set.LiftLead.FedAtOnce > 0 {
			return "Tractor, flow of the outlet: raise it; or " + flow + "."
		}
		return "Tractor, flow of the outlet: raise it; or let the lead grow with the sections that lift together (controller.flow_aware: true), and " + flow + "."
	case ColdOil:
		return fmt.Sprintf("Warm the oil up before work; or set the leads for the cold morning's oil and put them back after %.0f minutes (hydraulics.oil_c).", 2*f.tauS/60)
	case HeadingError:
		if f.size < 0 {
			return fmt.Sprintf("Age of the position and the receiver's heading (HDT): the heading used in turns is %s old (controller.latency_ms); check the distance axle to antenna too (antenna.forward_m).", msOf(f.size))
		}
		return fmt.Sprintf("Distance axle to antenna (antenna.forward_m) and the receiver's heading (HDT): the heading used in turns is %s ahead.", msOf(f.size))
	}
	return "Receiver: look at corrections, antenna and cable. A terminal that asks for RTK fixed and for younger positions does not lift or drop by such fixes (controller.min_quality: 4, controller.max_age_ms)."
}

// The settings of a terminal that are leads: ISO 11783-11 DDI 206 and 205, from memory.
const (
	turnOff = "Turn-off time of the sections (lift lead, ISO 11783-11 DDI 206)"
	turnOn  = "Turn-on time of the sections (drop lead, ISO 11783-11 DDI 205)"
)

// ownLead says how a terminal that has leads for each section makes up for a slow one.
func ownLead(f *found) string {
	by := func(s float64) string { return raiseOrLower(s) + " it by " + msOf(s) }
	what := ""
	switch {
	case f.moves == evidence.Lifts:
		what = "turn-off time: " + by(f.size)
	case f.moves == evidence.Drops:
		what = "turn-on time: " + by(f.size)
	case f.note != "":
		what = fmt.Sprintf("turn-off time: %s; turn-on time: %s", by(f.lateS[0]), by(f.lateS[1]))
	default:
		what = fmt.Sprintf("turn-off and turn-on time: %s both by %s", raiseOrLower(f.size), msOf(f.size))
	}
	return "Until then, where the terminal has a lead for each section, its " + what + "."
}

// aheadOrBehind says how far the tool is from the antenna.
func aheadOrBehind(m float64) string {
	way := "ahead"
	if m < 0 {
		way = "behind"
	}
	return fmt.Sprintf("%.2f m, tool %s", math.Abs(m), way)
}

func raiseOrLower(x float64) string {
	if x < 0 {
		return "lower"
	}
	return "raise"
}

func forwardOrBack(x float64) string {
	if x < 0 {
		return "back"
	}
	return "forward"
}

func outOrIn(x float64) string {
	if x < 0 {
		return "in"
	}
	return "out"
}

// doubt puts into words that f and its rivals explain the day equally well.
func (a *analysis) doubt(f *found, rivals []int) Doubt {
	d := Doubt{Between: []Cause{f.cause}}
	time, place, together, oil := false, false, false, false
	note := func(t *term) {
		switch {
		case t.cause == FlowShortage:
			together = true
		case t.cause == ColdOil:
			oil = true
		case t.family() == "place":
			place = true
		default:
			time = true
		}
	}
	note(&f.term)
	for _, q := range rivals {
		t := &a.terms[q]
		note(t)
		known := false
		for _, c := range d.Between {
			known = known || c == t.cause
		}
		if !known {
			d.Between = append(d.Between, t.cause)
		}
	}
	lo, hi := a.speeds(f.moves)
	hasLift, hasDrop := false, false
	for i := range a.moves {
		hasLift, hasDrop = hasLift || !a.moves[i].On, hasDrop || a.moves[i].On
	}
	var why, drive []string
	if time && place || place && (together || oil) {
		why = append(why, fmt.Sprintf("the speeds lie between %.1f and %.1f km/h, too close for this scatter to tell a time from a place", lo, hi))
		drive = append(drive, fmt.Sprintf("drive again at two speeds, such as %.0f and %.0f km/h", math.Max(2, math.Round(lo*0.6)), math.Round(math.Max(hi, 1.2*lo+2))))
	}
	if together {
		why = append(why, "the number of sections that lift at once changes too little")
		drive = append(drive, "lift one section at a time, then all at once")
	}
	if oil {
		why = append(why, fmt.Sprintf("the day is %.0f minutes long, too short for this scatter to tell what fades from what stays", a.lastS/60))
		drive = append(drive, "drive once with cold oil and once after an hour's work")
	}
	if len(why) == 0 && (!hasLift || !hasDrop) {
		why = append(why, "there are only "+nameOf(f.moves))
		drive = append(drive, "drive with lifts and drops both")
	}
	if len(why) == 0 {
		why = append(why, fmt.Sprintf("the %d crossings scatter by %s, too much for a verdict: look on the map for a border or a pass where they are far off, and in the log for positions and states that are missing there", len(a.rows), cmOf(a.sigmaM)))
		drive = append(drive, "drive more crossings, lifts and drops, at two speeds and in both directions")
	}
	d.Why = fmt.Sprintf("%s are off, but %s.", capital(nameOf(f.moves)), strings.Join(why, ", and "))
	d.Drive = capital(strings.Join(drive, "; ")) + "."
	return d
}

// scattered is the doubt of a day whose crossings scatter more than machine and receiver
// explain.
func (a *analysis) scattered(r *evidence.Reception) Doubt {
	rate := ""
	if r.IntervalNs > 0 {
		rate = fmt.Sprintf(", with a position every %.1f s", float64(r.IntervalNs)*1e-9)
	}
	return Doubt{
		Between: []Cause{PoorReception, ByHand, Erratic},
		Why:     fmt.Sprintf("Crossings scatter by %s around no cause%s: a hand, a field map that is off here and there, or old positions would look alike.", cmOf(a.sigmaM), rate),
		Drive:   "Let the controller lift and drop, record its setpoints and each section's work state, with positions at 5 Hz or more.",
	}
}
