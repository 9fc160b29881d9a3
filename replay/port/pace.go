// A log handed on at the pace at which it was recorded.

package port

import (
	"context"
	"fmt"
	"io"
	"time"

	"liftbench/nmea"
)

// Play writes the sentences of log to w as a receiver would send them: at pace
// times real time, by the arrival times in the log if it has them (they are
// not sent), else by the times in its sentences. Sentences of one instant go
// out in one write; what is no sentence is left out. late is how far behind its
// time the latest write was: a computer that is busy plays no true pace. err is
// nil at the log's end, else the error of log, w or ctx.
func Play(ctx context.Context, w io.Writer, log io.Reader, pace float64) (late time.Duration, err error) {
	if !(pace > 0) {
		return 0, fmt.Errorf("pace %g; expected more than 0 times real time", pace)
	}
	var (
		sc      = nmea.NewScanner(log)
		when    instants
		batch   []byte
		batchNs int64
		firstNs int64
		began   time.Time
	)
	send := func() error {
		if len(batch) == 0 {
			return nil
		}
		if began.IsZero() {
			began, firstNs = time.Now(), batchNs
		}
		due := began.Add(time.Duration(float64(batchNs-firstNs) / pace))
		if err := sleepUntil(ctx, due); err != nil {
			return err
		}
		late = max(late, time.Since(due))
		_, err := w.Write(batch)
		batch = batch[:0]
		return err
	}
	for sc.Scan() {
		t := when.of(sc.Bytes(), sc.ArrivalNs())
		if t != batchNs {
			if err := send(); err != nil {
				return late, err
			}
			batchNs = t
		}
		batch = append(batch, sc.Bytes()...)
		batch = append(batch, '\r', '\n')
	}
	if err := send(); err != nil {
		return late, err
	}
	return late, sc.Err()
}

func sleepUntil(ctx context.Context, due time.Time) error {
	wait := time.Until(due)
	if wait <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}

// instants tells when each sentence of a log is to go out; never before the
// one ahead of it.
type instants struct {
	lastNs int64
	dayNs  int64 // added to times of day
	todNs  int64 // the last time of day
	s      nmea.Sentence
}

const halfDayNs = 12 * 3600 * 1e9

// of returns the instant of a sentence: its arrival, else its time of day,
// counted on over midnight, else the instant of the one before.
func (i *instants) of(raw []byte, arrivalNs int64) int64 {
	t := arrivalNs
	if t == 0 {
		if nmea.Parse(raw, &i.s) != nil || !i.s.HasTime() {
			return i.lastNs
		}
		if i.s.TimeOfDayNs < i.todNs-halfDayNs {
			i.dayNs += 2 * halfDayNs
		}
		i.todNs = i.s.TimeOfDayNs
		t = i.dayNs + i.todNs
	}
	i.lastNs = max(i.lastNs, t)
	return i.lastNs
}
