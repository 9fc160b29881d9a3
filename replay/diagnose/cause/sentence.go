// What was found, in sentences.

package cause

import (
	"fmt"
	"math"
	"strings"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections"
)

// Fact is a cause that was found, with what its sentences need.
type Fact struct {
	Cause     Name
	Moves     evidence.Kind // whether it concerns lifts, drops or both
	Section   int           // from 1; 0 = all
	Size      float64       // signed: positive = late
	CI95      Interval
	LateS     [2]float64 // of a slow section that lifts and drops late by different times
	Crossings int        // how many show it
	Note      string
	TauS      float64 // of cold oil
	Feeds     float64 // of a flow shortage: sections that the pump moves at full speed
	FeedsCI95 Interval
	Piece     *regress.Piece // of a wrong border; nil = all around
	// AfterCommand: a place error that comes between the setpoint and the work state.
	AfterCommand bool
	// The slowest and the fastest of the moves it concerns, how many sections move at once at
	// most, and how long the day is.
	SlowestKmh, FastestKmh, AtOnce, DayS float64
}

// LateOrEarly says which way an error goes.
func LateOrEarly(x float64) string {
	if x < 0 {
		return "early"
	}
	return "late"
}

// MS is a time without its sign.
func MS(s float64) string { return fmt.Sprintf("%.0f ms", math.Abs(s)*1e3) }

// fromM is the length from which one is said in metres.
const fromM = 3

// Length is a length without its sign, in centimetres below 3 m.
func Length(m float64) string {
	if m = math.Abs(m); m >= fromM {
		return fmt.Sprintf("%.2f m", m)
	}
	return fmt.Sprintf("%.0f cm", m*1e2)
}

// Sized returns a size without its sign, and its interval with the smaller end first, both
// in a unit with that name.
func Sized(size float64, ci Interval, unit float64, name string) (text, interval string) {
	lo, hi, d := ci[0]/unit, ci[1]/unit, ci.Decimals(unit, 0)
	if size < 0 {
		lo, hi = -hi, -lo
	}
	return fmt.Sprintf("%.*f %s", d, math.Abs(size)/unit, name),
		fmt.Sprintf("95 %% interval %.*f to %.*f %s", d, lo, d, hi, name)
}

// KindName is the plural of a kind.
func KindName(of evidence.Kind) string {
	return [...]string{"lifts and drops", "lifts", "drops"}[of]
}

