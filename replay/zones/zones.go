// Package zones finds the zones of a field from the way that a machine drove on
// it: the directions of the rows, the headland rounds and with them the border of
// the body, what was driven around, and the field's boundary.
package zones

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/nmea"
	"liftbench/replay/zones/lines"
	"liftbench/replay/zones/offset"
	"liftbench/sections"
	"liftbench/sections/field/headland"
	"liftbench/sections/field/polygon"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

// Recording is a drive as it is read. Its zero value is ready.
type Recording struct {
	Plane   geodesy.Plane // touches the ellipsoid at the first position
	Samples []motion.Sample
	sigmas  []float64
	started bool
}

// Add takes the next fix.
func (r *Recording) Add(f *nmea.Fix) {
	if !f.HasPosition() || f.Quality == nmea.NoFix {
		return
	}
	if !r.started {
		r.Plane, r.started = geodesy.NewPlane(f.LatDeg, f.LonDeg), true
	}
	e, n := r.Plane.ToPlane(f.LatDeg, f.LonDeg)
	if math.Hypot(e, n) > polygon.MaxExtentM/2 {
		return
	}
	r.Samples = append(r.Samples, motion.SampleOf(f, e, n))
	r.sigmas = append(r.sigmas, sigmaM(f))
}

// sigmaM is the standard deviation of a position from one hour to the next. RTK:
// 1.43 cm from row to row (Carballido et al. 2014, Appl. Eng. Agric. 30(3):361-366);
// the others are usual values, from memory.
func sigmaM(f *nmea.Fix) float64 {
	switch f.Quality {
	case nmea.RTKFixed, nmea.Simulator:
		return 0.0143
	case nmea.RTKFloat:
		return 0.2
	case nmea.Differential, nmea.PPS:
		return 0.5
	}
	return 1.5
}

// Day is what zones are found from. Places are on one plane, metres east and
// north.
type Day struct {
	Samples []motion.Sample // of the antenna
	SigmaM  float64         // of a position over the day, standard deviation
	// WidthM is the machine's working width; 0 = not known: then it is taken to be
	// how far apart its passes lie.
	WidthM   float64
	Antenna  motion.Antenna
	MiddleM  float64          // how far right of the tractor's middle the machine's middle is
	ToolM    float64          // how far ahead of the turning point its tools work
	Boundary orb.MultiPolygon // as registered; nil = not known
	// Changes are the work states of the machine as one section, in order of time;
	// nil = not recorded.
	Changes []sections.WorkChange
}

// Day makes a day of the recording.
func (r *Recording) Day() Day {
	return Day{Samples: r.Samples, SigmaM: median(append([]float64(nil), r.sigmas...))}
}

// Source is what told where a border lies.
type Source uint8

const (
	Nothing Source = iota
	File           // the registered boundary
	Rounds         // headland rounds, or rounds about a keep-out
	Passes         // the outermost passes of the body
	Lifts          // lifts and drops alone
	Turns          // where turns began, which is beyond the border by metres
)

var sourceNames = []string{"nothing", "file", "rounds", "passes", "lifts", "turns"}

// String returns the word that files use.
func (s Source) String() string { return sourceNames[s] }

// Border is how a border was found and how sure it is.
type Border struct {
	From Source
	// SureM: with a probability of 95 % the border lies no farther than this to
	// either side. Corners that no machine drives out are less sure.
	SureM float64
}

// Block is a part of the body with one direction of rows.
type Block struct {
	BearingRad float64 // 0 to π, clockwise from north
	SureRad    float64 // 95 %: the direction is no farther off
	// Curved rows have no one direction; TurnRad is how far one of them turns.
	Curved   bool
	TurnRad  float64
	Passes   []Pass
	Polygons orb.MultiPolygon
	Border
}

// KeepOut is something that was driven around.
type KeepOut struct {
	Polygon orb.Polygon
	Rounds  int
	Border
}

