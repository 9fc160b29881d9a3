// What is shown of an outside controller while a drive is played to it.

package loop

import (
	"io"
	"sync"
	"time"

	"liftbench/cmd/liftbench/metrics"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/crash"
	"liftbench/replay/port"
	"liftbench/sections"
)

// audience is what those who watch a bench see: the positions that are played,
// and what the controller answers.
type audience struct {
	*shown
	played *io.PipeWriter
	read   sync.WaitGroup

	mu       sync.Mutex // fixes and setpoints come from two sides
	reader   epoch.ReaderCounts
	answered bool
	newest   nmea.Fix
	playedAt time.Time // when the newest was played
}

// newAudience watches the ports of a bench. to is the port that the controller
// hears; from is the port on which it answers, which may be the same.
func newAudience(b *Bench, u *settings.Setup, to, from *port.Port) (*audience, error) {
	a := &audience{}
	counts := func() metrics.Counts {
		c := metrics.Counts{Ports: []metrics.Port{run.MetricsPort(b.To, to.Counts(), true)}}
		if from != to {
			c.Ports = append(c.Ports, run.MetricsPort(b.From, from.Counts(), false))
		}
		a.mu.Lock()
		defer a.mu.Unlock()
		c.Reader = a.reader
		return c
	}
	job := run.Job(u)
	var err error
	if a.shown, err = newShown(u, job, counts, func() web.Instant { return a.now(job.Settings.MaxAgeNs) }, &b.Http); err != nil {
		return nil, err
	}
	r, w := io.Pipe()
	a.played = w
	a.read.Go(crash.Guard(func() { a.listen(r) }))
	return a, nil
}

// listen reads the receiver's sentences as the controller gets them. They do
// not say how old their positions are.
func (a *audience) listen(r io.Reader) {
	in := epoch.NewReader(r)
	in.Assembler.Live = true
	var lastNs int64
	for in.Next() {
		f := in.Fix()
		var intervalNs int64
		if lastNs != 0 {
			intervalNs = f.TimeNs - lastNs
		}
		lastNs = f.TimeNs
		a.mu.Lock()
		a.reader, a.newest, a.playedAt = in.Counts(), f, time.Now()
		a.fix(&f, -1, intervalNs)
		a.mu.Unlock()
	}
}

// now returns the state of the bench at this instant. Whether the controller
// takes its position for lost is not known.
func (a *audience) now(maxAgeNs int64) web.Instant {
	a.mu.Lock()
	defer a.mu.Unlock()
	x := web.Instant{MaxAgeMs: maxAgeNs / 1e6, Told: toldText(a.on)}
	if !a.playedAt.IsZero() {
		age := time.Since(a.playedAt)
		x.Started, x.ClockMs, x.AgeMs = true, a.newest.TimeNs/1e6+age.Milliseconds(), age.Milliseconds()
		x.Quality, x.SpeedMmS = a.newest.Quality.String(), speedOf(&a.newest)
	}
	return x
}

// told shows what the controller changed.
func (a *audience) told(list []sections.Setpoint) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.answered = true
	a.setpoints(list)
}

// wanting says what is missing before a controller is in the loop; "" =
// nothing.
func (a *audience) wanting() string {
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.answered {
		return "no setpoint yet"
	}
	return ""
}

// close waits until all sentences that were played have been shown.
func (a *audience) close() {
	a.played.Close()
	a.read.Wait()
}