// Capital returns a text with a capital first letter, which must be one byte.
func Capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// Evidence says how it shows.
func (f *Fact) Evidence() string {
	who, lo, hi := Capital(KindName(f.Moves)), f.SlowestKmh, f.FastestKmh
	ms, inMs := Sized(f.Size, f.CI95, 1e-3, "ms")
	length, inLength := Sized(f.Size, f.CI95, 1e-2, "cm")
	if math.Abs(f.Size) >= fromM {
		length, inLength = Sized(f.Size, f.CI95, 1, "m")
	}
	switch f.Cause {
	case LiftTiming, DropTiming, Latency:
		same := ""
		if f.Cause == Latency {
			same = " alike"
		}
		return fmt.Sprintf("%s come %s %s%s at every speed (%s, %d crossings): %s at %.1f km/h, %s at %.1f km/h.",
			who, ms, LateOrEarly(f.Size), same, inMs, f.Crossings, Length(f.Size*lo/3.6), lo, Length(f.Size*hi/3.6), hi)
	case CommandTiming:
		return fmt.Sprintf("%s are commanded %s %s for the lead that the machine has (%s, %d crossings, %.1f to %.1f km/h).",
			who, ms, LateOrEarly(f.Size), inMs, f.Crossings, lo, hi)
	case MachineSlow:
		return fmt.Sprintf("From setpoint to work state %s take %s %s than the lead (%s, %d crossings).",
			KindName(f.Moves), ms, longerOrLess(f.Size), inMs, f.Crossings)
	case LiftGeometry, DropGeometry, Geometry:
		if f.AfterCommand {
			return fmt.Sprintf("From setpoint to work state %s take %s of the way %s than the lead, at every speed from %.1f to %.1f km/h (%s, %d crossings): the tool bites, or its sensor switches, over a length.",
				KindName(f.Moves), length, longerOrLess(f.Size), lo, hi, inLength, f.Crossings)
		}
		return fmt.Sprintf("%s come %s %s at every speed from %.1f to %.1f km/h (%s, %d crossings).",
			who, length, LateOrEarly(f.Size), lo, hi, inLength, f.Crossings)
	case WrongBorder:
		where := "At every border"
		if f.Piece != nil {
			where = fmt.Sprintf("At %d crossings within %.0f m of the place %.0f m east, %.0f m north of the field's middle", f.Piece.Rows, f.Piece.RadiusM, f.Piece.EastM, f.Piece.NorthM)
		}
		return fmt.Sprintf("%s lifts come %s %s and drops as much %s (%s).", where, length, LateOrEarly(f.Size), LateOrEarly(-f.Size), inLength)
	case FileLead:
		return fmt.Sprintf("%s are commanded %s %s than the machine file's lead, and the machine takes as much %s (%s, %d crossings): the two cancel.",
			who, ms, laterOrEarlier(-f.Size), longerOrLess(f.Size), inMs, f.Crossings)
	case SlowSection:
		who := "on " + KindName(f.Moves)
		if f.Note != "" {
			who = f.Note
		}
		return fmt.Sprintf("Section %d comes %s %s than the middle of the others of the same crossing, %s (%s, %d crossings).",
			f.Section, ms, laterOrEarlier(f.Size), who, inMs, f.Crossings)
	case FlowShortage:
		return fmt.Sprintf("Each further section that moves at the same time makes %s %s later on average (%s, up to %.0f at once, %d crossings): the pump feeds about %s.",
			KindName(f.Moves), ms, inMs, f.AtOnce, f.Crossings, f.feeds())
	case ColdOil:
		return fmt.Sprintf("%s begin the day %s %s (%s), and it fades to a third within %.0f minutes (%d crossings over %.0f minutes).",
			who, ms, LateOrEarly(f.Size), inMs, f.TauS/60, f.Crossings, f.DayS/60)
	case HeadingError:
		return fmt.Sprintf("In turns one end of the bar is late and the other early by lateral position × yaw rate × %s (%s, %d crossings): the heading is %s.",
			ms, inMs, f.Crossings, oldOrAhead(f.Size))
	}
	return fmt.Sprintf("The %d crossings with poor reception just before (%s) are typically off by %s more than the others (%s).",
		f.Crossings, f.Note, ms, inMs)
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

// Change says which setting to change, which way and by how much, on a day.
func (f *Fact) Change(day *evidence.Day) string {
	set := &day.Settings
	lead := func(menu, key string, nowNs int64) string {
		now := float64(nowNs) * 1e-6
		to := now + f.Size*1e3
		if to < 0 {
			return fmt.Sprintf("%s: lower it by %s; it is %.0f ms now, so look for another cause of what is left (%s).", menu, MS(f.Size), now, key)
		}
		return fmt.Sprintf("%s: %s it by %s, from %.0f to %.0f ms (%s).", menu, raiseOrLower(f.Size), MS(f.Size), now, to, key)
	}
	leads := func() string {
		switch f.Moves {
		case evidence.Lifts:
			return lead(turnOff, "controller.lift_lead", set.LiftLead.AloneNs())
		case evidence.Drops:
			return lead(turnOn, "controller.drop_lead", set.DropLead.AloneNs())
		}
		return fmt.Sprintf("Turn-off and turn-on time of the sections (leads, ISO 11783-11 DDI 206 and 205): %s both by %s (controller.lift_lead, controller.drop_lead).", raiseOrLower(f.Size), MS(f.Size))
	}
	switch f.Cause {
	case LiftGeometry, DropGeometry, Geometry:
		if f.AfterCommand {
			return fmt.Sprintf("Height or depth at which a tool counts as in or out of the ground (depth.effective_cm), and the work-state sensor: a lead makes up for a length at one speed alone. Until then %s the lead of %s by %s at %.1f km/h, by %s at %.1f km/h.",
				raiseOrLower(f.Size), KindName(f.Moves), MS(f.Size/f.SlowestKmh*3.6), f.SlowestKmh, MS(f.Size/f.FastestKmh*3.6), f.FastestKmh)
		}
	}
	switch f.Cause {
	case LiftTiming, DropTiming:
		return leads()
	case CommandTiming:
		return "The terminal's lead differs from the machine file's. " + leads()
	case MachineSlow:
		return "Look for oil, valves and forces that differ from those of the machine file (hydraulics). Until then: " + leads()
	case FileLead:
		return f.fileLead(&day.Settings)
	case Latency:
		now := float64(set.LatencyNs) * 1e-6
		return fmt.Sprintf("Age of the position: %s it by %s, from %.0f to %.0f ms (controller.latency_ms).", raiseOrLower(f.Size), MS(f.Size), now, math.Max(0, now+f.Size*1e3))
	case Geometry:
		is := day.Machine.Sections[0].XM - day.Machine.AntennaXM
		works := is - f.Size
		// DDI 134: device element offset X; the number is from memory.
		return fmt.Sprintf("Distance antenna to tool: set it to %s, as measured on the machine; it works as with %s, the bar %s too far %s (tool.forward_m less antenna.forward_m, %.2f m; ISO 11783-11 DDI 134).",
			aheadOrBehind(is), aheadOrBehind(works), Length(f.Size), forwardOrBack(-f.Size), is)
	case LiftGeometry, DropGeometry:
		return fmt.Sprintf("Height or depth at which a tool counts as in or out of the ground: %s are off by a place, the others are not, so it is not the distance antenna to tool, but how high the work-state sensor switches or which part of the tool is measured to (depth.effective_cm). Until then shift the %s by %s.",
			KindName(f.Moves), KindName(f.Moves), Length(f.Size))
	case WrongBorder:
		if f.Piece != nil {
			return fmt.Sprintf("Field map: survey this piece of the border again; the terminal has it %s too far %s.", Length(f.Size), outOrIn(f.Size))
		}
		return fmt.Sprintf("Field map or overlap at the border: the terminal has every border %s too far %s (the field's file; controller.edge_rule).", Length(f.Size), outOrIn(f.Size))
	case SlowSection:
		if f.Size > 0 {
			return fmt.Sprintf("Section %d: clean or replace its valve, look for a pinched hose and a stiff linkage. %s", f.Section, f.ownLead())
		}
		return fmt.Sprintf("Section %d: check its flow valve, its weight and its depth against the others. %s", f.Section, f.ownLead())
	case FlowShortage:
		flow := "give the machine file the pump's true flow (hydraulics.pump_l_min), which feeds about " + f.feeds()
		if fed := set.LiftLead.FedAtOnce; fed > 0 {
			return fmt.Sprintf("Tractor, flow of the outlet: raise it; or %s, to %.0f %% of what it is; the lead counts on %.1f.", flow, 100*f.Feeds/fed, fed)
		}
		return "Tractor, flow of the outlet: raise it; or let the lead grow with the sections that move together (controller.flow_aware: true), and " + flow + "."
	case ColdOil:
		return fmt.Sprintf("Warm the oil up before work; or set the leads for the cold morning's oil and put them back after %.0f minutes (hydraulics.oil_c).", 2*f.TauS/60)
	case HeadingError:
		if f.Size < 0 {
			return fmt.Sprintf("Age of the position and the receiver's heading (HDT): the heading used in turns is %s old (controller.latency_ms); check the distance axle to antenna too (antenna.forward_m).", MS(f.Size))
		}
		return fmt.Sprintf("Distance axle to antenna (antenna.forward_m) and the receiver's heading (HDT): the heading used in turns is %s ahead.", MS(f.Size))
	}
	return "Receiver: look at corrections, antenna and cable. A terminal that asks for RTK fixed and for younger positions does not lift or drop by such fixes (controller.min_quality: 4, controller.max_age_ms)."
}

// feeds says how many sections the pump feeds.
func (f *Fact) feeds() string {
	return fmt.Sprintf("%.1f sections at full speed (95 %% interval %.1f to %.1f)", f.Feeds, f.FeedsCI95[0], f.FeedsCI95[1])
}

// The settings of a terminal that are leads: ISO 11783-11 DDI 206 and 205, from memory.
const (
	turnOff = "Turn-off time of the sections (lift lead, ISO 11783-11 DDI 206)"
	turnOn  = "Turn-on time of the sections (drop lead, ISO 11783-11 DDI 205)"
)

// ownLead says how a terminal that has leads for each section makes up for a slow one.
func (f *Fact) ownLead() string {
	by := func(s float64) string { return raiseOrLower(s) + " it by " + MS(s) }
	what := ""
	switch {
	case f.Moves == evidence.Lifts:
		what = "turn-off time: " + by(f.Size)
	case f.Moves == evidence.Drops:
		what = "turn-on time: " + by(f.Size)
	case f.Note != "":
		what = fmt.Sprintf("turn-off time: %s; turn-on time: %s", by(f.LateS[0]), by(f.LateS[1]))
	default:
		what = fmt.Sprintf("turn-off and turn-on time: %s both by %s", raiseOrLower(f.Size), MS(f.Size))
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

// fileLead says which lead on file to change.
func (f *Fact) fileLead(set *sections.Settings) string {
	of := func(key string, ns int64) string {
		now := float64(ns) * 1e-6
		return fmt.Sprintf("%s from %.0f to %.0f ms", key, now, now+f.Size*1e3)
	}
	what := ""
	switch f.Moves {
	case evidence.Lifts:
		what = of("controller.lift_lead", set.LiftLead.AloneNs())
	case evidence.Drops:
		what = of("controller.drop_lead", set.DropLead.AloneNs())
	default:
		what = of("controller.lift_lead", set.LiftLead.AloneNs()) + ", " + of("controller.drop_lead", set.DropLead.AloneNs())
	}
	return "Nothing on the machine or in the terminal: correct the machine file, " + what + ", or the hydraulics it follows from."
}