// Found is what a day tells of its field.
type Found struct {
	WidthM     float64 // between the outer edges of the machine
	WidthGiven bool
	SpacingM   float64 // between neighbouring passes; 0 = cannot be told
	SpacingSD  float64
	Rounds     int // around the field
	HeadlandM  float64
	Boundary   orb.MultiPolygon
	Outer      Border // of the boundary
	// Driven is the boundary that the rounds tell, where another one is given.
	Driven   orb.MultiPolygon
	Blocks   []Block
	Strips   []headland.Strip
	KeepOuts []KeepOut
	// Unsure is what could not be told and why, a sentence each.
	Unsure []string
	Lines  []orb.LineString // of the rounds, for a picture
	// RoundsNs are when each of them was driven: from, to.
	RoundsNs [][2]int64
}

// Find finds the zones. It is an error if the day has no passes to go by.
func Find(day Day) (*Found, error) {
	track := motion.Smooth(day.Samples, day.Antenna)
	w := wayOf(track, day.MiddleM)
	if len(w.strokes) < 2 {
		return nil, errors.New("no two stretches without a turn were driven; expected the log of a day's work on one field")
	}
	f := &Found{WidthM: day.WidthM, WidthGiven: day.WidthM > 0}
	n := w.index(10)
	reach := widestM
	if f.WidthGiven {
		reach = 1.7 * day.WidthM
	}
	pairs := n.pairs(reach)
	count := 0
	f.SpacingM, f.SpacingSD, count = spacingOf(pairs)
	if !f.WidthGiven {
		if f.SpacingM == 0 {
			return nil, errors.New("no two passes lie side by side, so that the machine's width cannot be told; expected --width, in m")
		}
		f.WidthM = f.SpacingM
	}
	s := &search{day: &day, Found: f, w: w, pairs: pairs, work: workOf(day.Changes)}
	s.lineM = s.lineErrorM(count)
	if err := s.find(); err != nil {
		return nil, err
	}
	return f, nil
}

// search is a day while its zones are being found.
type search struct {
	day *Day
	*Found
	w     *way
	pairs []pair
	work  work
	lineM float64 // standard error of a border half a width beside a driven line
}

// lineErrorM is the standard error of a border that lies half a width beside a
// line that was driven: how the driver kept to lines, half the error of the
// width, and the receiver.
func (s *search) lineErrorM(count int) float64 {
	keeps := s.SpacingSD / math.Sqrt2
	if s.SpacingM == 0 {
		keeps = 0.1
	}
	width := 0.01 // as measured
	if !s.WidthGiven {
		width = s.SpacingSD / math.Sqrt(float64(max(count, 1)))
	}
	return math.Sqrt(keeps*keeps + width*width/4 + s.day.SigmaM*s.day.SigmaM)
}

func (s *search) unsure(format string, args ...any) {
	s.Unsure = append(s.Unsure, fmt.Sprintf(format, args...))
}

const z95 = 1.96 // of the normal distribution, two-sided

