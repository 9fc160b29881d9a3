// What one drive came to, and what the drives of a class come to together.

package suite

import (
	"fmt"
	"hash/fnv"
	"math"
	"sort"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/run"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
	"liftbench/sim/receiver"
)

// Tolerance of a place: nearer than that a lift or drop is well placed. Common
// practice, no source: half of the 20 cm that a driver sees.
const toleranceMm = 100

// lostMm is what a lift or drop that was missed, or is extra, counts as: more than any
// that is merely late. One that is farther off counts no more.
const lostMm = 2000

// Result is what one drive came to. Its numbers are whole, so that a file holds them
// as they are.
type Result struct {
	Name   string `json:"-"`
	Class  string `json:"-"`
	Title  string `json:"-"`
	Failed string `json:"failed,omitempty"` // why there is no score; "" = there is one
	// Exceeded are the limits that are exceeded, a sentence each.
	Exceeded []string `json:"exceeded,omitempty"`
	// Chances tells whether two results are of the same drive by the same chances: see
	// chances.
	Chances string `json:"chances,omitempty"`
	// PlaceMm is the place error of each lift and drop that ought to have been, by
	// crossing and from the left; lostMm where it was missed.
	PlaceMm []int `json:"place_mm,omitempty"`
	// Sections are the numbers of the sections that move, 1 = the leftmost.
	Sections []int `json:"sections,omitempty"`
	// Crossings are how many of them belong together each time, as the bar crosses a
	// border.
	Crossings []int `json:"crossings,omitempty"`
	Missed    int   `json:"missed,omitempty"`
	Extra     int   `json:"extra,omitempty"`
	LostDm2   int   `json:"lost_dm2,omitempty"` // missed and worked outside
	ToWorkDm2 int   `json:"to_work_dm2,omitempty"`
	// FailSafeMs is how long after its loss of position the last tool was up, at
	// worst; noFailSafe or stayedDown.
	FailSafeMs int `json:"fail_safe_ms,omitempty"`

	stderr []byte      // of the controller under test
	places []orb.Point // where each move ought to have been, east and north
}

// What FailSafeMs is where it is no time.
const (
	noFailSafe = -1 // position was not lost, or nothing was in work
	stayedDown = -2
)

// together is how far apart in time, at most, two moves of one crossing lie.
const togetherNs = 1.5e9

// Judge fills r from a drive that has been scored.
func (r *Result) Judge(o *run.Outcome) {
	events := make([]*score.Event, 0, len(o.Score.Events))
	for i := range o.Score.Events {
		switch e := &o.Score.Events[i]; e.Kind {
		case score.Paired, score.Missed:
			events = append(events, e)
		case score.Spurious:
			r.Extra++
		}
	}
	sort.SliceStable(events, func(i, j int) bool { return events[i].IdealNs < events[j].IdealNs })
	for first, i := 0, 1; i <= len(events); i++ {
		if i < len(events) && events[i].IdealNs-events[i-1].IdealNs <= togetherNs {
			continue
		}
		// From the left: the last digit of an instant must not decide what is paired.
		crossing := events[first:i]
		sort.SliceStable(crossing, func(i, j int) bool { return crossing[i].Section < crossing[j].Section })
		r.Crossings = append(r.Crossings, len(crossing))
		first = i
	}
	for _, e := range events {
		place := lostMm
		if e.Kind == score.Missed {
			r.Missed++
		} else {
			place = int(math.Round(max(-lostMm, min(lostMm, e.PlaceErrorM*1000))))
		}
		r.PlaceMm, r.Sections = append(r.PlaceMm, place), append(r.Sections, int(e.Section)+1)
		r.places = append(r.places, orb.Point{e.EastM, e.NorthM})
	}
	r.Chances = chances(o)
	a := &o.Score.Area
	r.LostDm2, r.ToWorkDm2 = int(math.Round(100*(a.MissM2+a.OverrunM2))), int(math.Round(100*a.PassedM2))
	r.FailSafeMs = failSafe(o)
}

