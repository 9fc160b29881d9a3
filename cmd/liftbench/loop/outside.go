// An outside controller on its ports: the drive is played to it, and what it
// tells the sections is heard.

package loop

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/replay/crash"
	"liftbench/replay/port"
	"liftbench/replay/program"
	"liftbench/replay/wire"
	"liftbench/sections"
)

// Outsider is an outside controller that the bench hears.
type Outsider struct {
	run.Heard
	// told, if set, is called with each line's changes.
	told func([]sections.Setpoint)
}

// lastWord is how long after the end of a drive a setpoint may still come.
const lastWord = 2 * time.Second

// play plays the receiver of the drive to the controller and hears it. own is
// our controller's run on the same drive, from which the drive is known.
func (b *Bench) play(ctx context.Context, u *settings.Setup, own *run.Outcome, p *program.Program, stderr io.Writer) (*run.Heard, error) {
	log, err := spoken(u, nil)
	if err != nil {
		return nil, err
	}
	defer log.Close()
	stamped, firstNs, err := stamp(log, own.Reception.FirstNs, int64(u.Machine.Controller.LatencyMs*1e6))
	if err != nil {
		return nil, &failure.Input{File: log.Name, Msg: err.Error(), Err: err}
	}

	c := terminal.NewConsole(stderr)
	defer c.Finish()
	Warn(c, b.toSpec, b.fromSpec)
	if p != nil {
		if err := tellJob(p, u, own); err != nil {
			return nil, &failure.Input{File: b.Exec, Msg: "ended before the drive: " + err.Error(), Err: err}
		}
	}
	to, from, err := b.openPorts(c, p)
	if err != nil {
		return nil, err
	}
	defer to.Close()
	if from != to {
		defer from.Close()
	}
	name := b.name()
	x := &Outsider{Heard: run.Heard{Name: name}}
	clock := driveClock{firstNs: firstNs, pace: b.Pace}
	out := &sender{port: to, first: clock.start}
	if b.Http.Addr != "" {
		a, err := newAudience(b, u, to, from)
		if err != nil {
			return nil, err
		}
		defer a.close()
		server, err := a.serve(c, &b.Http, a.wanting)
		if err != nil {
			return nil, err
		}
		defer server.close()
		x.told, out.also = a.told, a.played
	}
	awaitPeer(c, ctx, name, to)

	hearing, deaf := context.WithCancel(context.Background())
	playing, stopPlaying := context.WithCancel(ctx)
	defer stopPlaying()
	var ear sync.WaitGroup
	ear.Go(crash.Guard(func() {
		x.hear(from.Until(hearing), clock.nowNs, len(own.Score.Sections))
		if x.full() {
			stopPlaying()
		}
	}))
	watching, blind := context.WithCancel(playing)
	var eye sync.WaitGroup
	eye.Go(crash.Guard(func() { clock.show(watching, c, own.DurationS) }))

	x.Late, err = port.Play(playing, out, bytes.NewReader(stamped), b.Pace)
	if err == nil {
		wait := max(time.Duration(float64(lastWord)/b.Pace), 100*time.Millisecond)
		select {
		case <-playing.Done():
			err = playing.Err()
		case <-time.After(wait):
		}
	}
	blind()
	eye.Wait()
	deaf()
	ear.Wait()
	x.Sent = to.Counts()
	switch {
	case x.full():
		return nil, &failure.Input{File: name, Msg: fmt.Sprintf("more than %d changes of sections in %s; expected a controller that does not chatter: nothing is scored",
			maxHeard, wording.Clock(float64(clock.nowNs()-firstNs)*1e-9))}
	case errors.Is(err, context.Canceled):
		return nil, &failure.Usage{Msg: "interrupted: the drive was not played to its end, so nothing is scored"}
	case err != nil:
		return nil, &failure.Input{File: name, Msg: "ended before the drive did: " + err.Error(), Err: err}
	case x.Lines == 0:
		reason := ""
		if len(x.Damages) > 0 {
			reason = ", the first because: " + x.Damages[0].What
		}
		return nil, &failure.Input{File: name, Msg: fmt.Sprintf("no setpoint in the whole drive (%d damaged lines%s; %d of other kinds); expected lines as $PLBS,...*hh", x.Damaged, reason, x.Others)}
	}
	return &x.Heard, nil
}