func (s *search) find() error {
	loops := s.w.loops(s.WidthM)
	rounds := s.w.rounds(loops, s.WidthM, func(from, to int) float64 {
		return s.work.share(s.w.points[from].timeNs, s.w.points[to-1].timeNs)
	})
	free := make([]bool, len(s.w.strokes))
	for i := range free {
		free[i] = true
	}
	taken := make([]bool, len(s.w.points))
	take := func(r *round) {
		s.Lines = append(s.Lines, orb.LineString(r.ring))
		s.RoundsNs = append(s.RoundsNs, [2]int64{s.w.points[r.from].timeNs, s.w.points[r.to-1].timeNs})
		for i := r.from; i < r.to; i++ {
			taken[i] = true
		}
	}
	for i := range rounds {
		take(&rounds[i])
	}
	s.Rounds = len(rounds)
	sure := z95 * s.lineM
	var body orb.MultiPolygon
	var err error
	if len(rounds) > 0 {
		if body, err = offset.Inset(rounds[len(rounds)-1].ring, s.WidthM/2); err != nil {
			return err
		}
		if s.Driven, err = offset.Outset(rounds[0].ring, s.WidthM/2); err != nil {
			return err
		}
		s.Boundary, s.Outer = s.Driven, Border{Rounds, sure}
		s.HeadlandM = s.WidthM
		if n := len(rounds); n > 1 { // they overlap, or leave strips
			s.HeadlandM += apart(rounds[0].ring, rounds[n-1].ring)
		}
	}
	if s.day.Boundary != nil {
		s.Boundary, s.Outer = s.day.Boundary, Border{File, 0}
	}
	if len(rounds) > 0 && len(body) == 0 {
		return errors.New("the headland rounds leave no body; expected the log of a day's work on one field")
	}
	for _, around := range s.w.keepOuts(s.w.small(body, s.WidthM), taken, s.WidthM) {
		for i := range around {
			take(&around[i])
		}
		ground, err := offset.Outset(around[len(around)-1].ring, s.WidthM/2)
		if err != nil {
			return err
		}
		out, err := offset.Inset(around[0].ring, s.WidthM/2)
		if err != nil {
			return err
		}
		if out = offset.Largest(out); len(out) == 0 {
			continue
		}
		s.KeepOuts = append(s.KeepOuts, KeepOut{out[0], len(around), Border{Rounds, sure}})
		if body, err = offset.Without(body, ground); err != nil {
			return err
		}
	}
	for k, st := range s.w.strokes {
		// A pass lies in the body, and is no part of a round.
		n := 0
		for i := st.from; i < st.to; i++ {
			if taken[i] || len(rounds) > 0 && !planar.MultiPolygonContains(body, s.w.points[i].at) {
				n++
			}
		}
		free[k] = 2*n < st.to-st.from
	}
	blocks := s.w.blocks(s.pairs, free, s.WidthM)
	blocks = s.w.joined(s.w.uncrossed(blocks), s.WidthM)
	if len(blocks) == 0 {
		return errors.New("no passes lie side by side; expected the log of a day's work on one field")
	}
	if len(rounds) == 0 {
		return s.withoutRounds(blocks)
	}
	if s.Blocks, err = s.divide(blocks, body, Border{Rounds, sure}); err != nil {
		return err
	}
	return s.strips(body)
}

// withoutRounds finds the body where no round was driven.
func (s *search) withoutRounds(blocks []block) error {
	for i := range blocks {
		ground, border, err := s.byEnds(&blocks[i])
		if err != nil {
			return err
		}
		if len(ground) > 0 {
			s.Blocks = append(s.Blocks, s.block(blocks[i], ground, border))
		}
	}
	if len(s.Blocks) == 0 {
		return errors.New("no headland round was driven and no pass was lifted at both its ends; expected --states, a log with headland rounds, or zones drawn by hand")
	}
	if len(s.work) > 0 {
		s.unsure("No headland round tells where the body ends: its border is where lifts and drops were. An error common to them is then invisible: lifts late and drops early by one length look like a border farther out.")
	} else {
		s.unsure("Neither headland rounds nor work states tell where the body ends: turns begin some metres beyond. Give --states, or draw the border.")
	}
	return nil
}

// block makes a part of the body of a block of passes.
func (s *search) block(b block, body orb.MultiPolygon, border Border) Block {
	out := Block{BearingRad: b.bearing, SureRad: z95 * b.seRad, Curved: b.curved, TurnRad: b.turnsRad, Polygons: body, Border: border}
	for _, k := range b.passes {
		st := &s.w.strokes[k]
		l := s.w.line(st.from, st.to)
		out.Passes = append(out.Passes, Pass{
			FromNs: s.w.points[st.from].timeNs, ToNs: s.w.points[st.to-1].timeNs,
			Line: l, BearingRad: lines.Bearing(l[0], l[len(l)-1]), stroke: k,
		})
	}
	return out
}

// strips divides the headland into strips along the boundary's sides.
func (s *search) strips(body orb.MultiPolygon) error {
	if s.Boundary == nil || s.HeadlandM == 0 {
		return nil
	}
	ring, err := offset.Without(s.Boundary, body)
	if err != nil {
		return err
	}
	clean, flaw := polygon.Clean(s.Boundary)
	if flaw != nil {
		return fmt.Errorf("the boundary found from the track is no polygon: %s", flaw.Text)
	}
	_, strips, err := headland.Cut(clean, s.HeadlandM+s.WidthM/2, nil)
	if err != nil {
		return err
	}
	for _, st := range strips {
		p, err := offset.Common(st.Polygons, ring)
		if err != nil {
			return err
		}
		if len(p) > 0 {
			s.Strips = append(s.Strips, headland.Strip{BearingRad: st.BearingRad, Polygons: p})
		}
	}
	return nil
}
