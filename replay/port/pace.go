// This file plays a log at the pace at which it was recorded.

package port

import (
	"context"
	"fmt"
	"io"
	"time"

	"liftbench/nmea"
)

// Play writes the sentences of log to w at the times at which the receiver sent
// them, pace times as fast as real time (pace > 0). The times are the arrival
// times in the log, which are not written; in a log without them they are those
// in its sentences. Sentences with the same time are written together.
// Everything in the log that is not a sentence is left out. late is the longest
// delay of any write, as on a computer that is busy. err is nil at the log's
// end, else the error of log, w or ctx.
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

// instants computes when each sentence of a log is to be written. These times
// never decrease.
type instants struct {
	lastNs      int64
	dayNs       int64 // added to times of day: the days that have passed
	timeOfDayNs int64 // the last one seen
	s           nmea.Sentence
}

const halfDayNs = 12 * 3600 * 1e9

// of returns the time of a sentence: when it arrived; if that is not known, its
// time of day plus the days that have passed since the log began; if it has none,
// the time of the sentence before it.
func (i *instants) of(raw []byte, arrivalNs int64) int64 {
	t := arrivalNs
	if t == 0 {
		if nmea.Parse(raw, &i.s) != nil || !i.s.HasTime() {
			return i.lastNs
		}
		if i.s.TimeOfDayNs < i.timeOfDayNs-halfDayNs { // past midnight
			i.dayNs += 2 * halfDayNs
		}
		i.timeOfDayNs = i.s.TimeOfDayNs
		t = i.dayNs + i.timeOfDayNs
	}
	i.lastNs = max(i.lastNs, t)
	return i.lastNs
}
