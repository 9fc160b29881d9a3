// A log in which every sentence says when it arrived.

package loop

import (
	"errors"
	"io"
	"time"

	"liftbench/nmea"
)

// stamp returns the sentences of a log, each after the time of its arrival, and
// the first of these times. The arrival is what the log says, or else latencyNs
// after the instant that the sentence describes. firstNs is the time of the
// log's first epoch, whose date the following epochs count on from.
func stamp(log io.Reader, firstNs, latencyNs int64) (stamped []byte, arrivalNs int64, err error) {
	const dayNs = 86_400_000_000_000
	var (
		sc   = nmea.NewScanner(log)
		s    nmea.Sentence
		last int64
		tod  = firstNs % dayNs
		day  = firstNs - tod
	)
	for sc.Scan() {
		at := sc.ArrivalNs()
		if at == 0 {
			if nmea.Parse(sc.Bytes(), &s) == nil && s.HasTime() {
				if s.TimeOfDayNs < tod-dayNs/2 {
					day += dayNs
				}
				tod = s.TimeOfDayNs
			}
			at = day + tod + latencyNs
		}
		last = max(last, at)
		if arrivalNs == 0 {
			arrivalNs = last
		}
		stamped = time.Unix(0, last).UTC().AppendFormat(stamped, "2006-01-02T15:04:05.000000000Z ")
		stamped = append(stamped, sc.Bytes()...)
		stamped = append(stamped, '\r', '\n')
	}
	if err := sc.Err(); err != nil && !errors.Is(err, nmea.ErrIncomplete) { // what was read is played
		return nil, 0, err
	}
	if len(stamped) == 0 {
		return nil, 0, errors.New("holds no sentence to play")
	}
	return stamped, arrivalNs, nil
}
