// An outside controller on its ports: the drive is played to it, and what it
// tells the sections is heard.

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"liftbench/nmea"
	"liftbench/replay/port"
	"liftbench/replay/wire"
	"liftbench/sections"
)

// outsider is an outside controller that the bench hears.
type outsider struct {
	heard
	// told, when set, is handed what a line changes.
	told func([]sections.Setpoint)
}

// lastWord is how long after the end of a drive a setpoint may still come.
const lastWord = 2 * time.Second

// play plays the receiver of the drive to the controller and hears it. own is
// our controller's run on the same drive, from which the drive is known.
func (b *benchRun) play(ctx context.Context, u *setup, own *outcome, stderr io.Writer) (*heard, error) {
	log, err := u.spoken(nil)
	if err != nil {
		return nil, err
	}
	defer log.close()
	stamped, firstNs, err := stamp(log, own.Reception.FirstNs, int64(u.machine.Controller.LatencyMs*1e6))
	if err != nil {
		return nil, &inputError{file: log.name, msg: err.Error(), err: err}
	}

	c := newConsole(stderr)
	defer c.finish()
	c.warn(b.toSpec, b.fromSpec)
	open := func(name string, spec port.Spec, mode port.Mode) (*port.Port, error) {
		return c.openPort(context.Background(), name, spec, mode, strings.NewReader(""), io.Discard)
	}
	mode := port.Duplex
	if b.from != "" {
		mode = port.Out
	}
	to, err := open(b.to, b.toSpec, mode)
	if err != nil {
		return nil, err
	}
	defer to.Close()
	from, name := to, b.to
	if b.from != "" {
		if from, err = open(b.from, b.fromSpec, port.In); err != nil {
			return nil, err
		}
		defer from.Close()
		name = b.from
	}
	x := &outsider{heard: heard{name: name}}
	clock := driveClock{firstNs: firstNs, pace: b.pace}
	out := &sender{port: to, first: clock.start}
	if b.http.addr != "" {
		a, err := newAudience(b, u, to, from)
		if err != nil {
			return nil, err
		}
		defer a.close()
		server, err := a.serve(c, &b.http, a.wanting)
		if err != nil {
			return nil, err
		}
		defer server.close()
		x.told, out.also = a.told, a.played
	}
	c.awaitPeer(ctx, b.to, to)

	hearing, deaf := context.WithCancel(context.Background())
	var ear sync.WaitGroup
	ear.Go(func() { x.hear(from.Until(hearing), &clock, len(own.Score.Sections)) })
	watching, blind := context.WithCancel(ctx)
	var eye sync.WaitGroup
	eye.Go(func() { clock.show(watching, c, own.DurationS) })

	x.late, err = port.Play(ctx, out, bytes.NewReader(stamped), b.pace)
	if err == nil {
		wait := max(time.Duration(float64(lastWord)/b.pace), 100*time.Millisecond)
		select {
		case <-ctx.Done():
			err = ctx.Err()
		case <-time.After(wait):
		}
	}
	blind()
	eye.Wait()
	deaf()
	ear.Wait()
	x.sent = to.Counts()
	switch {
	case errors.Is(err, context.Canceled):
		return nil, &usageError{"interrupted: the drive was not played to its end, so nothing is scored"}
	case err != nil:
		return nil, &inputError{file: b.to, msg: "ended before the drive did: " + err.Error(), err: err}
	case x.lines == 0:
		return nil, &inputError{file: name, msg: fmt.Sprintf("no setpoint in the whole drive (%d damaged lines, %d of other kinds); expected lines as $PLBS,...*hh", x.damaged, x.others)}
	}
	return &x.heard, nil
}

// driveClock tells the drive's time by the host's.
type driveClock struct {
	firstNs int64 // of the first sentence's arrival, in the drive
	pace    float64

	mu    sync.Mutex
	begun time.Time
}

// start notes when the first sentence went out.
func (k *driveClock) start(t time.Time) {
	k.mu.Lock()
	k.begun = t
	k.mu.Unlock()
}

// nowNs returns the drive's time; before its start, that of the start.
func (k *driveClock) nowNs() int64 {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.begun.IsZero() {
		return k.firstNs
	}
	return k.firstNs + int64(float64(time.Since(k.begun))*k.pace)
}

// show draws how far the drive has come, until ctx is done.
func (k *driveClock) show(ctx context.Context, c *console, durationS float64) {
	every(ctx, statusEvery, func() {
		c.draw(fmt.Sprintf("%s of %s", clock(float64(k.nowNs()-k.firstNs)*1e-9), clock(durationS)))
	})
}

// hear takes setpoints of n sections until r ends.
func (o *outsider) hear(r io.Reader, clock *driveClock, n int) {
	sc := nmea.NewScanner(r)
	sc.Clock = clock.nowNs
	var state wire.State
	on := make([]bool, n)
	for sc.Scan() {
		if !bytes.HasPrefix(sc.Bytes(), []byte("$PLBS,")) {
			o.others++
			continue
		}
		if wire.ParseLine(sc.Bytes(), &state) != nil || state.Sections != n {
			o.damaged++
			continue
		}
		o.lines++
		o.take(&state, sc.ArrivalNs(), on)
	}
	c := sc.Counts()
	o.damaged += c.BadChecksum + c.NoChecksum + c.Cut + c.Overlong
}

// take notes what a line that arrived at nowNs changes. It holds from the
// instant it says, or at once where that has passed.
func (o *outsider) take(s *wire.State, nowNs int64, on []bool) {
	due, before := s.DueNs, len(o.setpoints)
	if due < nowNs || due > nowNs+farthestNs {
		due = nowNs
	}
	for i := range on {
		told := s.At(i)
		if told != wire.On && told != wire.Off || on[i] == (told == wire.On) {
			continue
		}
		on[i] = !on[i]
		o.setpoints = append(o.setpoints, sections.Setpoint{DueNs: due, Section: int16(i), On: on[i]})
		o.arrivedNs = append(o.arrivedNs, nowNs)
	}
	changed := o.setpoints[before:]
	if s.DueNs < nowNs && len(changed) > 0 {
		o.after += len(changed)
		o.afterNs = max(o.afterNs, nowNs-s.DueNs)
	}
	if o.told != nil {
		o.told(changed)
	}
}
