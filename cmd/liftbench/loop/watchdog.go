// What live tells the program that supervises it: systemd, or another that speaks
// its protocol (sd_notify(3): datagrams of NAME=VALUE to a socket).

package loop

import (
	"context"
	"fmt"
	"net"
	"os"
	"strconv"
	"time"

	"liftbench/cmd/liftbench/failure"
)

// supervisor is the one that started this process; nil = none that asks to be told.
type supervisor struct {
	conn net.Conn
	// every is how often it is to hear that all is well; 0 = it does not wait for
	// that.
	every time.Duration
}

// newSupervisor returns the one that the environment names: NOTIFY_SOCKET, a path
// or, after @, a name of Linux's own; WATCHDOG_USEC, the longest silence in µs
// after which it ends this process, where WATCHDOG_PID is its number or not given
// (sd_watchdog_enabled(3)).
func newSupervisor() (*supervisor, error) {
	name := os.Getenv("NOTIFY_SOCKET")
	if name == "" {
		return nil, nil
	}
	conn, err := net.Dial("unixgram", name)
	if err != nil {
		return nil, &failure.Usage{Msg: fmt.Sprintf("NOTIFY_SOCKET %s: %v; expected the socket of a supervisor, or none in the environment", name, err)}
	}
	s := &supervisor{conn: conn}
	text := os.Getenv("WATCHDOG_USEC")
	if pid := os.Getenv("WATCHDOG_PID"); text == "" || pid != "" && pid != strconv.Itoa(os.Getpid()) {
		return s, nil
	}
	us, err := strconv.ParseInt(text, 10, 64)
	if err != nil || us <= 0 || us > int64(time.Hour/time.Microsecond) {
		conn.Close()
		return nil, &failure.Usage{Msg: fmt.Sprintf("WATCHDOG_USEC %q; expected microseconds above 0, up to an hour", text)}
	}
	// At least twice in that time; and no later than a receiver of setpoints would
	// notice that they stop.
	s.every = min(time.Duration(us)*time.Microsecond/4, time.Second/2)
	return s, nil
}

// watch says that live is ready, and then, as long as it is well, that it is.
func (s *supervisor) watch(ctx context.Context, well func() bool) {
	s.tell("READY=1")
	if s.every > 0 {
		every(ctx, s.every, func() {
			if well() {
				s.tell("WATCHDOG=1")
			}
		})
	}
	<-ctx.Done()
	s.tell("STOPPING=1")
}

// tell is heard, or it is not: a supervisor that has gone must not end control.
func (s *supervisor) tell(text string) {
	_ = s.conn.SetWriteDeadline(time.Now().Add(time.Second)) // fails of a closed connection alone
	_, _ = s.conn.Write([]byte(text))
}

func (s *supervisor) close() {
	if s != nil {
		s.conn.Close()
	}
}

// newPulse returns what tells from one time to the next whether live does its
// work: what was read has been decided on, for the engine can be asked, which it
// cannot be while it decides; its ticks go on, for the state of all sections was
// handed to the outputs not long ago; and the outputs write, for either no line
// waits or one was written since the last time. A receiver that is silent is no
// fault that another start would mend.
func newPulse(o *openedLive, pace float64) func() bool {
	var sent int64
	return func() bool {
		s := o.engine.Status()
		if s.NowNs-s.SaidNs > int64(longestSilenceNs*max(pace, 1)) {
			return false
		}
		before, waiting := sent, int64(0)
		sent = 0
		for i, p := range o.ports {
			if o.outs[i] {
				c := p.Counts()
				sent, waiting = sent+c.Sent, waiting+c.Waiting
			}
		}
		return waiting == 0 || sent > before
	}
}

// longestSilenceNs is one of the seconds at which the state is sent again, and
// half of another, at the pace of real time.
const longestSilenceNs = 1_500_000_000
