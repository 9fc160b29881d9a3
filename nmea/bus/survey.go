// This file learns who sends what on a bus, and chooses one sender for each
// subject.

package bus

import (
	"fmt"
	"math"
	"sort"

	"go.einride.tech/can"

	"liftbench/nmea"
)

// Survey counts what each sender says, so that one of them can be chosen for
// each subject and the logger's clock be set against UTC. Give it all frames of
// a trace, or those of the first seconds, then ask for a Plan. It takes a
// bounded amount of memory.
type Survey struct {
	senders []*sender
	lookup  [mostChannels << 8]uint16 // index of the sender, plus one
	packets packets
	message Message
	frames  int64
	firstNs int64
	lastNs  int64
}

// placed is a position and when it was seen.
type placed struct {
	hostNs   int64
	lat, lon float64
}

// sender is what one address says.
type sender struct {
	node      Node
	messages  [subjects]int64
	available [subjects]int64 // with a position, a course, a heading, a time
	magnetic  [subjects]int64
	firstNs   [subjects]int64
	lastNs    [subjects]int64
	qualities [nmea.Simulator + 1]int64
	unknown   int64 // GNSS messages that do not tell their quality
	name      uint64
	names     int // how many names the address has had
	times     [subjects]samples
	// Positions without a time, matched with GNSS messages, which have one.
	recent  [8]placed
	recents int64
	open    placed // GNSS message to be matched
	openNs  int64  // its UTC
	waits   int    // for so many more positions
	pairs   samples
}

// Add takes a frame: the logger's time in nanoseconds, the bus it came on,
// counted from 0, and the frame.
func (s *Survey) Add(timeNs int64, channel uint8, f *can.Frame) {
	if s.frames == 0 {
		s.firstNs = timeNs
	}
	s.frames++
	s.lastNs = timeNs
	if !f.IsExtended || f.IsRemote {
		return
	}
	p, source, _ := Identify(f.ID)
	subject := subjectOf(p)
	if subject == subjects {
		return
	}
	n := nodeOf(channel, source)
	data := f.Data[:f.Length]
	firstNs := timeNs
	if subject == gnss {
		var ok bool
		if data, firstNs, ok = s.packets.add(n, timeNs, f); !ok {
			return
		}
	}
	if len(data) < shortest[subject] {
		return
	}
	m := &s.message
	*m = emptyMessage
	m.PGN = p
	m.parse(subject, data)
	i := s.lookup[n.index()]
	if i == 0 {
		s.senders = append(s.senders, &sender{node: n})
		i = uint16(len(s.senders))
		s.lookup[n.index()] = i
	}
	s.senders[i-1].add(subject, firstNs, m)
}

func (d *sender) add(subject int, hostNs int64, m *Message) {
	if d.messages[subject] == 0 {
		d.firstNs[subject] = hostNs
	}
	d.messages[subject]++
	d.lastNs[subject] = hostNs
	available := false
	switch subject {
	case position, vehiclePlace, gnss:
		available = m.HasPosition()
	case motion, vehicleMotion:
		available = !math.IsNaN(m.CourseDeg) && !math.IsNaN(m.SpeedMps)
	case heading:
		available = !math.IsNaN(m.HeadingDeg)
	case rateOfTurn:
		available = !math.IsNaN(m.YawRateDegPerS)
	case variation:
		available = !math.IsNaN(m.VariationDeg)
	case systemTime, timeAndDate, vehicleTime:
		available = m.HasUTC
	case claim:
		available = true
		if d.names == 0 || d.name != m.Name {
			d.name = m.Name
			d.names++
		}
	}
	if available {
		d.available[subject]++
	}
	if m.Magnetic {
		d.magnetic[subject]++
	}
	if subject == gnss {
		if m.HasQuality {
			d.qualities[m.Quality]++
		} else {
			d.unknown++
		}
	}
	if m.HasUTC {
		d.times[subject].add(sample{hostNs, hostNs - m.UTCNs})
	}
	switch {
	case (subject == position || subject == vehiclePlace) && available:
		d.recent[d.recents%int64(len(d.recent))] = placed{hostNs, m.LatDeg, m.LonDeg}
		d.recents++
		if d.waits > 0 {
			d.waits--
			if d.waits == 0 {
				d.match()
			}
		}
	case subject == gnss && available && m.HasUTC:
		d.open, d.openNs, d.waits = placed{hostNs, m.LatDeg, m.LonDeg}, m.UTCNs, 3
	}
}

