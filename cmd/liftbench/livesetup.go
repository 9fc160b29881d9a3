// What the flags of live say, checked.

package main

import (
	"time"

	"liftbench/replay/port"
)

// liveFlags are the flags of live.
type liveFlags struct {
	in         string
	out        []string
	pace       float64
	record     string
	recordSync time.Duration
	http       httpFlags
	metrics    string
}

// liveRun is one run of live, checked.
type liveRun struct {
	*setup
	*liveFlags
	in  port.Spec
	out []outSpec
}

// newLiveRun checks the flags.
func newLiveRun(u *setup, flags *liveFlags, paced bool) (*liveRun, error) {
	l := &liveRun{setup: u, liveFlags: flags}
	var err error
	if l.in, err = parsePort("in", flags.in); err != nil {
		return nil, err
	}
	for _, text := range flags.out {
		o, err := parseOut(text)
		if err != nil {
			return nil, err
		}
		l.out = append(l.out, o)
	}
	if err := checkPace(flags.pace); err != nil {
		return nil, err
	}
	switch isLog := l.in.Kind == port.File; {
	case paced && !isLog:
		return nil, &usageError{"--pace: a receiver sets its own pace; expected it with --in file:LOG"}
	case isLog && flags.record != "":
		return nil, &usageError{"--record: a log is recorded already; expected it with a receiver"}
	case flags.recordSync <= 0:
		return nil, &usageError{"--record-sync " + flags.recordSync.String() + ": expected more than 0"}
	}
	return l, flags.http.check()
}