// chances is a checksum of what was driven and of what the receiver said, which
// the controller has no part in.
func chances(o *run.Outcome) string {
	sum := fnv.New64a()
	for i := 0; i < len(o.Track); i += 50 {
		p := &o.Track[i]
		fmt.Fprintf(sum, "%d %.4f %.4f\n", p.TimeNs, p.EastM, p.NorthM)
	}
	fmt.Fprintln(sum, o.Reception.Epochs, o.Setup.Scenario.Drive.Seed)
	return fmt.Sprintf("%016x", sum.Sum64())
}

// failSafe looks for the times at which no position came for so long that the
// fail-safe of the machine's settings has a second to spare.
func failSafe(o *run.Outcome) int {
	worst, c := noFailSafe, &o.Machine.Controller
	for _, f := range o.Setup.Scenario.Receiver.Params(0).Faults {
		if f.Kind == receiver.Float || f.ToS-f.FromS < (c.MaxAgeMs+c.HoldMs)/1000+1 {
			continue
		}
		from, to := o.Reception.FirstNs+int64(f.FromS*1e9), o.Reception.FirstNs+int64(f.ToS*1e9)
		down, lastUpNs := 0, from
		for _, c := range o.Changes {
			switch {
			case c.TimeNs > to:
			case c.On:
				down++
			default:
				down--
				if c.TimeNs > from {
					lastUpNs = c.TimeNs
				}
			}
		}
		switch {
		case down > 0:
			return stayedDown
		case lastUpNs > from:
			worst = max(worst, int((lastUpNs-from)/1e6))
		}
	}
	return worst
}

// Score is what several drives come to together.
type Score struct {
	Drives, Failed, Exceeded int
	Moves                    int // lifts and drops that ought to have been
	Within                   int // of them within the tolerance
	Missed, Extra            int
	Low, High                float64 // 95 % interval of the share within the tolerance
	P95Mm, WorstMm           int
	LostM2PerHa              float64
	FailSafeMs               int // the longest; noFailSafe or stayedDown
	FloorMm                  int // 95 % of places, by the best estimate of a pass; see Floor
}

// Share is that of the moves that are within the tolerance.
func (s *Score) Share() float64 {
	if s.Moves+s.Extra == 0 {
		return math.NaN()
	}
	return float64(s.Within) / float64(s.Moves+s.Extra)
}

// Total returns what results come to together.
func Total(list []Result) (s Score) {
	var places []int
	var crossings int
	lost, toWork := 0, 0
	s.FailSafeMs = noFailSafe
	for i := range list {
		r := &list[i]
		s.Drives++
		if r.Failed != "" {
			s.Failed++
			continue
		}
		if len(r.Exceeded) > 0 {
			s.Exceeded++
		}
		for _, p := range r.PlaceMm {
			places = append(places, max(p, -p))
		}
		crossings += len(r.Crossings)
		s.Missed, s.Extra = s.Missed+r.Missed, s.Extra+r.Extra
		lost, toWork = lost+r.LostDm2, toWork+r.ToWorkDm2
		if s.FailSafeMs != stayedDown && (r.FailSafeMs == stayedDown || r.FailSafeMs > s.FailSafeMs) {
			s.FailSafeMs = r.FailSafeMs
		}
	}
	s.Moves = len(places)
	if s.Moves == 0 {
		return s
	}
	sort.Ints(places)
	s.Within = sort.SearchInts(places, toleranceMm+1)
	s.P95Mm, s.WorstMm = places[(len(places)*95+99)/100-1], places[len(places)-1]
	// Sections of one crossing share the receiver's error: crossings are counted.
	s.Low, s.High = sample.Wilson(s.Share(), float64(crossings+s.Extra), sample.Z95)
	if toWork > 0 {
		s.LostM2PerHa = float64(lost) / float64(toWork) * 1e4
	}
	return s
}
