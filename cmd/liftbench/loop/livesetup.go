// What the flags of live say, checked.

package loop

import (
	"strings"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/port"
)

// LiveFlags are the flags of live.
type LiveFlags struct {
	In         string
	Out        []string
	Pace       float64
	Record     string
	RecordSync time.Duration
	State      string
	Http       HttpFlags
	Metrics    string
}

// LiveRun is one run of live, checked.
type LiveRun struct {
	*settings.Setup
	*LiveFlags
	in  port.Spec
	bus bool // what comes in are frames of a CAN bus, as lines of candump
	// of the positions on the bus: its address, or -1 for the best
	sender int
	out    []OutSpec
}

// NewLive checks the flags, with those that choose from a recording.
func NewLive(u *settings.Setup, flags *LiveFlags, choice recording.Choice, paced bool) (*LiveRun, error) {
	l := &LiveRun{Setup: u, LiveFlags: flags}
	var err error
	name, candump := strings.CutPrefix(flags.In, "candump:")
	if l.in, err = parsePort("in", name); err != nil {
		return nil, err
	}
	l.bus = candump || l.in.Kind == port.CAN
	if candump && l.in.Kind == port.File {
		return nil, &failure.Usage{Msg: "--in " + flags.In + ": a recorded trace has times of its own; expected a port that gives frames as they come, such as candump:tcp:HOST:PORT"}
	}
	if l.sender, err = choice.Address(); err != nil {
		return nil, err
	}
	if l.sender >= 0 && !l.bus {
		return nil, &failure.Usage{Msg: "--sender: --in " + flags.In + " gives sentences, which have no address; expected it with --in can:INTERFACE or candump:PORT"}
	}
	if choice.Task != "" || choice.Device != "" {
		return nil, &failure.Usage{Msg: "--task and --device choose from task data; live takes what a receiver says"}
	}
	for _, text := range flags.Out {
		o, err := ParseOut(text)
		if err != nil {
			return nil, err
		}
		l.out = append(l.out, o)
	}
	if err := CheckPace(flags.Pace); err != nil {
		return nil, err
	}
	switch isLog := l.in.Kind == port.File; {
	case paced && !isLog:
		return nil, &failure.Usage{Msg: "--pace: a receiver sets its own pace; expected it with --in file:LOG"}
	case isLog && flags.Record != "":
		return nil, &failure.Usage{Msg: "--record: a log is recorded already; expected it with a receiver"}
	case isLog && flags.State != "":
		return nil, &failure.Usage{Msg: "--state works with a live receiver only: a log always starts from its beginning. Leave out --state, or give a receiver to --in"}
	case flags.RecordSync <= 0:
		return nil, &failure.Usage{Msg: "--record-sync " + flags.RecordSync.String() + ": expected more than 0"}
	}
	return l, flags.Http.check()
}