// match finds the position that is that of the open GNSS message, to the last
// digit of a position, and takes its delay. A machine at rest sends many that
// are the same: then none counts.
func (d *sender) match() {
	const digitDeg = 1.5e-7
	found, which := 0, placed{}
	for i := range min(d.recents, int64(len(d.recent))) {
		r := d.recent[i]
		if math.Abs(r.lat-d.open.lat) < digitDeg && math.Abs(r.lon-d.open.lon) < digitDeg {
			found++
			which = r
		}
	}
	if found == 1 {
		d.pairs.add(sample{which.hostNs, which.hostNs - d.openNs})
	}
}

// rate returns available messages in a second.
func (d *sender) rate(subject int) float64 {
	span := float64(d.lastNs[subject]-d.firstNs[subject]) / 1e9
	if span <= 0 || d.messages[subject] < 2 {
		return 0
	}
	return float64(d.messages[subject]-1) / span * float64(d.available[subject]) / float64(d.messages[subject])
}

// quality returns the quality that most of the sender's GNSS messages have, and
// whether there are any that tell it.
func (d *sender) quality() (nmea.Quality, bool) {
	best := nmea.NoFix
	for q, n := range d.qualities {
		if n > d.qualities[best] {
			best = nmea.Quality(q)
		}
	}
	return best, d.qualities[best] > 0
}

// rank orders senders of positions by method. One without a word on it may be
// any receiver.
func (d *sender) rank() int {
	if q, ok := d.quality(); ok {
		return q.Rank()
	}
	return nmea.Autonomous.Rank()
}

// Choice is who is believed on one subject.
type Choice struct {
	Node   Node
	PGN    PGN // 0: nobody says it
	RateHz float64
	// Messages, of which Available were not marked as not available, and
	// Magnetic counted from magnetic north.
	Messages, Available, Magnetic int64
}

// Rejected is a sender of positions that was not chosen.
type Rejected struct {
	Choice
	Quality    nmea.Quality
	HasQuality bool
}

// Plan is how a bus is read: who is believed, and what the logger's clock is
// ahead of UTC.
type Plan struct {
	Position   Choice
	Quality    nmea.Quality // that most of its messages have
	HasQuality bool
	GNSS       Choice // quality, satellites, height; PGN 0 where the sender of positions sends none
	Motion     Choice
	Heading    Choice // true headings only: a compass is no match for a course
	RateOfTurn Choice
	Variation  Choice
	Time       Choice
	Others     []Rejected // senders of positions that were not chosen, the best first

	// Offset gives UTC: a position without a time of its own is from the
	// logger's time less Offset. Age is how late messages with a time came.
	Offset Offset
	Age    Age
	// Matched is set where positions without a time were found again in GNSS
	// messages, which have one: Offset then is that of the positions themselves.
	Matched bool
	// Untimed is set where the trace has no times.
	Untimed    bool
	timeLessNs int64 // of the messages that tell UTC, whatever Offset is of
	name       uint64
	names      int
}

// ErrNoPosition is wrapped by the errors of Plan.
var ErrNoPosition = fmt.Errorf("no position on the bus")

