// Playing a drive to a port: the command acts as the GNSS receiver and sends its
// sentences in real time or faster.

package loop

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os/signal"
	"syscall"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/replay/port"
	"liftbench/sim/receiver"
)

// PlayFlags choose the port and the pace.
type PlayFlags struct {
	To   string
	Pace float64
}

// maxPace is faster than any peer can follow.
const maxPace = 1e6

// CheckPace refuses a pace that is no positive number or that no peer can
// follow.
func CheckPace(pace float64) error {
	if !(pace > 0 && pace <= maxPace) {
		return &failure.Usage{Msg: fmt.Sprintf("--pace %g: expected more than 0, up to %g times real time", pace, float64(maxPace))}
	}
	return nil
}

// spoken returns what the receiver says on the setup's drive. Every sentence of
// a generated drive is stamped with the time of its arrival, so that it is
// played with the receiver's delays.
func spoken(u *settings.Setup, stdin io.Reader) (*files.Log, error) {
	if u.Log != "" {
		return recording.OpenPositions(u.Log, u.Day, recording.Choice{}, stdin, io.Discard)
	}
	m := u.Machine.Geometry()
	d, err := run.Plan(u, m)
	if err != nil {
		return nil, err
	}
	p := run.ReceiverParams(u)
	p.Stamp, p.ClockAheadNs = receiver.UnixStamp, 0
	r, err := receiver.New(d.Track, &u.Field.Plane, m, p)
	if err != nil {
		return nil, run.ScenarioError(u, "receiver", err)
	}
	return &files.Log{Name: u.Title, Progress: terminal.NewProgress(&run.SpokenDrive{Receiver: r}, 0, u.Title, io.Discard)}, nil
}

// Play sends what the receiver says on the setup's drive, until its end, a
// signal or the end of ctx.
func (p *PlayFlags) Play(ctx context.Context, u *settings.Setup, stdin io.Reader, stdout, stderr io.Writer) error {
	spec, err := parsePort("to", p.To)
	if err != nil {
		return err
	}
	in, err := spoken(u, stdin)
	if err != nil {
		return err
	}
	defer in.Close()
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	c := terminal.NewConsole(stderr)
	defer c.Finish()
	Warn(c, spec)
	out, err := openPort(c, context.Background(), p.To, spec, port.Out, stdin, stdout)
	if err != nil {
		return err
	}
	defer out.Close()
	awaitPeer(c, ctx, p.To, out)
	to := &sender{port: out}
	late, err := port.Play(ctx, to, in, p.Pace)
	if late >= sayLate {
		c.Say("%s: this computer was busy; sentences went out up to %s late", p.To, late.Round(time.Millisecond))
	}
	if n := out.Counts().Dropped; n > 0 {
		c.Say("%s: %s not taken in time", p.To, wording.Counted(int(n), "message"))
	}
	if errors.Is(err, context.Canceled) {
		return nil
	}
	if errors.Is(err, nmea.ErrIncomplete) {
		c.Say("%s: %v", in.Name, err)
		return nil
	}
	if err != nil {
		return &failure.Input{File: in.Name, Msg: err.Error(), Err: err}
	}
	return nil
}

// sayLate is how far a drive may fall behind its pace before the user is told:
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

// awaitPeer waits until a peer is connected, or ctx is done.
func awaitPeer(c *terminal.Console, ctx context.Context, name string, p *port.Port) {
	const look = 2 * time.Millisecond
	for waited := time.Duration(0); p.Counts().Peers == 0 && ctx.Err() == nil; waited += look {
		if waited == 100*look {
			c.Say("%s: waiting for a peer (%s)", name, p.Addr())
		}
		time.Sleep(look)
	}
}
