// The generated drive as a bus carries it: positions, work states told and
// done, speed of the wheels, as a log of candump.

package run

import (
	"bufio"
	"fmt"
	"io"
	"sort"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea/bus"
	"liftbench/replay/trace"
	"liftbench/replay/trace/process"
	"liftbench/sections"
	"liftbench/sim/receiver"
)

// The senders on the bus: preferred addresses of ISO 11783-1 for tractor and
// task controller (from memory), any free ones for receiver and implement.
const (
	busReceiver   = 0x1C
	busTractor    = 0xF0
	busController = 0xF7
	busImplement  = 0x80

	busElement = 1 // the implement's element that has the sections

	// frameNs is how long a frame of eight bytes takes at 250 kbit/s, with
	// stuffed bits: frames of one moment follow each other so closely.
	frameNs = 600_000
	// actualNs is how long after a tool's change the implement says so.
	actualNs = 20_000_000
)

// WriteTrace runs the setup's generated drive on the bench and writes what a bus
// would carry meanwhile to a file, as a log of candump (see TraceText for what
// and when).
func WriteTrace(u *settings.Setup, out string, stdout, stderr io.Writer) error {
	if u.Log != "" {
		return &failure.Usage{Msg: u.Log + " is the scenario's recorded log; expected a scenario that generates its drive"}
	}
	job, o := Job(u), New(u)
	in, err := Open(u, job, o, nil, io.Discard)
	if err != nil {
		return err
	}
	defer in.Close()
	if err := o.Take(job, in, ""); err != nil {
		return err
	}
	for _, w := range o.Warnings {
		fmt.Fprintf(stderr, "%s: %s\n", u.Title, w)
	}
	r, err := receiver.New(job.Truth, &u.Field.Plane, u.Machine.Geometry(), ReceiverParams(u))
	if err != nil {
		return ScenarioError(u, "receiver", err)
	}
	frames := busFrames(r, o.Setpoints, o.Changes, len(job.Machine.Sections), ReceiverParams(u).ClockAheadNs)
	if len(frames) > 0 {
		machine := geometryOf(u)
		said := describe(&machine)
		before := make([]trace.Frame, len(said), len(said)+len(frames))
		for i := range said {
			before[i] = trace.Frame{TimeNs: frames[0].TimeNs - int64(len(said)-i)*frameNs, Frame: said[i]}
		}
		frames = append(before, frames...)
	}
	say := func(w io.Writer) error {
		b := bufio.NewWriter(w)
		var line []byte
		for i := range frames {
			line = trace.AppendCandump(line[:0], "can0", &frames[i])
			b.Write(line)
		}
		return b.Flush()
	}
	if out == "-" {
		return say(stdout)
	}
	return files.WriteWhole(out, say)
}

// TraceText says in the help what WriteTrace writes.
const TraceText = `PGN 129025, 129026 (each epoch) and 126992, 129029 (each second) of the receiver, address 28,
when they arrive; 65096 of the tractor, address 240, with each position; DDI 290 and on of the
controller, address 247, when a command is due; DDI 161 and on of the implement, address 128,
element 1, 20 ms after a tool has changed. Before all that tractor and implement describe
themselves to the controller, as they do when they connect`

// busFrames returns the frames of a drive of n sections in order of time, by a
// logger's clock that is so far ahead of UTC as that of the scenario's host.
func busFrames(r *receiver.Receiver, setpoints []sections.Setpoint, changes []sections.WorkChange, n int, aheadNs int64) []trace.Frame {
	var frames []trace.Frame
	second, epochs := int64(0), 0
	for r.Scan() {
		f := r.Fix()
		list := bus.AppendEpoch(nil, f, busReceiver, uint8(epochs%250))
		if s := f.TimeNs / 1e9; s != second {
			second = s
			list = append(list, bus.TimeFrame(f, busReceiver, uint8(epochs%250)))
			list = bus.AppendGNSS(list, f, busReceiver, uint8(epochs%250), uint8(epochs))
		}
		list = append(list, process.SpeedFrame(busTractor, r.Truth().SpeedMps))
		epochs++
		for i := range list {
			frames = append(frames, trace.Frame{TimeNs: f.ArrivalNs + int64(i)*frameNs, Frame: list[i]})
		}
	}
	if len(frames) == 0 {
		return nil
	}
	orders := make([]sections.WorkChange, len(setpoints))
	for i, s := range setpoints {
		orders[i] = sections.WorkChange{TimeNs: s.DueNs + aheadNs, Section: s.Section, On: s.On}
	}
	startNs := frames[0].TimeNs
	frames = appendWords(frames, orders, startNs, n, busController, busImplement, process.SetpointWord)
	delayed := make([]sections.WorkChange, len(changes))
	for i, c := range changes {
		c.TimeNs += actualNs + aheadNs
		delayed[i] = c
	}
	frames = appendWords(frames, delayed, startNs, n, busImplement, busController, process.ActualWord)
	sort.SliceStable(frames, func(i, k int) bool { return frames[i].TimeNs < frames[k].TimeNs })
	return frames
}

// appendWords appends the condensed work states: all words, off, at the start,
// then each word that has changed.
func appendWords(frames []trace.Frame, changes []sections.WorkChange, startNs int64, n int, source, destination uint8, ddi uint16) []trace.Frame {
	sort.SliceStable(changes, func(i, k int) bool { return changes[i].TimeNs < changes[k].TimeNs })
	var words [process.MostSections / 16]uint32
	say := func(timeNs int64, word int) {
		frames = append(frames, trace.Frame{TimeNs: timeNs, Frame: process.Frame(source, destination, busElement, ddi+uint16(word), words[word])})
	}
	for w := range (n + 15) / 16 {
		say(startNs, w)
	}
	for i := 0; i < len(changes); {
		at := changes[i].TimeNs
		var told [len(words)]bool
		for ; i < len(changes) && changes[i].TimeNs == at; i++ {
			c := changes[i]
			w, bit := int(c.Section)/16, uint32(1)<<(2*(c.Section%16))
			words[w] &^= bit
			if c.On {
				words[w] |= bit
			}
			told[w] = true
		}
		for w := range told {
			if told[w] {
				say(at, w)
			}
		}
	}
	return frames
}