// Plan chooses one sender for each subject: of positions by method, then by rate
// of positions that are available; of all else the same sender if it says it,
// otherwise the one who says it most often. address, from 0 to 255, names the
// sender of positions instead; -1 leaves it to choose. The error wraps
// ErrNoPosition and says who sends what.
func (s *Survey) Plan(address int) (*Plan, error) {
	p := &Plan{Untimed: s.firstNs == 0 && s.lastNs == 0}
	var candidates []Rejected
	var of []*sender
	for _, d := range s.senders {
		c, ok := d.position(p.Untimed)
		if !ok {
			continue
		}
		r := Rejected{Choice: c}
		r.Quality, r.HasQuality = d.quality()
		candidates = append(candidates, r)
		of = append(of, d)
	}
	if len(candidates) == 0 {
		return nil, s.noPosition(p.Untimed)
	}
	order := make([]int, len(candidates))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, k int) bool {
		a, b := order[i], order[k]
		if x, y := int(candidates[a].Node.Address) == address, int(candidates[b].Node.Address) == address; x != y {
			return x
		}
		if x, y := of[a].rank(), of[b].rank(); x != y {
			return x > y
		}
		if x, y := candidates[a].RateHz, candidates[b].RateHz; x != y {
			return x > y
		}
		return candidates[a].Node.index() < candidates[b].Node.index()
	})
	best := of[order[0]]
	if address >= 0 && int(best.node.Address) != address {
		list := ""
		for _, i := range order {
			list += fmt.Sprintf(" %d", candidates[i].Node.Address)
		}
		return nil, fmt.Errorf("%w from address %d; those who send positions:%s", ErrNoPosition, address, list)
	}
	for _, i := range order[1:] {
		p.Others = append(p.Others, candidates[i])
	}
	p.Position = candidates[order[0]].Choice
	p.Quality, p.HasQuality = candidates[order[0]].Quality, candidates[order[0]].HasQuality
	p.name, p.names = best.name, best.names
	if best.messages[gnss] > 0 {
		p.GNSS = best.choice(gnss)
	}
	p.Motion = s.choose(best, false, motion, vehicleMotion)
	p.Heading = s.choose(best, true, heading)
	p.RateOfTurn = s.choose(best, false, rateOfTurn)
	p.Variation = s.choose(best, false, variation)
	s.clock(p, best)
	return p, nil
}

// noPosition says what is on the bus instead of positions.
func (s *Survey) noPosition(untimed bool) error {
	unavailable, timeless := int64(0), int64(0)
	for _, d := range s.senders {
		for _, i := range []int{position, gnss, vehiclePlace} {
			unavailable += d.messages[i] - d.available[i]
			timeless += d.available[i]
		}
	}
	switch {
	case untimed && timeless > 0:
		return fmt.Errorf("%w that can be used: the trace has no times, and none of its %d positions tells its own; record with times (candump -t a, or -l)", ErrNoPosition, timeless)
	case unavailable > 0:
		return fmt.Errorf("%w: %d messages say that theirs is not available", ErrNoPosition, unavailable)
	}
	return fmt.Errorf("%w: %d frames, none of them PGN 129025, 129029 or 65267; expected the bus that the receiver is on", ErrNoPosition, s.frames)
}

// position returns what the sender says most often of its position. A message
// with its own time is preferred to one without that comes no more often.
func (d *sender) position(untimed bool) (Choice, bool) {
	best := -1
	for _, i := range []int{gnss, position, vehiclePlace} {
		if d.available[i] == 0 || untimed && i != gnss {
			continue
		}
		if best < 0 || d.rate(i) > 1.05*d.rate(best) {
			best = i
		}
	}
	if best < 0 {
		return Choice{}, false
	}
	return d.choice(best), true
}

func (d *sender) choice(subject int) Choice {
	return Choice{d.node, pgns[subject], d.rate(subject), d.messages[subject], d.available[subject], d.magnetic[subject]}
}

// choose returns who says one of the subjects: best if it does, otherwise the
// sender who says it most often. Where trueOnly is set, those from magnetic
// north do not count.
func (s *Survey) choose(best *sender, trueOnly bool, of ...int) Choice {
	var c Choice
	own := false
	for _, d := range s.senders {
		for _, i := range of {
			x := d.choice(i)
			if x.Available == 0 || trueOnly && x.Magnetic*2 >= x.Messages {
				continue
			}
			mine := d == best
			if c.PGN == 0 || mine && !own || mine == own && x.RateHz > c.RateHz {
				c, own = x, mine
			}
		}
	}
	return c
}

// timed are the subjects that tell UTC, the nearest to a position first.
var timed = [...]int{gnss, systemTime, timeAndDate, vehicleTime}

// clock sets the logger's clock against UTC.
func (s *Survey) clock(p *Plan, best *sender) {
	if p.Untimed {
		return
	}
	for _, own := range []bool{true, false} {
		for _, i := range timed {
			for _, d := range s.senders {
				if (d == best) != own || d.times[i].count == 0 {
					continue
				}
				if o, age := d.times[i].fit(); o.Known {
					p.Offset, p.Age = o, age
					p.Time, p.timeLessNs = d.choice(i), o.LessNs
					break
				}
			}
			if p.Offset.Known {
				break
			}
		}
		if p.Offset.Known {
			break
		}
	}
	if p.Position.PGN != GNSS && best.pairs.count >= 3 {
		if o, age := best.pairs.fit(); o.Known {
			p.Offset, p.Age, p.Matched = o, age, true
		}
	}
}