// driveClock converts the host's time to the drive's.
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

// nowNs returns the drive's time; before the first sentence, the drive's start.
func (k *driveClock) nowNs() int64 {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.begun.IsZero() {
		return k.firstNs
	}
	return k.firstNs + int64(float64(time.Since(k.begun))*k.pace)
}

// show draws how far the drive has come, until ctx is done.
func (k *driveClock) show(ctx context.Context, c *terminal.Console, durationS float64) {
	every(ctx, statusEvery, func() {
		c.Draw(fmt.Sprintf("%s of %s", wording.Clock(float64(k.nowNs()-k.firstNs)*1e-9), wording.Clock(durationS)))
	})
}

// maxHeard bounds the changes that are kept: a day of ten hours with 24 sections
// has a tenth of them.
const maxHeard = 500_000

// full reports whether the controller has sent more changes than are kept.
func (o *Outsider) full() bool { return len(o.Setpoints) >= maxHeard }

// hear reads setpoints of n sections until r ends or too many have come. nowNs
// is the drive's clock.
func (o *Outsider) hear(r io.Reader, nowNs func() int64, n int) {
	sc := nmea.NewScanner(r)
	sc.Clock = nowNs
	var state wire.State
	on := make([]bool, n)
	for !o.full() && sc.Scan() {
		if !bytes.HasPrefix(sc.Bytes(), []byte("$PLBS,")) {
			o.Others++
			continue
		}
		if err := wire.ParseLine(sc.Bytes(), &state); err != nil {
			o.AddDamage(strings.TrimPrefix(err.Error(), wire.ErrLine.Error()+": "))
			continue
		}
		if state.Sections != n {
			o.AddDamage(fmt.Sprintf("%s; the machine has %d", wording.Counted(state.Sections, "section"), n))
			continue
		}
		o.Lines++
		o.Take(&state, sc.ArrivalNs(), on)
	}
	c := sc.Counts()
	for _, x := range []struct {
		lines int64
		what  string
	}{
		{c.BadChecksum, "checksum that does not match the line"}, {c.NoChecksum, "no checksum; expected * and two hexadecimal digits at the end"},
		{c.Cut, "cut off before its end"}, {c.Overlong, "longer than any sentence"},
	} {
		for range x.lines {
			o.AddDamage(x.what)
		}
	}
}

// Take records what a line that arrived at nowNs changes; on holds what each
// section was told before. A change is executed at the instant that the line
// names, or on arrival if that instant has passed. A line for an instant beyond
// run.FarthestNs is not believed and changes nothing.
func (o *Outsider) Take(s *wire.State, nowNs int64, on []bool) {
	before := len(o.Setpoints)
	aheadNs := s.DueNs - nowNs
	changes := false
	for i := range on {
		told := s.At(i)
		if told != wire.On && told != wire.Off || on[i] == (told == wire.On) {
			continue
		}
		changes = true
		if aheadNs > run.FarthestNs {
			continue
		}
		on[i] = !on[i]
		o.Setpoints = append(o.Setpoints, sections.Setpoint{DueNs: max(s.DueNs, nowNs), Section: int16(i), On: on[i]})
		o.ArrivedNs = append(o.ArrivedNs, nowNs)
	}
	if changes {
		o.Clock.Add(aheadNs)
		if aheadNs > run.FarthestNs {
			o.TooFar++
		}
	}
	changed := o.Setpoints[before:]
	if aheadNs < 0 && len(changed) > 0 {
		o.After += len(changed)
		o.AfterNs = max(o.AfterNs, -aheadNs)
	}
	if o.told != nil {
		o.told(changed)
	}
}
