// Package sentences turns a live CAN bus into NMEA 0183: it reads the frames of
// the bus as lines of candump and gives the sentences of the receiver on it, so
// that whatever takes a receiver's sentences takes a bus.
package sentences

import (
	"bytes"
	"io"

	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/replay/trace"
)

const (
	// listenNs is how long the bus is listened to before a sender is chosen: the
	// GNSS message, which tells quality and UTC, comes once a second.
	listenNs = 2_500_000_000
	// silentNs is how long the chosen sender may be silent before another is
	// looked for.
	silentNs = 5_000_000_000
	// mostLine is more than a line of candump has.
	mostLine = 256
)

// Reader is an io.Reader of the sentences GGA, RMC, VTG, and HDT where the
// heading is known, of each fix on a bus. A fix is given as soon as its last
// frame has come. It gives nothing while it listens for who is there: 2.5 s at
// the start, and after 5 s without a position.
type Reader struct {
	// Told, if not nil, is called with the words of the plan each time a sender has
	// been chosen, and with what is on the bus instead where there is none.
	Told func(lines []string)
	// Sender is the address on the bus whose positions count, 0 to 255, or -1, as
	// New sets it, for the best.
	Sender int

	src   io.Reader
	nowNs func() int64

	in       []byte // bytes of lines that are not whole yet
	from     int    // of what is unused in in
	out      []byte // sentences that are not read yet
	sent     int    // bytes of out that are
	channels []string
	frame    trace.Frame

	survey  *bus.Survey
	sinceNs int64 // of the survey
	decoder *bus.Decoder
	heardNs int64 // of the last fix
	skipped int64
}

// New returns a Reader of the lines that r reads. nowNs returns the host's time in
// nanoseconds since 1970: it stamps what was just read, whatever time a line
// tells.
func New(r io.Reader, nowNs func() int64) *Reader {
	return &Reader{src: r, nowNs: nowNs, Sender: -1, in: make([]byte, 0, 16<<10)}
}

// Skipped returns how many lines were no frames of candump.
func (r *Reader) Skipped() int64 { return r.skipped }

// Read reads sentences. It blocks until a fix is there.
func (r *Reader) Read(b []byte) (int, error) {
	for r.sent == len(r.out) {
		r.out, r.sent = r.out[:0], 0
		if err := r.more(); err != nil && len(r.out) == 0 {
			return 0, err
		}
	}
	n := copy(b, r.out[r.sent:])
	r.sent += n
	return n, nil
}

// more reads once and takes the whole lines.
func (r *Reader) more() error {
	if r.from > 0 {
		r.in = r.in[:copy(r.in, r.in[r.from:])]
		r.from = 0
	}
	if len(r.in) > mostLine && bytes.IndexByte(r.in, '\n') < 0 {
		r.skipped++
		r.in = r.in[:0]
	}
	n, err := r.src.Read(r.in[len(r.in):cap(r.in)])
	hostNs := r.nowNs()
	r.in = r.in[:len(r.in)+n]
	for {
		i := bytes.IndexByte(r.in[r.from:], '\n')
		if i < 0 {
			return err
		}
		r.line(hostNs, bytes.TrimRight(r.in[r.from:r.from+i], "\r"))
		r.from += i + 1
	}
}

// line takes one frame.
func (r *Reader) line(hostNs int64, text []byte) {
	name, ok := trace.ParseCandump(text, &r.frame)
	if !ok {
		if len(text) > 0 && text[0] != '#' {
			r.skipped++
		}
		return
	}
	channel := r.channel(name)
	f := &r.frame.Frame
	if r.survey != nil || r.decoder == nil {
		r.listen(hostNs, channel)
		return
	}
	if hostNs-r.heardNs > silentNs {
		r.decoder = nil
		r.listen(hostNs, channel)
		return
	}
	if r.decoder.Add(hostNs, channel, f) {
		r.speak()
	}
}

// listen surveys the bus and chooses.
func (r *Reader) listen(hostNs int64, channel uint8) {
	if r.survey == nil {
		r.survey, r.sinceNs = &bus.Survey{}, hostNs
	}
	r.survey.Add(hostNs, channel, &r.frame.Frame)
	if hostNs-r.sinceNs < listenNs {
		return
	}
	plan, err := r.survey.Plan(r.Sender)
	r.survey = nil
	if err != nil {
		if r.Told != nil {
			r.Told([]string{err.Error()})
		}
		return
	}
	if r.Told != nil {
		r.Told(plan.Lines())
	}
	r.decoder, r.heardNs = bus.NewDecoder(plan), hostNs
	r.decoder.Live = true
}

// channel returns the number of a bus by its name.
func (r *Reader) channel(name []byte) uint8 {
	for i, c := range r.channels {
		if string(name) == c {
			return uint8(i)
		}
	}
	if len(r.channels) < 16 {
		r.channels = append(r.channels, string(name))
	}
	return uint8(len(r.channels) - 1)
}

// speak writes the sentences of the decoder's fix.
func (r *Reader) speak() {
	f := r.decoder.Fix()
	r.heardNs = f.ArrivalNs
	r.out = nmea.AppendGGA(r.out, &f)
	r.out = nmea.AppendRMC(r.out, &f)
	r.out = nmea.AppendVTG(r.out, &f)
	if f.HeadingDeg == f.HeadingDeg {
		r.out = nmea.AppendHDT(r.out, &f)
	}
}
