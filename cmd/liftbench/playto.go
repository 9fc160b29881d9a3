// A command as a receiver: what one says on the drive, sent to a port at its
// true pace or faster.

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os/signal"
	"syscall"
	"time"

	"liftbench/replay/port"
	"liftbench/sim/receiver"
)

// playFlags choose where to and how fast.
type playFlags struct {
	to   string
	pace float64
}

// maxPace is faster than any peer can follow.
const maxPace = 1e6

func checkPace(pace float64) error {
	if !(pace > 0 && pace <= maxPace) {
		return &usageError{fmt.Sprintf("--pace %g: expected more than 0, up to %g times real time", pace, float64(maxPace))}
	}
	return nil
}

// spoken is what the receiver says on the setup's drive. Every sentence of a
// generated drive is stamped with the time of its arrival, so that it can be
// played with the delays of the receiver.
func (u *setup) spoken(stdin io.Reader) (*logInput, error) {
	if u.log != "" {
		return openLog(u.log, aLog, stdin, io.Discard)
	}
	m := u.machine.geometry()
	d, err := u.plan(m)
	if err != nil {
		return nil, err
	}
	p := u.receiverParams()
	p.Stamp, p.ClockAheadNs = receiver.UnixStamp, 0
	r, err := receiver.New(d.Track, &u.field.Plane, m, p)
	if err != nil {
		return nil, u.scenarioError("receiver", err)
	}
	return &logInput{name: u.title, progress: newProgress(&spokenDrive{receiver: r}, 0, u.title, io.Discard)}, nil
}

// play sends what the receiver says on the setup's drive, until its end, a
// signal or the end of ctx.
func (p *playFlags) play(ctx context.Context, u *setup, stdin io.Reader, stdout, stderr io.Writer) error {
	spec, err := parsePort("to", p.to)
	if err != nil {
		return err
	}
	in, err := u.spoken(stdin)
	if err != nil {
		return err
	}
	defer in.close()
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	c := newConsole(stderr)
	defer c.finish()
	c.warn(spec)
	out, err := c.openPort(context.Background(), p.to, spec, port.Out, stdin, stdout)
	if err != nil {
		return err
	}
	defer out.Close()
	c.awaitPeer(ctx, p.to, out)
	to := &sender{port: out}
	late, err := port.Play(ctx, to, in, p.pace)
	if late >= sayLate {
		c.say("%s: this computer was busy; sentences went out up to %s late", p.to, late.Round(time.Millisecond))
	}
	if n := out.Counts().Dropped; n > 0 {
		c.say("%s: %s not taken in time", p.to, counted(int(n), "message"))
	}
	if errors.Is(err, context.Canceled) {
		return nil
	}
	if err != nil {
		return &inputError{file: in.name, msg: err.Error(), err: err}
	}
	return nil
}

// sayLate is from when on it is said that a drive was not played at its pace:
// 5 cm at 8 km/h.
const sayLate = 20 * time.Millisecond

// sender hands whole writes to a port.
type sender struct {
	port  *port.Port
	first func(time.Time) // when set, told once of the first write
	also  io.Writer       // when set, gets the same
}

func (s *sender) Write(b []byte) (int, error) {
	if s.first != nil {
		s.first(time.Now())
		s.first = nil
	}
	s.port.Send(b)
	if s.also != nil {
		return s.also.Write(b)
	}
	return len(b), nil
}

// awaitPeer waits until somebody is there to be spoken to, or ctx is done.
func (c *console) awaitPeer(ctx context.Context, name string, p *port.Port) {
	const look = 2 * time.Millisecond
	for waited := time.Duration(0); p.Counts().Peers == 0 && ctx.Err() == nil; waited += look {
		if waited == 100*look {
			c.say("%s: waiting for a peer (%s)", name, p.Addr())
		}
		time.Sleep(look)
	}
}
